"""Two slots with one partner of whom one contact is wanted: it is told that the second is for the first's failing."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest

from pipeline.absence.causes import Absence, Cause
from pipeline.agenda.fall_backs import FallBack
from pipeline.letters.invitations import agenda_calendar
from pipeline.plan.plan import Plan
from pipeline.reports.agenda_view import agenda_view
from pipeline.reports.plan_text import plan_text
from tests.letters.letters_of import letter_text, made_for, with_station
from tests.letters.readers import calendars, opened
from tests.letters.stand_in import demo_letters

CALL = "QF4LUM"


def wanting(contacts: int) -> Plan:
    """The demo month in which QF4LUM has slots A and B; so many contacts are wanted with it."""
    plan = demo_letters()
    wishes = tuple(
        dataclasses.replace(one, contacts_wanted=contacts) if one.call == CALL else one for one in plan.inputs.wishes
    )
    agenda = plan.agenda.assign(fall_back=[FallBack(None, None)] * len(plan.agenda))
    return dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, wishes=wishes), agenda=agenda)


@pytest.fixture(scope="module", params=[1, 2])
def plan(request: pytest.FixtureRequest) -> tuple[Plan, bool]:
    return wanting(request.param), request.param == 1


def test_letter_message_and_invitation_say_so_and_ask_for_both(plan: tuple[Plan, bool]) -> None:
    made, is_spare = made_for(plan[0], CALL), plan[1]
    letter, message = letter_text(made), made.files["message.txt"].decode()
    held = "We need one contact. Slot B is held for the case that slot A fails. If A works, B falls away by itself."
    assert (held in letter) == is_spare
    assert ("Only if slot A fails.\nPlease confirm.\n" in letter) == is_spare
    assert ("a line such as: A yes, B yes." in letter) == is_spare
    assert ("a line such as: A yes, B no." in letter) == (not is_spare)
    assert ("One is enough: B only if A fails. Please answer by" in message) == is_spare
    assert f"for instance: A yes B {'yes' if is_spare else 'no'}\n" in message
    parts = {one.get_filename(): one for one in calendars(opened(made.files["letter.eml"]), attached=True)}
    words = {name: str(part.get_content()).replace("\r\n ", "") for name, part in parts.items()}
    assert ("DESCRIPTION:Only if slot A fails.\\n" in words["slot-B.ics"]) == is_spare
    assert "Only if" not in words["slot-A.ics"]


def test_console_agenda_page_and_home_calendar_say_so(plan: tuple[Plan, bool]) -> None:
    made, is_spare = plan
    first = next(one for one in made.slots if one.call == CALL and one.label == "A").start.astimezone(made.zone)
    words = f"only if Wed 10 Mar {first:%H:%M} fails"
    told = plan_text(made, [Path("out/2027-03/data/a.csv")], Path("out/2027-03"), 200).splitlines()
    assert [words in line for line in told if "  QF4LUM  chance " in line] == [False, is_spare]
    rows = [row for night in agenda_view(made).nights for row in night.rows]
    assert {row.label for row in rows if words in row.answer} == ({"B"} if is_spare else set())
    assert not any("only if" in row.answer for row in rows if row.call != CALL)
    calendar = agenda_calendar(made)
    assert calendar is not None
    assert calendar.decode().replace("\r\n ", "").count("Only if slot A fails.") == is_spare


def test_once_the_first_has_worked_the_console_says_when_and_the_second_waits_for_nothing() -> None:
    plan = wanting(1)
    place = plan.inputs.place_of(CALL)
    is_first = (plan.agenda["partner"] == CALL) & (plan.agenda["label"] == "A")
    agenda = plan.agenda.assign(slot_outcome=["made" if first else "" for first in is_first])
    absences = tuple(Absence(Cause.WORKED) if number == place else one for number, one in enumerate(plan.absences))
    made = dataclasses.replace(plan, agenda=agenda, absences=absences)
    told = plan_text(made, [Path("out/2027-03/data/a.csv")], Path("out/2027-03"), 200)
    assert re.search(r"^  QF4LUM +\d+ windows +[\d.]+ h   worked on Wed 10 Mar$", told, re.M)
    assert "only if" not in told
    assert "worked on" not in plan_text(plan, [Path("out/2027-03/data/a.csv")], Path("out/2027-03"), 200)


@pytest.mark.parametrize("language", ["en", "de", "ja"])
def test_beside_a_slot_agreed_the_letter_asks_for_another(language: str) -> None:
    """It does not read as if all were open."""
    base = with_station(demo_letters(), CALL, language=language)
    states = [
        "confirmed" if one == (CALL, "A") else "proposed"
        for one in zip(*map(base.agenda.get, ("partner", "label")), strict=True)
    ]
    letter = letter_text(made_for(dataclasses.replace(base, agenda=base.agenda.assign(state=states)), CALL))
    assert "A time for our contact by the Moon on 3 cm is agreed. Below we ask you about another." in letter
    assert "We would like to make" not in letter
    assert "A time for our contact" not in letter_text(made_for(base, CALL))
