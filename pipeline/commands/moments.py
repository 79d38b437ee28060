"""Dates and times of the command line: read in the one form that is taken, else told in that form by their own figures.

A date without its order (4/3/2027) gives both readings; a time without a zone what it is in UTC and by home's clock.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from zoneinfo import ZoneInfo

from pipeline.inputs.clocks_said import clock_meant
from pipeline.inputs.dates_said import dates_meant

ZONE = re.compile(r" ?(z|utc|gmt|[+-]\d\d:?\d\d)$", re.IGNORECASE)


def dates_in(text: str) -> list[dt.date]:
    """Every date that a text can mean; none where it is none."""
    return [dt.date.fromisoformat(one) for one in dates_meant(text)]


def date_advice(text: str) -> str:
    """What to write for a date; a general example where the text is none."""
    readings = dates_in(text)
    if not readings:
        return "a date is meant, such as 2027-03-14"
    return f"write {' or '.join(map(str, readings))}"


def instant_advice(text: str, home: ZoneInfo | None, written: Callable[[str], str] = str) -> str:
    """What to write for an instant: in UTC by its own figures, and what it is where home's clock was meant.

    `written` puts an instant into the line that is to be typed.
    """
    said = re.sub(r"(?<=\d)[Tt](?=\d)", " ", text.strip())
    zone = ZONE.search(said)
    said = said[: zone.start()] if zone else said
    readings, time = _parted(said)
    if not readings:
        only = dates_in(said)
        if only:
            return f"the time of day is missing; write for instance {written(f'{only[0]}T23:10Z')}"
        return f"a date and a time in UTC are meant, such as {written('2027-03-13T23:10Z')}"
    if zone and zone[1].casefold() in ("z", "utc", "gmt"):
        return f"write {' or '.join(written(f'{one}T{time}Z') for one in readings)}"
    if zone:
        offset = zone[1] if ":" in zone[1] else f"{zone[1][:3]}:{zone[1][3:]}"
        return f"write {' or '.join(written(f'{one}T{time}{offset}') for one in readings)}"
    each = [
        f"{written(f'{one}T{time}Z')} where UTC is meant"
        + (f", {written(_by_home(one, time, home))} where your own clock is" if home else "")
        for one in readings
    ]
    return f"it names no clock; write {', or '.join(each)}"


def _parted(said: str) -> tuple[list[dt.date], str]:
    """The dates and the time of day of a text, whichever comes first; no dates where it has not both."""
    words = said.split()
    for place in range(len(words) - 1, 0, -1):
        first, last = " ".join(words[:place]), " ".join(words[place:])
        for day, clock in ((first, last), (last, first)):
            readings, time = dates_in(day), clock_meant(clock)
            if readings and time and time != "24:00":
                return readings, time
    return [], ""


def _by_home(day: dt.date, time: str, home: ZoneInfo) -> str:
    local = dt.datetime.combine(day, dt.time.fromisoformat(time), tzinfo=home)
    return f"{local.astimezone(dt.UTC):%Y-%m-%dT%H:%M}Z"
