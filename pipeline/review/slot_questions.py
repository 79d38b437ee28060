"""Times of a log that lie outside the slots of their rows, or outside those agreed: by home's clock, or by a slip.

Who kept the log by home's clock is outside by that clock's distance from UTC, in every row. ADIF tells no slot: there
the agreed one counts that is nearest, within half a day, and only a slip that leads into it is told.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from zoneinfo import ZoneInfo

from pipeline.record.log_entry import Finding, LogEntry
from pipeline.review.questions import ahead_of_utc, hours_words

HALF_A_DAY, DAY = dt.timedelta(hours=12), dt.timedelta(days=1)
# Contacts end a little after their slots; one so far outside, and no clock explaining it, is asked about.
NEAR, FAR = dt.timedelta(minutes=5), dt.timedelta(minutes=45)
# One contact of a log without slots may by chance lie as far from an agreed slot as home's clock from UTC; not two.
LEAST_BY_CLOCK = 2

Stretch = tuple[dt.datetime, dt.datetime]


@dataclass(frozen=True)
class _Slotted:
    """An entry and its slot; `is_told` where the log itself names it."""

    entry: LogEntry
    start_utc: dt.datetime
    end_utc: dt.datetime
    is_told: bool

    @property
    def file(self) -> str:
        return self.entry.file

    @property
    def line(self) -> int:
        return self.entry.line

    @property
    def time_utc(self) -> dt.datetime:
        return self.entry.time_utc


def slot_questions(
    entries: Sequence[LogEntry],
    zone: ZoneInfo,
    down: Collection[tuple[str, int]],
    agreed: Mapping[str, Sequence[Stretch]] | None = None,
) -> tuple[list[Finding], set[tuple[str, int]]]:
    """A finding for each file whose times are those of home's clock, else for each time that some slip explains.

    `down` holds the file and line of records at whose time the Moon was down: these are not compared. `agreed` are the
    slots of each partner. The second result names those of `down` that are told of here.
    """
    findings: list[Finding] = []
    told: set[tuple[str, int]] = set()
    slotted = [one for entry in entries if (one := _slotted(entry, agreed or {})) is not None]
    slotted.sort(key=lambda one: (one.file, one.line))
    for file, found in groupby(slotted, lambda one: one.file):
        mine = list(found)
        outside = [one for one in mine if _outside(one) > NEAR]
        local = [one for one in outside if _outside(one, -ahead_of_utc(one.time_utc, zone)) <= NEAR]
        is_used = not any((file, one.line) in down for one in outside)
        is_sure = mine[0].is_told or len({one.start_utc for one in local}) >= LEAST_BY_CLOCK
        if local and len(local) == len(mine) and is_sure:
            findings.append(_by_local_clock(local, zone, is_used))
            told |= {(file, one.line) for one in local}
            continue
        for one in outside:
            slip = _explained(one, zone)
            is_down = (file, one.line) in down
            if slip or (one.is_told and _outside(one) > FAR and not is_down):
                findings.append(_far_from_slot(one, slip, not is_down))
                told.add((file, one.line))
    return findings, told


def _slotted(entry: LogEntry, agreed: Mapping[str, Sequence[Stretch]]) -> _Slotted | None:
    """The entry with its slot, or with the nearest agreed one; None where it has none."""
    if entry.silent:
        return None
    if entry.slot_start_utc and entry.slot_end_utc:
        return _Slotted(entry, entry.slot_start_utc, entry.slot_end_utc, True)
    near = [_Slotted(entry, *slot, False) for slot in agreed.get(entry.call, ()) if entry.moonbounce]
    best = min(near, key=_outside, default=None)
    return best if best is not None and _outside(best) <= HALF_A_DAY else None


def _explained(entry: _Slotted, zone: ZoneInfo) -> str:
    """What to write for a time that lies in its slot when it is moved; empty where no slip explains it."""
    ahead = ahead_of_utc(entry.time_utc, zone)
    for what, moved in (("by home's clock it is", -ahead), ("by a clock of twelve hours it is", HALF_A_DAY),
                        ("by a clock of twelve hours it is", -HALF_A_DAY)):  # fmt: skip
        if moved and _outside(entry, moved) <= NEAR:
            return f"{what} {entry.time_utc + moved:%H:%M} UTC; write that if it is meant"
    days = [moved for moved in (DAY, -DAY) if _outside(entry, moved) <= NEAR]
    return f"write {entry.time_utc + days[0]:%Y-%m-%dT%H:%MZ} if the date is meant to be the slot's" if days else ""


def _outside(entry: _Slotted, moved: dt.timedelta = dt.timedelta(0)) -> dt.timedelta:
    """How far a time lies before or after its slot; zero inside."""
    start, end = entry.start_utc, entry.end_utc
    return max(start - entry.time_utc - moved, entry.time_utc + moved - end, dt.timedelta(0))


def _by_local_clock(entries: Sequence[_Slotted], zone: ZoneInfo, is_used: bool) -> Finding:
    first, last = entries[0], entries[-1]
    offset = hours_words(ahead_of_utc(first.time_utc, zone))
    stand = ", ".join(f"{one.time_utc:%H:%M}" for one in entries)
    right = ", ".join(f"{one.time_utc - ahead_of_utc(one.time_utc, zone):%H:%M}" for one in entries)
    if first is last:
        what = f"time_utc {stand} lies outside its slot, and inside as a time of home's clock ({offset})"
    else:
        what = f"time_utc {stand} (to line {last.line}) lie outside their slots, inside by home's clock ({offset})"
    return Finding(first.file, first.line, "", what, f"write UTC: {right}", is_used, asks=True)


def _far_from_slot(one: _Slotted, slip: str, is_used: bool) -> Finding:
    slot = "the slot" if one.is_told else "the slot agreed"
    what = f"time_utc {one.time_utc:%Y-%m-%d %H:%M} lies outside {slot}, {one.start_utc:%H:%M} to {one.end_utc:%H:%M}"
    return Finding(one.file, one.line, one.entry.call, what, slip or "check date and time", is_used)
