"""How the slots of one night ended: by the record where it says so, else by the rows of the night's log.csv.

Reports stand as they were logged; a slot of which neither tells is left to be asked for.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.record.log_csv import Log, LogRow
from pipeline.record.model import FAILED, MADE, Answer
from pipeline.record.outcomes import KnownSlot


@dataclass(frozen=True)
class SlotEnd:
    """One slot and its outcome, a word of `record.model.OUTCOMES`.

    `sent` is the report that home gave, `received` that of the partner, each as logged, empty where it is not.
    `time_utc` is when the contact was made, None where the log does not say; `nothing_heard` where it says that.
    """

    slot: KnownSlot
    outcome: str
    sent: str = ""
    received: str = ""
    time_utc: dt.datetime | None = None
    nothing_heard: bool = False


def night_ends(
    slots: Sequence[KnownSlot], answers: Iterable[Answer], log: Log | None
) -> tuple[tuple[SlotEnd, ...], tuple[KnownSlot, ...]]:
    """How each slot ended, in their order; and those of which nobody has said how."""
    noted = {(one.partner, one.operator, one.start_utc): one.outcome for one in answers if one.outcome}
    rows: dict[KnownSlot, list[LogRow]] = {}
    for row in log.attempts if log else ():
        slot = _slot_of(row, slots)
        if slot is not None and row.completed is not None:
            rows.setdefault(slot, []).append(row)
    ended, unknown = [], []
    for slot in slots:
        outcome = noted.get((slot.partner, slot.operator, slot.start_utc), "")
        if outcome or slot in rows:
            ended.append(_end(slot, outcome, rows.get(slot, [])))
        else:
            unknown.append(slot)
    return tuple(ended), tuple(unknown)


def _end(slot: KnownSlot, noted: str, rows: list[LogRow]) -> SlotEnd:
    """By the last row that tells what the outcome is; of several attempts one that was completed decides."""
    made = [row for row in rows if row.completed]
    outcome = noted or (MADE if made else FAILED)
    telling = made if outcome == MADE else rows if outcome == FAILED else []
    if not telling:
        return SlotEnd(slot, outcome)
    row = telling[-1]
    return SlotEnd(
        slot,
        outcome,
        sent=row.cells.get("report_sent", ""),
        received=row.cells.get("report_received", ""),
        time_utc=row.time_utc if row.completed else None,
        nothing_heard=row.nothing_heard,
    )


def _slot_of(row: LogRow, slots: Sequence[KnownSlot]) -> KnownSlot | None:
    """The slot that a row names, else the partner's nearest: a fall-back is an attempt at the slot it stands for."""
    operator = row.cells.get("operator", "").upper()
    mine = [one for one in slots if one.partner == row.cells["partner"].upper() and operator in ("", one.operator)]
    at = row.slot_start_utc or row.time_utc
    if at is None:
        return mine[0] if len(mine) == 1 else None
    return min(mine, key=lambda one: abs(one.start_utc - at), default=None)
