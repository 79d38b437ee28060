"""What makes a new letter: a slot that counts since the first has failed does, a decibel to hope for alone does not."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest

from pipeline.letters import outbox
from pipeline.letters.building import build_letter, told_slots
from pipeline.letters.send_text import contents
from pipeline.letters.told import Kind, kinds_between
from pipeline.plan.plan import Plan
from pipeline.record.ledger import Ledger, Message, offers_of, slot_of
from pipeline.record.model import Answer, Told
from tests.letters.letters_of import letter_text, made_for, with_letters
from tests.letters.stand_in import offer_of, slot, with_slots
from tests.letters.test_told import CALL, changes, frequency, message, told
from tests.plan.months import month_plan


@pytest.fixture(scope="module")
def base() -> Plan:
    """One contact is wanted with the partner."""
    plan = month_plan()
    wishes = tuple(dataclasses.replace(one, contacts_wanted=1) for one in plan.inputs.wishes)
    return dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, wishes=wishes))


def summary(plan: Plan) -> dict[str, Any]:
    return dict(json.loads(made_for(plan, CALL).files["letter.json"]))


def parcel(plan: Plan) -> outbox.Parcel:
    """The letter as it lies ready."""
    about = summary(plan)
    slots = tuple(slot_of(entry) for entry in about["slots"])
    digest = about["content_digest"]
    return outbox.Parcel(CALL, Path("a"), "update", "", "a@b.example", about["subject"], "", digest, slots, (), b"")


def sent(plan: Plan) -> list[Message]:
    """The ledger once this letter has gone out."""
    ready = parcel(plan)
    return [message(ready.slots, ready.digest)]


def louder(row: dict[str, Any], there_db: float, here_db: float = 0.0, chance: float = 0.0) -> dict[str, Any]:
    """The slot with other figures to hope for."""
    more = {"report_at_partner_db": there_db, "report_at_home_db": here_db, "chance": chance}
    return row | {name: row[name] + value for name, value in more.items()}


def test_figures_to_hope_for_that_are_a_little_other_are_no_news(base: Plan) -> None:
    """They are in the letter all the same, and the next letter for another reason has them."""
    row = slot(base, CALL, "A", 6)
    first = with_slots(base, row)
    plan = with_slots(base, louder(row, -2.0, 2.0, -0.2), offers=told(first))
    assert changes(plan) == []
    assert letter_text(made_for(plan, CALL)) != letter_text(made_for(first, CALL))
    assert outbox.was_delivered(parcel(plan), sent(first))
    other = frequency(plan, 10368.2)
    assert not outbox.was_delivered(parcel(other), sent(first))
    assert not any("hope" in one for one in changes(other))
    line = next(one for one in letter_text(made_for(plan, CALL)).splitlines() if "You hear us at" in one)
    assert line in letter_text(made_for(other, CALL))


@pytest.mark.parametrize("there_db", [3.0, -3.0])
def test_a_report_that_is_another_by_its_doubt_is_told_with_the_one_before(base: Plan, there_db: float) -> None:
    row = slot(base, CALL, "A", 6)
    first = with_slots(base, row)
    plan = with_slots(base, louder(row, there_db), offers=told(first))
    (said,) = changes(plan)
    before, now = (told_slots(one.for_partner(CALL))[0].told for one in (first, plan))
    assert before is not None
    assert now is not None
    (ours, theirs), (there, here) = before.reports_db[::-1], now.reports_db
    words = (
        f"Slot A: the reports to hope for are new. Before: you hear us at {theirs:+.0f} dB, we hear you at "
        f"{ours:+.0f} dB. Now: {there:+.0f} dB and {here:+.0f} dB."
    )
    assert said.replace("\N{MINUS SIGN}", "-") == words
    assert there - theirs == there_db
    assert build_letter(plan.for_partner(CALL)).subject.endswith(": changed reports to hope for")
    assert "New: reports to hope for." in made_for(plan, CALL).files["message.txt"].decode()
    assert not outbox.was_delivered(parcel(plan), sent(first))
    assert contents(parcel(plan), Ledger(tuple(sent(first)))) == "update: A new reports to hope for"
    # Once told it is no news any more.
    assert outbox.was_delivered(parcel(plan), sent(plan))


def test_at_another_time_other_reports_go_without_saying(base: Plan) -> None:
    row, other = slot(base, CALL, "A", 6), slot(base, CALL, "A", 9)
    said = changes(with_slots(base, louder(other, 9.0), offers=told(with_slots(base, row))))
    assert [one.split(":")[0] for one in said] == ["Slot A moves. Before", "Slot A"]


def outcome_of(row: dict[str, Any], outcome: str) -> Answer:
    start = offer_of(row).start_utc
    return Answer(CALL, row["label"], start, offer_of(row).end_utc, "confirmed", "QM7TOR", 2, outcome=outcome)


@pytest.mark.parametrize(
    ("outcome", "line", "subject"),
    [
        (
            "failed",
            "Slot A failed. Slot B counts now: it is no longer only if slot A fails.",
            ": slot A failed, slot B counts",
        ),
        ("absent", "Slot B counts now: it is no longer only if slot A fails.", ": changed what a slot is for"),
    ],
)
def test_once_the_first_has_failed_top_and_subject_say_that_the_second_counts(
    base: Plan, outcome: str, line: str, subject: str
) -> None:
    rows = slot(base, CALL, "A", 6), slot(base, CALL, "B", 12)
    first = with_slots(base, *rows)
    plan = with_slots(base, rows[1], offers=told(first), answers=[outcome_of(rows[0], outcome)])
    assert changes(plan) == [line]
    assert build_letter(plan.for_partner(CALL)).subject.endswith(subject)
    text, chat = letter_text(made_for(plan, CALL)), made_for(plan, CALL).files["message.txt"].decode()
    assert f"- {line}" in text
    assert line in chat
    assert "New:" not in chat
    assert "Only if slot A fails." not in text
    assert not outbox.was_delivered(parcel(plan), sent(first))
    assert contents(parcel(plan), Ledger(tuple(sent(first)))) == "update: B no longer only if A fails"
    # Sent once, it is said no more.
    both = offers_of(Ledger((*sent(first), *sent(plan))))
    assert changes(with_slots(base, rows[1], offers=both, answers=[outcome_of(rows[0], outcome)])) == []


def test_a_failure_of_another_month_is_not_meant(base: Plan) -> None:
    rows = slot(base, CALL, "A", 6), slot(base, CALL, "B", 12)
    old = outcome_of(rows[0], "failed")
    old = dataclasses.replace(old, start_utc=old.start_utc.replace(month=1), end_utc=None)
    (said,) = changes(with_slots(base, rows[1], offers=told(with_slots(base, *rows)), answers=[old]))
    assert said.startswith("Slot B counts now")


def test_beside_another_change_the_subject_names_both(base: Plan) -> None:
    rows = slot(base, CALL, "A", 6), slot(base, CALL, "B", 12)
    plan = with_slots(base, rows[1], offers=told(with_slots(base, *rows)), answers=[outcome_of(rows[0], "failed")])
    plan = with_letters(plan, meet="on the hill")
    assert build_letter(plan.for_partner(CALL)).subject.endswith(": changed meeting place and what a slot is for")
    assert len(changes(plan)) == 2


def test_a_slot_that_is_now_held_for_another_s_failing_is_told_so(base: Plan) -> None:
    rows = slot(base, CALL, "A", 6), slot(base, CALL, "B", 12)
    plan = with_slots(base, *rows, offers=told(with_slots(base, rows[1])))
    assert "Slot B is now there only if slot A fails." in changes(plan)


def test_a_ledger_that_says_neither_claims_nothing(base: Plan) -> None:
    rows = slot(base, CALL, "A", 6), slot(base, CALL, "B", 12)
    offers = [
        dataclasses.replace(one, told=dataclasses.replace(one.told, only_if=None, reports_db=()))
        for one in told(with_slots(base, *rows))
        if one.told is not None
    ]
    assert not any("counts" in one or "hope" in one for one in changes(with_slots(base, rows[1], offers=offers)))


def test_what_is_told_comes_back_from_the_ledger() -> None:
    values = Told(10368.1, 10368.1, "CW", "home", "", (1.0,), (2.0,), reports_db=(-6.0, -7.0), only_if="A")
    row = slot(month_plan(), CALL, "B", 6)
    plan = with_slots(month_plan(), row)
    one = dataclasses.replace(told_slots(plan.for_partner(CALL))[0], told=values)
    assert slot_of(json.loads(json.dumps(one.entry))).told == values
    for wrong in ([True], ["x"], [1e9]):
        entry = one.entry | {"told": values.entry | {"reports_db": wrong}}
        with pytest.raises(ValueError, match="no report"):
            slot_of(entry)
    first = dataclasses.replace(values, reports_db=(), only_if=None)
    assert not {"reports_db", "only_if"} & set(first.entry)


def test_a_skyline_surveyed_anew_is_no_reason_while_the_times_stand(base: Plan) -> None:
    """The letter says the new heights, and its table ends where the Moon does; each instant has its own dial."""
    row = slot(base, CALL, "A", 6)
    first = with_slots(base, row)
    home = first.inputs.home
    points = tuple(dataclasses.replace(one, elevation_deg=one.elevation_deg + 1.0) for one in home.horizon)
    higher = dataclasses.replace(first.inputs, home=dataclasses.replace(home, horizon=points))
    ends = offer_of(row).end_utc - dt.timedelta(minutes=20)
    samples = first.samples[(first.samples["partner"] != CALL) | (first.samples["time_utc"] <= ends)]
    plan = dataclasses.replace(with_slots(base, row, offers=told(first)), samples=samples)
    plan = dataclasses.replace(plan, inputs=dataclasses.replace(higher, record=plan.inputs.record))
    before, now = (letter_text(made_for(one, CALL)) for one in (first, plan))
    skies = [[line for line in text.splitlines() if "Our horizon below it is at" in line] for text in (before, now)]
    assert before.count("10368.") > now.count("10368.")
    assert [len(one) for one in skies] == [1, 1]
    assert skies[0] != skies[1]
    assert changes(plan) == []
    assert outbox.was_delivered(parcel(plan), sent(first))


@pytest.mark.parametrize(
    ("listen_hz", "send_hz", "is_news"),
    [
        ((1.0, 4.0), (3.0, 3.0), False),
        ((9.0, 2.0), (3.0, 3.0), False),
        ((9.0, 4.0), (3.0, 3.0), True),
        ((1.0, 4.0), (5.0, 5.0), True),
        ((), (), True),
    ],
)
def test_dials_that_are_the_same_at_one_end_are_those_of_a_shorter_table(
    listen_hz: tuple[float, ...], send_hz: tuple[float, ...], is_news: bool
) -> None:
    before = Told(10368.1, 10368.1, "CW", "home", "", (1.0, 2.0), (3.0, 3.0))
    now = dataclasses.replace(before, listen_hz=listen_hz, send_hz=send_hz)
    assert kinds_between(before, now) == ([Kind.DIALS] if is_news else [])
