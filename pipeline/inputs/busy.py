"""Calendars of people: when an iCalendar file (RFC 5545) says that somebody is taken. What they are titled is not kept.

Repeated, moved and cancelled entries, whole days, time zones of the file's own, and FREEBUSY; entries that are shown as
free (TRANSP, section 3.8.2.7) take nothing. Repetition is worked out by the package recurring-ical-events.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from types import ModuleType
from typing import Any

from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.free_days import not_installed
from pipeline.inputs.yaml_tree import read_bytes

# What says when, and nothing that says what, where or with whom.
KEPT = (
    "UID", "DTSTART", "DTEND", "DURATION", "RRULE", "RDATE", "EXDATE", "RECURRENCE-ID", "SEQUENCE", "DTSTAMP",
    "STATUS", "TRANSP", "FREEBUSY",
)  # fmt: skip
# Repeating more often than daily is no entry of a person's, and working it out may not end.
TOO_OFTEN = ("SECONDLY", "MINUTELY", "HOURLY")
MOST_ENTRIES = 5000
DAY = dt.timedelta(days=1)

Times = tuple[tuple[dt.datetime, dt.datetime], ...]


@dataclass(frozen=True)
class BusyFile:
    """One calendar: its file's name, and of its entries only what says when."""

    name: str
    times: bytes = field(repr=False)


def read_busy(folder: Path, names: Sequence[str]) -> tuple[tuple[BusyFile, ...], dict[str, str], list[tuple[int, str]]]:
    """The calendars of these files, the hash of each, and the faults: which of the names, and what is wrong."""
    found, hashes, faults = [], dict[str, str](), []
    for place, name in enumerate(names):
        try:
            raw = read_bytes(folder / name)
            found.append(BusyFile(name, _stripped(raw, name)))
            hashes[name] = hashlib.sha256(raw).hexdigest()
        except InputFaults as fault:
            faults.append((place, fault.faults[0].message))
    return tuple(found), hashes, faults


def busy_times(file: BusyFile, zone: dt.tzinfo, first: dt.datetime, last: dt.datetime) -> Times:
    """From when to when a calendar says busy, each touching the time between two instants, in order of their starts.

    Whole days and times without a zone are those of `zone`.
    """
    return _busy_times(file, zone, first.astimezone(dt.UTC), last.astimezone(dt.UTC))


@lru_cache(maxsize=256)
def last_entry(file: BusyFile) -> dt.date | None:
    """The last day of a calendar's entries; None where it has none, or where one repeats and goes on."""
    from icalendar import Calendar

    ends = []
    for event in Calendar.from_ical(file.times).walk("VEVENT"):
        if "RRULE" in event or "RDATE" in event:
            return None
        end = event.get("DTEND") or event.get("DTSTART")
        ends.append(_instant(end.dt, dt.UTC).date())
    periods = [end for _, end in _free_busy(Calendar.from_ical(file.times), dt.UTC)]
    return max([*ends, *(one.date() for one in periods)], default=None)


@lru_cache(maxsize=256)
def _busy_times(file: BusyFile, zone: dt.tzinfo, first: dt.datetime, last: dt.datetime) -> Times:
    from icalendar import Calendar

    calendar = Calendar.from_ical(file.times)
    found = [*_events(calendar, zone, first, last), *_free_busy(calendar, zone)]
    return tuple(sorted((start, end) for start, end in found if start < last and end > first))


def _events(
    calendar: Any, zone: dt.tzinfo, first: dt.datetime, last: dt.datetime
) -> Iterator[tuple[dt.datetime, dt.datetime]]:
    # A day to either side, for what is whole days there is asked for by dates of another zone.
    for event in _library().of(calendar).between(first - DAY, last + DAY):
        if str(event.get("STATUS", "")).upper() == "CANCELLED" or str(event.get("TRANSP", "")).upper() == "TRANSPARENT":
            continue
        yield _instant(event.start, zone), _instant(event.end, zone)


def _free_busy(calendar: Any, zone: dt.tzinfo) -> Iterator[tuple[dt.datetime, dt.datetime]]:
    """Section 3.8.2.6: periods, busy unless their FBTYPE says free."""
    for component in calendar.walk("VFREEBUSY"):
        entries = component.get("FREEBUSY", [])
        for entry in entries if isinstance(entries, list) else [entries]:
            periods = getattr(entry, "dts", None) or [entry]
            if str(getattr(entry, "params", {}).get("FBTYPE", "BUSY")).upper() == "FREE":
                continue
            for period in periods:
                value = getattr(period, "dt", period)
                start, end = value if isinstance(value, tuple) else (value.start, value.end)
                end = start + end if isinstance(end, dt.timedelta) else end
                yield _instant(start, zone), _instant(end, zone)


def _instant(moment: dt.date, zone: dt.tzinfo) -> dt.datetime:
    if not isinstance(moment, dt.datetime):
        moment = dt.datetime.combine(moment, dt.time(0))
    local = moment.replace(tzinfo=zone) if moment.tzinfo is None else moment
    return local.astimezone(dt.UTC)


def _library() -> ModuleType:
    """The package of the extra."""
    try:
        import recurring_ical_events
    except ImportError:
        raise InputFaults([Fault("", None, "", not_installed("calendars are read", "recurring-ical-events"))]) from None
    return recurring_ical_events


def _stripped(raw: bytes, name: str) -> bytes:
    """The calendar's entries without their words; InputFaults where it is none, or asks for too much."""
    from icalendar import Calendar

    _library()
    try:
        calendar = Calendar.from_ical(raw)
        made = Calendar()
        for zone in calendar.walk("VTIMEZONE"):
            made.add_component(zone)
        for component in (*calendar.walk("VEVENT"), *calendar.walk("VFREEBUSY")):
            made.add_component(_bare(component))
    except InputFaults:
        raise
    except Exception:  # the parser has many ways to give up, none of them ours
        message = "the file is no iCalendar file (RFC 5545); export the calendar as .ics."
        raise InputFaults([Fault(name, None, "", message)]) from None
    entries = [one for one in made.subcomponents if one.name != "VTIMEZONE"]
    if len(entries) > MOST_ENTRIES:
        message = f"the calendar has {len(entries)} entries, and {MOST_ENTRIES} at most are taken; export fewer years."
        raise InputFaults([Fault(name, None, "", message)])
    if any(_repeats_too_often(one) for one in entries):
        message = "an entry repeats more often than daily; take it out of the exported file."
        raise InputFaults([Fault(name, None, "", message)])
    stripped = made.to_ical()
    _tried(BusyFile(name, stripped))
    return stripped


def _bare(component: Any) -> Any:
    made = type(component)()
    for key in KEPT:
        if key in component:
            made[key] = component[key]
    return made


def _repeats_too_often(component: Any) -> bool:
    rules = component.get("RRULE", [])
    return any(
        str(freq).upper() in TOO_OFTEN
        for rule in (rules if isinstance(rules, list) else [rules])
        for freq in rule.get("FREQ", [])
    )


def _tried(file: BusyFile) -> None:
    """Any month serves to see that the entries can be worked out; InputFaults where they cannot."""
    first = dt.datetime(2027, 1, 1, tzinfo=dt.UTC)
    try:
        busy_times(file, dt.UTC, first, first + 31 * DAY)
    except Exception:
        message = "an entry has times that make no sense (RFC 5545); export the calendar anew."
        raise InputFaults([Fault(file.name, None, "", message)]) from None
