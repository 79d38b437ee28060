"""Other times and the one question in letter, page and chat: the same words in each form, 600 characters at most."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json

import pandas as pd
import pytest

from pipeline.inputs.faults import InputFaults
from pipeline.inputs.lengths import AssumedSkyline
from pipeline.letters.building import build_letter
from pipeline.letters.chat import LONGEST
from pipeline.letters.offers import offered_slots
from pipeline.letters.templates import Templates
from pipeline.letters.windows_page import windows_document
from pipeline.plan.plan import Plan
from pipeline.record.ledger import parse_ledger, slot_of
from tests.letters.letters_of import letter_text, made_for, with_station
from tests.letters.readers import body, opened, words, words_of_html
from tests.letters.stand_in import demo_letters

CALL = "QF4LUM"


def with_others(plan: Plan, each: int) -> Plan:
    """The plan with so many other times beside every slot of one partner: an hour later each, letters from P on."""
    rows = [
        {
            "partner": slot.call, "operator": slot.operator, "band": slot.band, "night": slot.night,
            "label": chr(ord("P") + 2 * place + more), "instead_of": slot.label, "chance": slot.chance,
            "chance_met": slot.chance, "slot_start_utc": slot.start + dt.timedelta(hours=more + 1),
            "slot_end_utc": slot.end + dt.timedelta(hours=more + 1),
        }
        for place, slot in enumerate(slot for slot in plan.slots if slot.call == CALL)
        for more in range(each)
    ]  # fmt: skip
    # A fresh plan: its slots are kept once they are made.
    return dataclasses.replace(plan, alternatives=pd.DataFrame(rows))


def with_unknown_sky(plan: Plan) -> Plan:
    """Nobody knows the partner's skyline, and skylines are taken to be so high that it is asked about."""
    inputs, skyline = plan.inputs, AssumedSkyline(15.0, 40.0)
    policy = dataclasses.replace(inputs.season.policy, assumed_skyline=skyline)
    season = dataclasses.replace(inputs.season, policy=policy)
    high = dataclasses.replace(plan, inputs=dataclasses.replace(inputs, season=season))
    return with_station(high, CALL, horizon=(), assumed=("horizon",))


@pytest.fixture(scope="module")
def plan() -> Plan:
    return with_unknown_sky(demo_letters())


@pytest.mark.parametrize("each", [1, 2])
def test_all_forms_say_the_same(plan: Plan, each: int) -> None:
    changed = with_others(plan, each)
    made = made_for(changed, CALL)
    message = opened(made.files["letter.eml"])
    assert words_of_html(body(message, "html")) == words(body(message, "plain"))
    text, chat = letter_text(made), made.files["message.txt"].decode()
    assert len(chat) <= LONGEST
    view = changed.for_partner(CALL)
    page = windows_document(view, build_letter(view), Templates()).html
    waiting = [slot for slot in offered_slots(view) if not slot.is_confirmed]
    assert waiting
    # The page, which may be read alone, tells as well what an hour instead of a slot is.
    assert page.count("If a slot fails, we try again") == int("Instead of slot" in page)
    for slot in waiting:
        assert len(slot.alternatives) == each
        letters = [slot.label, *(one.label for one in slot.alternatives)]
        assert f"Please choose: {' or '.join(letters)}." in text
        for one in slot.alternatives:
            assert f"\nOr {one.label}\n" in text
            assert f">or {one.label}</th>" in page
            assert f"{one.start_utc:%H:%M} to {one.end_utc:%H:%M}" in text
    first = waiting[0]
    assert f"Then reply: {first.alternatives[0].label} yes." in text
    assert "Which times suit you? We need one of each slot." in text


def test_a_letter_without_other_times_speaks_of_none(plan: Plan) -> None:
    text = letter_text(made_for(with_others(plan, 0), CALL))
    assert "\nOr " not in text
    assert "The invitation is for" not in text
    assert "We keep" not in text


def test_one_question_a_letter(plan: Plan) -> None:
    made = made_for(with_others(plan, 1), CALL)
    asked = [slot.asked_sky for slot in made.slots]
    assert asked[0] is not None
    assert not any(asked[1:])
    span = f"azimuth {asked[0].azimuth_from_deg:.0f}° to {asked[0].azimuth_to_deg:.0f}°"
    assert letter_text(made).count(f"One question: is your sky free from {span}, above") == 1
    # A surveyed skyline is not asked about.
    assert not any(slot.asked_sky for slot in made_for(demo_letters(), CALL).slots)


def test_the_ledger_reads_what_a_letter_holds(plan: Plan) -> None:
    slots = made_for(with_others(plan, 2), CALL).slots
    for slot in slots:
        read = slot_of(slot.entry)
        assert (read.label, read.alternatives, read.asked_sky) == (slot.label, slot.alternatives, slot.asked_sky)
    plain = [slot for slot in made_for(demo_letters(), CALL).slots if not slot.asked_sky]
    assert plain
    assert all({"alternatives", "asked_sky"}.isdisjoint(slot.entry) for slot in plain)


@pytest.mark.parametrize(
    "spoiled",
    [
        {"alternatives": 7}, {"alternatives": "B"}, {"alternatives": [{"label": "B"}]}, {"alternatives": [None]},
        {"asked_sky": 7}, {"asked_sky": {}},
        {"asked_sky": {"azimuth_from_deg": 1, "azimuth_to_deg": "x", "above_deg": 1}},
        {"asked_sky": {"azimuth_from_deg": 10**400, "azimuth_to_deg": 1, "above_deg": 1}},
    ],
)  # fmt: skip
def test_a_spoiled_entry_is_told_by_its_line(plan: Plan, spoiled: dict[str, object]) -> None:
    entry = {
        "event": "sending",
        "message_id": "<1@x>",
        "stamp": "2027-01-10T00:00:00Z",
        "partner": CALL,
        "to": "a@b.example",
    }
    entry |= {"subject": "s", "kind": "first", "digest": "d", "period": "2027-03", "withdrawn": []}
    slot = made_for(with_others(plan, 1), CALL).slots[0].entry
    lines = [json.dumps(entry | {"slots": [slot | spoiled]}), json.dumps(entry | {"slots": []})]
    with pytest.raises(InputFaults) as found:
        parse_ledger("\n".join(lines).encode())
    assert found.value.faults[0].line == 1
