"""What a plan holds as if it had been sent: what was sent stands, and what is planned for these dates is added."""

from __future__ import annotations

import dataclasses
import datetime as dt
from types import SimpleNamespace
from typing import Any, cast
from zoneinfo import ZoneInfo

import pytest

from pipeline.agenda.commitments import PROPOSED
from pipeline.plan.held import as_if_sent, hold_agenda
from pipeline.plan.plan import Plan
from pipeline.record.inputs import Inputs
from pipeline.record.model import Offer, OfferedTime, Record
from pipeline.windows.span import Span
from tests.plan.months import demo_inputs

MARCH = Span(dt.date(2027, 3, 1), dt.date(2027, 3, 31), ZoneInfo("America/Montevideo"))
HOUR = dt.timedelta(hours=1)


def at(day: int, hour: int, month: int = 3) -> dt.datetime:
    return dt.datetime(2027, month, day, hour, tzinfo=dt.UTC)


def offer(label: str, start: dt.datetime, uid: str = "", sequence: int = 0, withdrawn: bool = False) -> Offer:
    return Offer(uid, "QF4LUM", "QM7TOR", label, start, start + HOUR, sequence, withdrawn, PROPOSED)


OTHER = OfferedTime("B", at(20, 22), at(20, 23))
SENT = dataclasses.replace(offer("A", at(13, 19), "qm7tor-qf4lum-3cm-2027-03-a@x", 2), alternatives=(OTHER,))


def with_sent(*offers: Offer) -> Inputs:
    return dataclasses.replace(demo_inputs(), record=Record(offers=offers))


def test_what_was_sent_stands_with_its_time_and_other_times() -> None:
    """The plan has moved A since, and has a C that nobody was told of."""
    moved, new = offer("A", at(14, 20), SENT.uid), offer("C", at(15, 21))
    assert as_if_sent(with_sent(SENT), [moved, new], MARCH).record.offers == (SENT, new)


@pytest.mark.parametrize(
    ("start", "uid", "is_known"),
    [
        (at(13, 19, 2), "qm7tor-qf4lum-3cm-2027-02-a@x", False),
        # 28 February, 20:00 at home; the noon that parts the months is 15:00 UTC.
        (at(28, 23, 2), "qm7tor-qf4lum-3cm-2027-02-a@x", False),
        (at(1, 14), "", False),
        (at(1, 16), "", True),
        (at(1, 14), "qm7tor-qf4lum-3cm-2027-03-a@x", True),
    ],
)
def test_letters_of_another_month_are_other_slots(start: dt.datetime, uid: str, is_known: bool) -> None:
    planned = offer("A", at(14, 20))
    before = offer("A", start, uid)
    held = as_if_sent(with_sent(before), [planned], MARCH).record.offers
    assert held == ((before,) if is_known else (before, planned))


def test_an_agenda_is_held_by_the_same_rule() -> None:
    """Slots proposed alone; home stands where that plan has it."""

    def slot(label: str, start: dt.datetime, state: str = PROPOSED, outcome: str = "") -> Any:
        names = {"uid": f"uid-{label}", "call": "QF4LUM", "operator": "QM7TOR", "label": label, "state": state}
        return SimpleNamespace(**names, start=start, end=start + HOUR, outcome=outcome)

    slots = [
        slot("A", at(14, 20)),
        slot("C", at(15, 21)),
        slot("D", at(16, 21), "confirmed"),
        slot("E", at(4, 21), outcome="past"),
    ]
    inputs = with_sent(SENT)
    standing = dataclasses.replace(inputs, sites={dt.date(2027, 3, 14): "Beach"})
    before = cast(Plan, SimpleNamespace(slots=slots, period=MARCH, inputs=standing))
    made: list[Inputs] = []

    def make(some: Inputs) -> Plan:
        made.append(some)
        return cast(Plan, SimpleNamespace(contacts_expected=2.0 - len(made)))

    found = hold_agenda(before, inputs, 1.0, make)
    free, held = made
    assert (found.is_held, found.gain, free) == (True, 1.0, inputs)
    assert held.sites == standing.sites
    assert held.record.offers == (SENT, offer("C", at(15, 21), "uid-C"))
