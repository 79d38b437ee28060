"""Agreed slots of which no log has a line: named, so that they can be asked for, and never taken for contacts.

From the attempts of logs, the slots that record and plan know, and what the record says of how slots went.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from pipeline.record.log_entry import LogEntry
from pipeline.record.model import ABSENT, CONFIRMED, DECLINED, FAILED, FIXED, MADE, RAINED, Record
from pipeline.record.outcomes import CLOSE, KnownSlot

# A log speaks of what lies between its first attempt and its last, and of the rest of these nights.
SAME_NIGHT = dt.timedelta(hours=12)


def agreed_slots(record: Record, planned: Sequence[KnownSlot]) -> list[KnownSlot]:
    """Slots that stand: the record's, those that were offered, those of the plan; each once, none that was declined."""
    lines = [
        (one.state, KnownSlot(one.partner, one.operator, one.label, one.start_utc, one.end_utc))
        for one in record.answers
        if one.end_utc is not None
    ]
    offers = [
        KnownSlot(one.partner, one.operator, one.label, one.start_utc, one.end_utc)
        for one in record.offers
        if not one.withdrawn
    ]
    declined = [slot for state, slot in lines if state == DECLINED]
    found: list[KnownSlot] = []
    for slot in (*(slot for state, slot in lines if state in (CONFIRMED, FIXED)), *offers, *planned):
        if not any(_same(slot, other) for other in (*declined, *found)):
            found.append(slot)
    return sorted(found, key=lambda one: (one.start_utc, one.partner))


def unlogged(entries: Sequence[LogEntry], agreed: Sequence[KnownSlot]) -> list[KnownSlot]:
    """The agreed slots in the time of these logs in or about which no attempt with the partner was logged."""
    told = [one for one in entries if not one.silent]
    if not told:
        return []
    first = min(one.time_utc for one in told) - SAME_NIGHT
    last = max(one.time_utc for one in told) + SAME_NIGHT
    return [slot for slot in agreed if first <= slot.start_utc <= last and not any(_about(one, slot) for one in told)]


def outcome_noted(record: Record, slot: KnownSlot) -> str:
    """How the record says that a slot went; empty where it says nothing."""
    noted = (
        one.outcome
        for one in record.answers
        if one.outcome
        and (one.partner, one.operator) == (slot.partner, slot.operator)
        and slot.start_utc - CLOSE <= one.start_utc < slot.end_utc
    )
    return next(noted, "")


def entry_of_slot(slot: KnownSlot, outcome: str, band: str, mode: str, file: str) -> LogEntry | None:
    """The attempt that an unlogged slot stands for, by how it went (empty: nobody knows); None where rain took it."""
    if outcome == RAINED:
        return None
    assert outcome in ("", MADE, FAILED, ABSENT)
    return LogEntry(
        file=file,
        line=0,
        call=slot.partner,
        operator=slot.operator,
        time_utc=slot.start_utc + (slot.end_utc - slot.start_utc) / 2,
        band=band,
        frequency_mhz=None,
        mode=mode,
        report_sent="",
        report_received="",
        report_sent_db=None,
        report_received_db=None,
        completed=outcome == MADE,
        heard=None,
        moonbounce=True,
        remarks="",
        slot_start_utc=slot.start_utc,
        slot_end_utc=slot.end_utc,
        silent=outcome == "",
        absent=outcome == ABSENT,
    )


def _same(one: KnownSlot, other: KnownSlot) -> bool:
    """Whether two slots of a partner and operator are one: they overlap."""
    whom = (one.partner, one.operator) == (other.partner, other.operator)
    return whom and one.start_utc < other.end_utc and other.start_utc < one.end_utc


def _about(entry: LogEntry, slot: KnownSlot) -> bool:
    """Whether an attempt may have been the slot's, whoever sat at home."""
    start = entry.slot_start_utc or entry.time_utc
    near = slot.start_utc - CLOSE <= entry.time_utc <= slot.end_utc + CLOSE
    return entry.call == slot.partner and (near or start == slot.start_utc)
