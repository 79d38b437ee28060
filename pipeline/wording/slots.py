"""A slot in words: its span by a clock on the wall, and where to try again if it is missed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from pipeline.agenda.fall_backs import FallBack
from pipeline.wording import formats

# From this hour on the end of a night is called the next morning.
MORNING_HOUR = 6


def local_span(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo) -> str:
    """`2027-03-12 22:15 to 23:15 -03:00`; the date of the end, and the offset of the start, where they differ."""
    first, last = start.astimezone(zone), end.astimezone(zone)
    offsets = [f"{moment:%z}" for moment in (first, last)]
    offsets = [f"{text[:3]}:{text[3:]}" for text in offsets]
    begin = f"{first:%Y-%m-%d %H:%M}" + ("" if offsets[0] == offsets[1] else f" {offsets[0]}")
    until = f"{last:%H:%M}" if first.date() == last.date() else f"{last:%Y-%m-%d %H:%M}"
    return f"{begin} to {until} {offsets[1]}"


def night_title(night: dt.date, starts: Sequence[dt.datetime], zone: dt.tzinfo) -> str:
    """`Saturday 13 March 2027`; told besides where all slots of a night begin on the morning after."""
    title = f"{formats.day_long(night)} {night.year}"
    dates = {start.astimezone(zone).date() for start in starts}
    if not dates or night in dates:
        return title
    return f"{title}, its slots on {formats.day_long(min(dates))} local time"


def alternatives_words(others: Sequence[tuple[str, dt.datetime, dt.datetime]], zone: dt.tzinfo) -> str:
    """`or B, Sat 13 Mar 18:30–19:30`: other times that a slot's letter offers; empty without any."""
    return "; ".join(f"or {label}, {formats.slot_span(start, end, zone)}" for label, start, end in others)


def utc_span(start: dt.datetime, end: dt.datetime | None) -> str:
    """`2027-03-13 01:15 to 02:15 UTC`; the start alone where no end is known."""
    if end is None:
        return f"{start:%Y-%m-%d %H:%M} UTC"
    ending = f"{end:%H:%M}" if end.date() == start.date() else f"{end:%Y-%m-%d %H:%M}"
    return f"{start:%Y-%m-%d %H:%M} to {ending} UTC"


def both_clocks(start: dt.datetime, end: dt.datetime, zones: Mapping[str, dt.tzinfo | None]) -> str:
    """`QM7TOR 2027-03-12 22:15 to 23:15 -03:00, QF4LUM 2027-03-13 03:15 to 04:15 +02:00`: by call, none unknown."""
    return ", ".join(f"{call} {local_span(start, end, zone)}" for call, zone in zones.items() if zone)


def fall_back_words(start: dt.datetime, fall_back: FallBack, zone: dt.tzinfo) -> str:
    """`if missed: 22:45 to 23:30 tonight, else Sun 14 Mar 23:00`; `start` is that of the slot, `zone` home's."""
    later = _later(fall_back, zone)
    if fall_back.tonight is None:
        return f"if missed: {later or 'no other time in this period'}"
    first, begin, end = (moment.astimezone(zone) for moment in (start, *fall_back.tonight))
    when = "tonight"
    if begin.hour >= MORNING_HOUR and begin.date() != first.date():
        when = "next morning"
    elif begin.hour >= MORNING_HOUR > first.hour:
        when = "the same morning" if begin.hour < 12 else "the same day"
    words = f"if missed: {begin:%H:%M} to {end:%H:%M} {when}"
    return f"{words}, else {later}" if later else words


def _later(fall_back: FallBack, zone: dt.tzinfo) -> str:
    """`slot B, Sun 14 Mar 23:00`; without a letter where it is no slot of its own, empty where there is none."""
    if fall_back.later is None:
        return ""
    local = fall_back.later[0].astimezone(zone)
    when = f"{formats.day(local.date())} {local:%H:%M}"
    return f"slot {fall_back.label}, {when}" if fall_back.label else when
