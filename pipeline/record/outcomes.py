"""How slots went by a log: each attempt to the slot that it was made in, where the record does not say so yet.

From entries of logs and the slots that record, ledger and plan know; `made` where one attempt was completed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.record.log_entry import LogEntry
from pipeline.record.model import ABSENT, FAILED, MADE, Answer, Record
from pipeline.record.writing import SlotOutcome, outcome_of

# A log that names no slot has its attempts in the slot or close to it: clocks are late, and so are operators.
CLOSE = dt.timedelta(minutes=15)


@dataclass(frozen=True)
class KnownSlot:
    """A slot by its letter and times; the letter is empty where nobody knows it."""

    partner: str
    operator: str
    label: str
    start_utc: dt.datetime
    end_utc: dt.datetime


def known_slots(record: Record) -> list[KnownSlot]:
    """The slots of the record: its lines, then what was offered."""
    lines = [
        KnownSlot(one.partner, one.operator, one.label, one.start_utc, one.end_utc)
        for one in record.answers
        if one.end_utc is not None
    ]
    offers = (KnownSlot(one.partner, one.operator, one.label, one.start_utc, one.end_utc) for one in record.offers)
    return [*lines, *offers]


def logged_outcomes(
    entries: Iterable[LogEntry], known: Sequence[KnownSlot], answers: Sequence[Answer]
) -> list[SlotOutcome]:
    """What the logs say of slots of which the record says nothing; what is noted there stays as it is."""
    ends: dict[KnownSlot, str] = {}
    for entry in entries:
        slot = _slot_of(entry, known)
        if slot is not None and not entry.silent:
            end = MADE if entry.completed else ABSENT if entry.absent else FAILED
            ends[slot] = end if end == MADE else ends.get(slot, end)
    return [
        outcome_of(one.partner, one.label, one.start_utc, one.end_utc, one.operator, end)
        for one, end in sorted(ends.items(), key=lambda item: (item[0].start_utc, item[0].partner))
        if not any(
            answer.outcome and (answer.partner, answer.start_utc) == (one.partner, one.start_utc) for answer in answers
        )
    ]


def _slot_of(entry: LogEntry, known: Sequence[KnownSlot]) -> KnownSlot | None:
    """The slot of an attempt: the one that the log names, else the nearest about its time."""
    mine = [one for one in known if (one.partner, one.operator) == (entry.call, entry.operator)]
    start, end = entry.slot_start_utc, entry.slot_end_utc
    if start is None:
        near = [one for one in mine if one.start_utc - CLOSE <= entry.time_utc <= one.end_utc + CLOSE]
        return min(near, key=lambda one: abs(one.start_utc - entry.time_utc), default=None)
    same = next((one for one in mine if one.start_utc == start), None)
    if same is not None or end is None or end <= start:
        return same
    return KnownSlot(entry.call, entry.operator, "", start, end)
