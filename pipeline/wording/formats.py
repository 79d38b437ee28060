"""How figures are printed: no more digits than are known, true minus signs, local times with the date that they need.

Windows are rounded inward to the minute, so that a printed window is never longer than the real one.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Sequence
from functools import lru_cache

MINUS = "\N{MINUS SIGN}"
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
WEEKDAYS_LONG = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
# Named here, not by strftime: a page must not change with the language of the machine.
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
POINTS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
MINUTE = dt.timedelta(minutes=1)
SECOND = dt.timedelta(seconds=1)


def _floor(moment: dt.datetime, unit: dt.timedelta) -> dt.datetime:
    past = (moment - dt.datetime(2000, 1, 1, tzinfo=dt.UTC)) % unit
    return moment - past


def _ceil(moment: dt.datetime, unit: dt.timedelta) -> dt.datetime:
    floor = _floor(moment, unit)
    return floor if floor == moment else floor + unit


def inward(start: dt.datetime, end: dt.datetime) -> tuple[dt.datetime, dt.datetime]:
    """Both edges rounded into the window: to the minute, or to the second where no whole minute lies inside."""
    for unit in (MINUTE, SECOND):
        first, last = _ceil(start, unit), _floor(end, unit)
        if first <= last:
            return first, last
    return start, start


def clock(moment: dt.datetime | dt.time) -> str:
    """`01:30`, with seconds where there are any."""
    return f"{moment:%H:%M:%S}" if moment.second else f"{moment:%H:%M}"


def day(date: dt.date) -> str:
    """`Sat 13 Mar`."""
    return f"{WEEKDAYS[date.weekday()]} {date.day} {MONTHS[date.month - 1][:3]}"


def day_long(date: dt.date) -> str:
    """`Saturday 13 March`."""
    return f"{WEEKDAYS_LONG[date.weekday()]} {date.day} {MONTHS[date.month - 1]}"


def day_and_month(date: dt.date) -> str:
    """`Sat 13 March`."""
    return f"{WEEKDAYS[date.weekday()]} {date.day} {MONTHS[date.month - 1]}"


def weekday(date: dt.date) -> str:
    """`Saturday`."""
    return WEEKDAYS_LONG[date.weekday()]


def local(moment: dt.datetime, zone: dt.tzinfo, usual: dt.date) -> str:
    """`01:30`, or `Sat 13 Mar 01:30` where the local date is not the usual one."""
    there = moment.astimezone(zone)
    return clock(there) if there.date() == usual else f"{day(there.date())} {clock(there)}"


def clock_of_night(moment: dt.datetime, zone: dt.tzinfo, night: dt.date) -> str:
    """`21:30`, or `Sat 01:15` where the date there is not the night's; to the minute."""
    there = moment.astimezone(zone)
    weekday = "" if there.date() == night else f"{WEEKDAYS[there.weekday()]} "
    return f"{weekday}{there:%H:%M}"


def slot_span(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo) -> str:
    """`Fri 12 Mar 22:15–23:15`; the end's date stands there where it is another."""
    first, last = start.astimezone(zone), end.astimezone(zone)
    if first.date() == last.date():
        return f"{day(first.date())} {clock(first)}–{clock(last)}"
    return f"{day(first.date())} {clock(first)} – {day(last.date())} {clock(last)}"


def signed(value: float, digits: int, plus: bool = False) -> str:
    """A number with a true minus; never a negative zero; a plus sign if wanted."""
    rounded = round(float(value), digits)
    if rounded == 0:
        return f"{0:.{digits}f}"
    sign = MINUS if rounded < 0 else "+" if plus else ""
    return f"{sign}{abs(rounded):.{digits}f}"


def azimuth(value_deg: float) -> str:
    """Pointing to 0.1 degree; 359.97 prints as 0.0."""
    return f"{round(float(value_deg), 1) % 360:.1f}°"


def elevation(value_deg: float) -> str:
    """Pointing to 0.1 degree."""
    return f"{signed(value_deg, 1)}°"


def declination(value_deg: float, digits: int = 0) -> str:
    """`+21°`: the sign always shown."""
    return f"{signed(value_deg, digits, plus=True)}°"


def decibels(value_db: float) -> str:
    """Degradation in tables: 0.1 dB."""
    return signed(value_db, 1)


def decibels_in_words(value_db: float) -> str:
    """Degradation in sentences: to the nearest 0.5 dB."""
    return f"{signed(round(float(value_db) * 2) / 2, 1)} dB"


def chance(value: float, limits: tuple[float, ...] = ()) -> str:
    """A probability to the nearest 5 %; never 0 or 100, which nobody can promise.

    `limits` are those of the outcome words: a chance below one is never printed as if it reached it.
    """
    side, steps = twentieths(value, limits)
    return f"{side} {steps * 5} %".lstrip()


def odds(value: float, limits: tuple[float, ...] = ()) -> str:
    """The same in words: `19 in 20`, `1 in 2`, `almost 9 in 10`."""
    side, steps = twentieths(value, limits)
    common = math.gcd(steps, 20)
    return f"{side} {steps // common} in {20 // common}".lstrip()


def twentieths(value: float, limits: tuple[float, ...]) -> tuple[str, int]:
    """(`under`, `almost`, `over` or nothing, a number of twentieths from 1 to 19)."""
    steps = round(float(value) * 20)
    if steps < 1:
        return "under", 1
    if any(value < limit <= steps / 20 for limit in limits):
        return "almost", steps
    return ("over", 19) if steps > 19 else ("", steps)


def contacts(value: float) -> str:
    """Contacts to expect, to a tenth: `1.4`; `under 0.1` is more than nothing, which is `0`."""
    if value <= 1e-9:
        return "0"
    return f"{value:.1f}" if value >= 0.05 else "under 0.1"


def thousands(value: float) -> str:
    """`13,640`."""
    return f"{round(float(value)):,}".replace("-", MINUS)


def kilometres(value_km: float) -> str:
    """`384,000 km`: a distance of the Moon to the thousand."""
    return f"{round(value_km / 1000) * 1000:,.0f} km"


def duration(minutes: float) -> str:
    """`7 h 20 min`, rounded down, for a window is never promised longer than it is."""
    if minutes < 1:
        return f"{math.floor(minutes * 60)} s"
    hours, rest = divmod(math.floor(minutes), 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest:02d} min"


def offset(value: dt.timedelta | None) -> str:
    """`UTC−3`, `UTC+5:30`, `UTC`."""
    seconds = 0 if value is None else int(value.total_seconds())
    if seconds == 0:
        return "UTC"
    hours, minutes = divmod(abs(seconds) // 60, 60)
    return f"UTC{MINUS if seconds < 0 else '+'}{hours}" + (f":{minutes:02d}" if minutes else "")


def bearing(value_deg: float) -> str:
    """`27° (north-east)`."""
    whole = round(float(value_deg)) % 360
    return f"{whole}° ({POINTS[round(whole / 45) % 8]})"


def place(latitude_deg: float, longitude_deg: float) -> str:
    """`60.90° N 23.40° E`; two digits are about a kilometre, as much as a page needs."""
    north = "S" if latitude_deg < 0 else "N"
    east = "W" if longitude_deg < 0 else "E"
    return f"{abs(latitude_deg):.2f}° {north} {abs(longitude_deg):.2f}° {east}"


def band(name: str) -> str:
    """`3 cm` from the enumeration's `3cm`."""
    return re.sub(r"^([\d.]+)([a-z]+)$", r"\1 \2", name)


def frequency(value_mhz: float) -> str:
    """`10368.1 MHz`, no trailing zeros."""
    return f"{value_mhz:.6f}".rstrip("0").rstrip(".") + " MHz"


def plain(value: float) -> str:
    """A figure of a station file as its owner wrote it: `2.4`, `40`."""
    return f"{value:g}".replace("-", MINUS)


ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def count(number: int, one: str, many: str | None = None) -> str:
    """`1 partner`, `5 partners`, `no partner`."""
    if number == 0:
        return f"no {one}"
    return f"{number} {one}" if number == 1 else f"{number} {many or one + 's'}"


def listed(words: Sequence[str], last: str = "and") -> str:
    """`a, b and c`; `last` is what stands before the last one."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def date_runs(dates: list[dt.date]) -> str:
    """`5 to 11 March, 13 March and 15 March`: runs of days that follow each other, in words."""
    runs: list[list[dt.date]] = []
    for date in sorted(set(dates)):
        if runs and date - runs[-1][-1] == dt.timedelta(days=1):
            runs[-1].append(date)
        else:
            runs.append([date])
    words = []
    for run in runs:
        last = f"{run[-1].day} {MONTHS[run[-1].month - 1]}"
        first = str(run[0].day) if run[0].month == run[-1].month else f"{run[0].day} {MONTHS[run[0].month - 1]}"
        words.append(last if len(run) == 1 else f"{first} to {last}")
    return listed(words)


def short(text: str, most: int = 48) -> str:
    """A name cut to what a heading or a footer holds in one line."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def period_title(first: dt.date, last: dt.date) -> str:
    """`March 2027` for a whole calendar month, else `5 March to 2 April 2027`."""
    if is_calendar_month(first, last):
        return f"{MONTHS[first.month - 1]} {first.year}"
    if first == last:
        return f"{first.day} {MONTHS[first.month - 1]} {first.year}"
    start = f"{first.day}"
    if (first.year, first.month) != (last.year, last.month):
        start += f" {MONTHS[first.month - 1]}"
    if first.year != last.year:
        start += f" {first.year}"
    return f"{start} to {last.day} {MONTHS[last.month - 1]} {last.year}"


def is_calendar_month(first: dt.date, last: dt.date) -> bool:
    """Whether the dates are the first and last day of one month."""
    return (
        first.day == 1
        and (first.year, first.month) == (last.year, last.month)
        and (last + dt.timedelta(days=1)).day == 1
    )


@lru_cache(maxsize=256)
def clock_changes(zone: dt.tzinfo, first: dt.datetime, last: dt.datetime) -> tuple[tuple[dt.datetime, str, str], ...]:
    """Each change of the zone's offset between two UTC instants: (instant, offset before, offset after).

    Looked for hour by hour, then halved down to the minute: rules change on whole minutes.
    """
    changes = []
    step = dt.timedelta(hours=1)
    moment = _floor(first, step)
    before = moment.astimezone(zone).utcoffset()
    while moment < last:
        at, before = before, (moment + step).astimezone(zone).utcoffset()
        if at != before:
            low, high = moment, moment + step
            while high - low > MINUTE:
                middle = _floor(low + (high - low) / 2, MINUTE)
                same = middle.astimezone(zone).utcoffset() == low.astimezone(zone).utcoffset()
                low, high = (middle, high) if same else (low, middle)
            changes.append((high, offset(low.astimezone(zone).utcoffset()), offset(high.astimezone(zone).utcoffset())))
        moment += step
    return tuple(changes)


def offsets(zone: dt.tzinfo, first: dt.datetime, last: dt.datetime) -> str:
    """`UTC+2`, or `UTC+2, from Sun 28 Mar UTC+3` where the clocks change in between."""
    text = offset(first.astimezone(zone).utcoffset())
    for moment, _, after in clock_changes(zone, first, last):
        text += f", from {day(moment.astimezone(zone).date())} {after}"
    return text
