"""What differs from what a partner was told last: named on top and in the subject, and stamped in its calendar.

SEQUENCE: RFC 5545, section 3.8.7.4. DTSTAMP of two objects with one SEQUENCE: RFC 5546, section 2.1.5.
"""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import icalendar
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from pipeline.letters.building import build_letter, told_slots
from pipeline.letters.document import Letter
from pipeline.letters.invitations import invitation, stamped, withdrawal
from pipeline.letters.offers import withdrawn_slots
from pipeline.plan.plan import Plan
from pipeline.plan.views import PartnerView
from pipeline.record.ledger import (
    BY_HAND,
    LOST,
    NOT_SENT,
    SENT,
    UNCLEAR,
    Ledger,
    LetterSlot,
    Message,
    offers_of,
    slot_of,
)
from pipeline.record.model import Offer
from tests.letters.letters_of import letter_text, made_for, with_letters, with_season, with_station
from tests.letters.readers import calendars, opened
from tests.letters.stand_in import offer_of, slot, with_slots
from tests.plan.months import month_plan

CALL = "QF4LUM"


@pytest.fixture(scope="module")
def base() -> Plan:
    return month_plan()


def message(slots: tuple[LetterSlot, ...], digest: str, state: str = SENT) -> Message:
    """What the ledger has of a letter."""
    return Message(
        f"<{digest}@x>", "2027-02-01T10:00:00Z", CALL, "a@b.example", "s", "first", digest, "2027-03", slots, (), state,
        "", 1,
    )  # fmt: skip


def told(plan: Plan) -> list[Offer]:
    """What the record holds once this plan's letter was sent."""
    about = json.loads(made_for(plan, CALL).files["letter.json"])
    view = plan.for_partner(CALL)
    letter = build_letter(view)
    slots = tuple(stamped(view, letter, one) for one in told_slots(view))
    return list(offers_of(Ledger((message(slots, about["content_digest"]),))))


def changes(plan: Plan) -> list[str]:
    return list(build_letter(plan.for_partner(CALL)).changes)


def frequency(plan: Plan, frequency_mhz: float) -> Plan:
    return with_season(plan, frequency_mhz=frequency_mhz)


def dialing(plan: Plan, convention: str) -> Plan:
    return with_season(plan, policy=dataclasses.replace(plan.inputs.season.policy, dialing=convention))


def without_mode(plan: Plan) -> Plan:
    place = plan.inputs.place_of(CALL)
    return dataclasses.replace(plan, modes=tuple(None if i == place else one for i, one in enumerate(plan.modes)))


def test_each_thing_that_differs_has_its_sentence_and_its_word_in_the_subject(base):
    row = slot(base, CALL, "A", 6)
    first = with_slots(base, row)
    held = told(first)
    assert changes(with_slots(base, row, offers=held)) == []
    cases = {
        "frequency": (frequency(with_slots(base, row, offers=held), 10368.2), "the frequency is new. Before: 10368.1 MHz, both of us. Now: "),  # noqa: E501
        "mode": (without_mode(with_slots(base, row, offers=held)), "the mode is new. Before: CW, 60 s periods. Now: none that both of us have."),  # noqa: E501
        "first to send": (with_slots(base, row | {"opener": "home"}, offers=held), "who sends first is new. Before: you. Now: we."),  # noqa: E501
        "meeting place": (with_letters(with_slots(base, row, offers=held), meet="on the hill"), "the meeting place is new. Before: none named yet. Now: on the hill."),  # noqa: E501
        "dials": (dialing(with_slots(base, row, offers=held), "home-follows-for-both"), "the dials are new. Before: listen on "),  # noqa: E501
    }  # fmt: skip
    for name, (plan, sentence) in cases.items():
        said = changes(plan)
        assert said[0].startswith(f"Slot A: {sentence}"), said
        letter = build_letter(plan.for_partner(CALL))
        expected = "frequency and dials" if name == "frequency" else name
        assert letter.subject.endswith(f": changed {expected}")
        assert f"- {said[0]}" in letter_text(made_for(plan, CALL))
        assert f"New: {expected}." in made_for(plan, CALL).files["message.txt"].decode()


def test_a_time_and_other_things_are_named_together(base):
    row, other = slot(base, CALL, "A", 6), slot(base, CALL, "A", 9)
    plan = with_letters(with_slots(base, other, offers=told(with_slots(base, row))), meet="on the hill")
    said = changes(plan)
    assert [one.split(".")[0] for one in said] == [
        "Slot A moves", "Slot A: the meeting place is new", "Slot A: the dials are new",
    ]  # fmt: skip
    assert said[2] == "Slot A: the dials are new. Use those of this letter."
    assert build_letter(plan.for_partner(CALL)).subject.endswith(": changed times and meeting place")


def test_what_is_the_same_of_two_slots_is_said_once(base):
    rows = slot(base, CALL, "A", 6), slot(base, CALL, "B", 12)
    plan = with_letters(with_slots(base, *rows, offers=told(with_slots(base, *rows))), meet="on the hill")
    (said,) = changes(plan)
    assert said.startswith("Slots A and B: the meeting place is new.")


def test_a_ledger_that_knows_no_values_still_reads_and_claims_nothing(base):
    row = slot(base, CALL, "A", 6)
    plan = with_letters(with_slots(base, row, offers=[offer_of(row)]), meet="on the hill")
    assert changes(plan) == []
    entry = {key: value for key, value in told_slots(plan.for_partner(CALL))[0].entry.items() if key != "told"}
    assert slot_of(entry).told is None
    assert slot_of(json.loads(json.dumps(told_slots(plan.for_partner(CALL))[0].entry))).told is not None


def test_what_an_old_ledger_counted_by_the_sequence_is_outrun(base):
    """DTSTAMP was a year before 1 March 2027 and a minute for each sequence; nobody knows what else the object said."""
    row, other = slot(base, CALL, "A", 6), slot(base, CALL, "A", 9)
    for now, sequence, stamp in ((row, 3, "00:04"), (other, 4, "00:04")):
        view = with_slots(base, now, offers=[offer_of(row, 3)]).for_partner(CALL)
        (one,) = (stamped(view, build_letter(view), slot_) for slot_ in told_slots(view))
        assert (one.sequence, f"{one.stamp_utc:%Y-%m-%d %H:%M}") == (sequence, f"2026-03-01 {stamp}")


def test_who_is_no_more_wanted_and_has_no_address_is_told_by_hand(base):
    gone = slot(base, CALL, "A", 6)
    wishes = tuple(dataclasses.replace(w, contacts_wanted=0) if w.call == CALL else w for w in base.inputs.wishes)
    unwanted = dataclasses.replace(base, inputs=dataclasses.replace(base.inputs, wishes=wishes))
    plan = with_slots(with_station(unwanted, CALL, email=None), offers=[offer_of(gone)], withdrawn=[gone])
    made = made_for(plan, CALL)
    assert set(made.files) == {"letter.json", "message.txt"}
    about = json.loads(made.files["letter.json"])
    assert [(one["label"], one["sequence"], one["state"]) for one in about["withdrawn"]] == [("A", 1, "withdrawn")]
    assert b"Withdrawn: slot A, " in made.files["message.txt"]


def test_other_fall_back_hours_are_no_reason_to_write(base):
    """Another partner's answer takes an hour that was to be the second try."""
    row = slot(base, CALL, "A", 6)
    other = row | {f"fall_back_{edge}_utc": row[f"second_fall_back_{edge}_utc"] for edge in ("start", "end")}
    before, after = (json.loads(made_for(with_slots(base, one), CALL).files["letter.json"]) for one in (row, other))
    texts = [letter_text(made_for(with_slots(base, one), CALL)) for one in (row, other)]
    assert texts[0] != texts[1]
    assert all("these hours may still change, so ask us before you wait" in " ".join(text.split()) for text in texts)
    assert before["content_digest"] == after["content_digest"]
    assert changes(with_slots(base, other, offers=told(with_slots(base, row)))) == []


def test_a_withdrawal_says_no_answer_that_was_never_given(base):
    # RFC 5545, section 3.2.12: without the parameter NEEDS-ACTION is meant.
    gone = slot(base, CALL, "B", 12)
    for state, answer in (("proposed", None), ("tentative", "TENTATIVE"), ("confirmed", "ACCEPTED")):
        plan = with_slots(base, offers=[offer_of(gone, state=state)], withdrawn=[gone])
        view = plan.for_partner(CALL)
        (one,) = withdrawn_slots(view)
        event = icalendar.Calendar.from_ical(withdrawal(view, one)).walk("VEVENT")[0]
        assert event["attendee"].params.get("PARTSTAT") == answer
        assert event["attendee"].params.get("RSVP") == (None if answer is None else "FALSE")


# --- SEQUENCE and DTSTAMP --------------------------------------------------------------------------------------------

WORLDS = st.fixed_dictionaries(
    {
        "place": st.sampled_from([6, 7]),
        "state": st.sampled_from(["proposed", "confirmed", "tentative"]),
        "meet": st.sampled_from(["here", "there"]),
        "opener": st.sampled_from(["home", "partner"]),
        "number": st.sampled_from(["AAAA", "BBBB"]),
        "power_w": st.sampled_from([40.0, 50.0]),
    }
)
ENDS = st.sampled_from([SENT, UNCLEAR, BY_HAND, NOT_SENT, LOST])
TRACES = st.lists(st.tuples(WORLDS, ENDS), min_size=2, max_size=6)


def world(base: Plan, told_before: list[Message], values: dict[str, Any]) -> Plan:
    row = slot(base, CALL, "A", values["place"], state=values["state"], opener=values["opener"])
    plan = with_slots(base, row, offers=offers_of(Ledger(tuple(told_before))))
    equipment = dataclasses.replace(plan.inputs.partners[0].bands["3cm"], power_w=values["power_w"])
    plan = with_station(plan, CALL, bands=dict(plan.inputs.partners[0].bands) | {"3cm": equipment})
    return dataclasses.replace(with_letters(plan, meet=values["meet"]), number=values["number"])


LETTERS: dict[tuple[Any, ...], Letter] = {}


def letter_of(view: PartnerView, values: dict[str, Any]) -> Letter:
    """The letter of a world, made once: what was told before is no part of an invitation."""
    key = tuple(values.values())
    if key not in LETTERS:
        LETTERS[key] = build_letter(view)
    return LETTERS[key]


def bare(raw: bytes) -> list[bytes]:
    return [line for line in raw.split(b"\r\n") if not line.startswith((b"DTSTAMP", b"LAST-MODIFIED"))]


@settings(
    max_examples=30, deadline=None, derandomize=True, phases=[Phase.generate], suppress_health_check=list(HealthCheck)
)
@given(trace=TRACES)
def test_stamp_and_sequence_rise_as_the_standards_ask(base, trace):
    """Whatever changes and whatever becomes of the mails: what was seen is always outrun by what differs from it."""
    ledger: list[Message] = []
    seen: list[tuple[bytes, Any]] = []
    lost: list[Any] = []
    for values, end in trace:
        view = world(base, ledger, values).for_partner(CALL)
        letter = letter_of(view, values)
        (one,) = (stamped(view, letter, slot_) for slot_ in told_slots(view))
        raw = invitation(view, letter, one)
        event = icalendar.Calendar.from_ical(raw).walk("VEVENT")[0]
        assert event["last-modified"].dt == event["dtstamp"].dt == one.stamp_utc
        if seen:
            before_raw, before = seen[-1]
            asks = (event.start, event.end, event["status"]) != (before.start, before.end, before["status"])
            assert event["sequence"] == before["sequence"] + asks
            if bare(raw) == bare(before_raw) and not lost:
                assert raw == before_raw
            else:
                assert event["dtstamp"].dt > before["dtstamp"].dt
            # What is said to be lost may come to light: it never outruns what follows.
            assert all(event["dtstamp"].dt > other["dtstamp"].dt for other in lost)
        else:
            assert event["sequence"] == 0
        if end != NOT_SENT:
            ledger.append(message((one,), f"{len(ledger)}", end))
        if end in (SENT, UNCLEAR, BY_HAND):
            seen.append((raw, event))
            lost.clear()
        elif end == LOST and seen:
            lost.append(event)


def test_the_mail_holds_the_stamped_object(base):
    row = slot(base, CALL, "A", 6)
    plan = with_letters(with_slots(base, row, offers=told(with_slots(base, row))), meet="on the hill")
    made = made_for(plan, CALL)
    (entry,) = json.loads(made.files["letter.json"])["slots"]
    (part,) = calendars(opened(made.files["letter.eml"]), attached=False)
    event = icalendar.Calendar.from_ical(part.get_payload(decode=True)).walk("VEVENT")[0]
    assert (event["sequence"], f"{event['dtstamp'].dt:%Y-%m-%dT%H:%M:%SZ}") == (0, entry["stamp"])
    assert entry["stamp"] == "2026-03-01T00:01:00Z"
    # Once told, it is made again with the same bytes.
    again = made_for(with_letters(with_slots(base, row, offers=told(plan)), meet="on the hill"), CALL)
    (same,) = calendars(opened(again.files["letter.eml"]), attached=False)
    assert same.get_payload(decode=True) == part.get_payload(decode=True)
