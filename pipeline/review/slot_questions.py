"""Times of a log that lie outside the slots of their rows: by home's clock, or by a slip.

Who kept the log by home's clock is outside by that clock's distance from UTC, in every row.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from itertools import groupby
from zoneinfo import ZoneInfo

from pipeline.record.log_entry import Finding, LogEntry
from pipeline.review.questions import ahead_of_utc, hours_words

HALF_A_DAY, DAY = dt.timedelta(hours=12), dt.timedelta(days=1)
# Contacts end a little after their slots; one so far outside, and no clock explaining it, is asked about.
NEAR, FAR = dt.timedelta(minutes=5), dt.timedelta(minutes=45)


def slot_questions(
    entries: Sequence[LogEntry], zone: ZoneInfo, down: Collection[tuple[str, int]]
) -> tuple[list[Finding], set[tuple[str, int]]]:
    """A finding for each file whose times are those of home's clock, else for each time that some slip explains.

    `down` holds the file and line of records at whose time the Moon was down: these are not compared. The second
    result names those of them that are told of here.
    """
    findings: list[Finding] = []
    told: set[tuple[str, int]] = set()
    slotted = [entry for entry in entries if entry.slot_start_utc and entry.slot_end_utc and not entry.silent]
    slotted.sort(key=lambda entry: (entry.file, entry.line))
    for file, found in groupby(slotted, lambda entry: entry.file):
        mine = list(found)
        outside = [one for one in mine if _outside(one) > NEAR]
        local = [one for one in outside if _outside(one, -ahead_of_utc(one.time_utc, zone)) <= NEAR]
        is_used = not any((file, one.line) in down for one in outside)
        if local and len(local) == len(mine):
            findings.append(_by_local_clock(local, zone, is_used))
            told |= {(file, one.line) for one in local}
            continue
        for one in outside:
            slip = _explained(one, zone)
            is_down = (file, one.line) in down
            if slip or (_outside(one) > FAR and not is_down):
                findings.append(_far_from_slot(one, slip, not is_down))
                told.add((file, one.line))
    return findings, told


def _explained(entry: LogEntry, zone: ZoneInfo) -> str:
    """What to write for a time that lies in its slot when it is moved; empty where no slip explains it."""
    ahead = ahead_of_utc(entry.time_utc, zone)
    for what, moved in (("by home's clock it is", -ahead), ("by a clock of twelve hours it is", HALF_A_DAY),
                        ("by a clock of twelve hours it is", -HALF_A_DAY)):  # fmt: skip
        if moved and _outside(entry, moved) <= NEAR:
            return f"{what} {entry.time_utc + moved:%H:%M} UTC; write that if it is meant"
    days = [moved for moved in (DAY, -DAY) if _outside(entry, moved) <= NEAR]
    return f"write {entry.time_utc + days[0]:%Y-%m-%dT%H:%MZ} if the date is meant to be the slot's" if days else ""


def _outside(entry: LogEntry, moved: dt.timedelta = dt.timedelta(0)) -> dt.timedelta:
    """How far a time lies before or after its slot; zero inside."""
    start, end = entry.slot_start_utc, entry.slot_end_utc
    assert start is not None
    assert end is not None
    return max(start - entry.time_utc - moved, entry.time_utc + moved - end, dt.timedelta(0))


def _by_local_clock(entries: Sequence[LogEntry], zone: ZoneInfo, is_used: bool) -> Finding:
    first, last = entries[0], entries[-1]
    offset = hours_words(ahead_of_utc(first.time_utc, zone))
    stand = ", ".join(f"{one.time_utc:%H:%M}" for one in entries)
    right = ", ".join(f"{one.time_utc - ahead_of_utc(one.time_utc, zone):%H:%M}" for one in entries)
    if first is last:
        what = f"time_utc {stand} lies outside its slot, and inside as a time of home's clock ({offset})"
    else:
        what = f"time_utc {stand} (to line {last.line}) lie outside their slots, inside by home's clock ({offset})"
    return Finding(first.file, first.line, "", what, f"write UTC: {right}", is_used)


def _far_from_slot(entry: LogEntry, slip: str, is_used: bool) -> Finding:
    start, end = entry.slot_start_utc, entry.slot_end_utc
    what = f"time_utc {entry.time_utc:%Y-%m-%d %H:%M} lies outside the slot, {start:%H:%M} to {end:%H:%M}"
    return Finding(entry.file, entry.line, entry.call, what, slip or "check date and time", is_used)
