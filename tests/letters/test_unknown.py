"""What nobody has named is told as nobody's word: a meeting place, a height, a partner's time zone."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import icalendar
import pytest

from pipeline.commands.letters import _report
from pipeline.inputs.languages import ENGLISH
from pipeline.letters.building import told_slots
from pipeline.letters.told import ONCE_SAID_OF_NO_PLACE, kinds_between
from pipeline.outlook.questions import Question, Thing
from pipeline.plan.plan import Plan
from tests.letters.letters_of import letter_text, made_for, with_letters, with_station
from tests.letters.readers import calendars, opened
from tests.letters.stand_in import demo_letters

CALL = "QT8NUI"
UNNAMED, ASK = "We have named no meeting place yet.", "Where can we reach you during the slot?"


@pytest.fixture(scope="module")
def plan() -> Plan:
    """The demo names no place to meet; the partner of whom least is known has a mail address here."""
    return with_station(demo_letters(), CALL, email="tama@nui.example")


def message_of(plan: Plan) -> str:
    return made_for(plan, CALL).files["message.txt"].decode()


def asking(plan: Plan, *things: Thing) -> Plan:
    place = plan.inputs.place_of(CALL)
    asked = tuple(Question(thing, 1.0) for thing in things)
    return dataclasses.replace(
        plan, questions=tuple(asked if index == place else one for index, one in enumerate(plan.questions))
    )


def test_a_meeting_place_that_nobody_named_is_asked_for_and_never_made_up(plan: Plan) -> None:
    made = made_for(plan, CALL)
    text = letter_text(made)
    assert text.count(UNNAMED) == text.count(ASK) == 1
    assert "Does something break? Please write to us." in text
    assert "we are here" not in text
    assert "as you agree" not in text
    part = calendars(opened(made.files["letter.eml"]), attached=True)[0]
    (event,) = icalendar.Calendar.from_ical(part.get_content()).walk("VEVENT")
    assert UNNAMED in event["description"]
    assert ASK not in event["description"]
    assert ASK not in letter_text(made_for(with_station(plan, CALL, telephone="+00 000 000"), CALL))
    named = letter_text(made_for(with_letters(plan, meet="on the hill"), CALL))
    assert "Before and during the slot we are here: on the hill." in named
    assert "Tell us there, or write to us." in named
    assert UNNAMED not in named


def test_whoever_has_no_slot_reads_of_a_meeting_place_only_where_there_is_one(plan: Plan) -> None:
    assert "Where we meet" not in letter_text(made_for(plan, "QI9TEA"))
    assert "You find us here: on the hill." in letter_text(made_for(with_letters(plan, meet="on the hill"), "QI9TEA"))


def test_letters_sent_before_with_a_place_made_up_are_no_change(plan: Plan) -> None:
    now = told_slots(plan.for_partner(CALL))[0].told
    assert now is not None
    before = dataclasses.replace(now, meet=ONCE_SAID_OF_NO_PLACE)
    assert kinds_between(before, now) == []
    assert [kind.value for kind in kinds_between(before, dataclasses.replace(now, meet="hill"))] == ["meeting place"]


def test_a_height_that_no_file_has_is_told_by_nobody(plan: Plan) -> None:
    inputs = plan.inputs
    for key, count in ((), 2), (("position.height_m",), 0):
        home = dataclasses.replace(inputs.home, assumed=key)
        here = dataclasses.replace(plan, inputs=dataclasses.replace(inputs, home=home))
        text = letter_text(made_for(with_station(here, CALL, assumed=key), CALL))
        assert text.count("m above the sea") == count
        assert "Our place: GF25cl" in text
    assert "position.height_m" in inputs.partner(CALL).assumed


def test_hours_without_a_zone_go_by_the_sun_and_the_zone_is_asked(plan: Plan) -> None:
    unknown = with_station(plan, CALL, time_zone=None)
    text = letter_text(made_for(unknown, CALL))
    assert "Your hours (a guess): every day 07:00 to 23:30 by the Sun at your place." in text
    assert "Please tell us your zone." in text
    assert "Your time:" not in text
    made = made_for(unknown, CALL), made_for(plan, CALL)
    report = _report(Path("letters"), made, lambda words: f"{words} --month 2027-05")
    assert report.count(f"{CALL} is asked for its time zone; note it, for instance: ") == 1
    assert f"answer {CALL} time_zone=Pacific/Auckland --month 2027-05\n" in report
    assert "every day 07:00 to 23:30, your time" in letter_text(made_for(plan, CALL))
    told = with_station(unknown, CALL, assumed=())
    for here, is_asked in (
        (asking(told), True),
        (asking(unknown, Thing.HOURS), True),
        (asking(unknown, Thing.POWER), False),
        (asking(unknown), False),  # its sky is asked about
    ):
        said = message_of(here)
        assert ("Which is your time zone?" in said) == is_asked, said
        assert "right?" not in said
    assert "time zone" not in message_of(asking(plan, Thing.HOURS))


def test_no_translation_makes_a_place_up(plan: Plan) -> None:
    made = {code: made_for(with_station(plan, CALL, language=code), CALL) for code in (ENGLISH, "ja")}
    assert made["ja"].slots[0].told == made[ENGLISH].slots[0].told
    assert "連絡場所はまだ決めていません。" in letter_text(made["ja"])
