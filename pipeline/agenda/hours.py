"""When a station has someone at the dish, as stretches of UTC: local hours, clock changes, excepted dates.

From station files and the IANA time-zone database. Where the clocks change inside a stretch nobody is promised at an
hour that could be meant either way: it begins at the later reading of its start and ends at the earlier of its end.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from pipeline.agenda.notes import HoursAssumed
from pipeline.inputs.busy import BusyFile, busy_times
from pipeline.inputs.model import WEEKDAYS, Hours, Station
from pipeline.windows.instants import instant_of_minute, minutes_of

IntArray = npt.NDArray[np.int64]

DAY = dt.timedelta(days=1)
NOON, MORNING = dt.time(12), dt.time(6)
WORK_MORNINGS = ("mon", "tue", "wed", "thu", "fri")
# Hours of a station that names none: someone who is awake.
USUAL_HOURS = (Hours(WEEKDAYS, dt.time(7, 0), dt.time(23, 30)),)
# The Sun's mean time: four minutes a degree of longitude.
MINUTES_PER_DEGREE = 4.0


def zone_of(station: Station) -> dt.tzinfo:
    """The station's zone; without one its mean solar time, to the minute."""
    if station.time_zone:
        return ZoneInfo(station.time_zone)
    return dt.timezone(dt.timedelta(minutes=round(station.position.longitude_deg * MINUTES_PER_DEGREE)))


def hours_assumed(station: Station) -> HoursAssumed | None:
    """What had to be assumed about a station's hours; None where its file says all."""
    if station.available == "always" or (station.time_zone and station.available is not None):
        return None
    return HoursAssumed(station.call, hours=station.available is None, zone=not station.time_zone)


def hours_of(station: Station) -> tuple[Hours, ...] | None:
    """The station's weekly hours, the usual ones where it names none; None where it is always there."""
    if station.available == "always":
        return None
    return USUAL_HOURS if station.available is None else tuple(station.available)


def available_stretches(station: Station, first: dt.datetime, last: dt.datetime) -> IntArray:
    """When the station is on the air between two instants: (n, 2), minutes since 1970, sorted and apart."""
    return weekly_stretches(hours_of(station), station, first, last)


def weekly_stretches(
    hours: Sequence[Hours] | None, station: Station, first: dt.datetime, last: dt.datetime
) -> IntArray:
    """The same for other weekly hours than the station's own; None is always. Its excepted dates count either way.

    So do its calendars; a public holiday gives the hours of a Sunday as well.
    A stretch that begins on an excepted date is out, and so is every hour of that date: (n, 2) minutes.
    """
    zone, bounds = zone_of(station), np.array([[minutes_of(first), minutes_of(last)]], dtype=np.int64)
    kept = bounds
    if hours is not None:
        kept = merge(
            [
                (_minute(date, one.start, zone, ending=False), _minute(_last_date(date, one), one.until, zone))
                for date in _dates(zone, first, last)
                if not station.is_away(date)
                for one in hours
                if WEEKDAYS[date.weekday()] in one.days or ("sun" in one.days and station.is_holiday(date))
            ]
        )
    return overlap(subtract(kept, taken_stretches(station, first, last)), bounds)


def taken_stretches(station: Station, first: dt.datetime, last: dt.datetime) -> IntArray:
    """What no hours give back: the station's excepted dates, and when its calendars say busy, (n, 2) minutes."""
    busy = busy_stretches(station.busy_files, zone_of(station), first, last)
    return merge([*map(tuple, excepted_stretches(station, first, last).tolist()), *map(tuple, busy.tolist())])


def busy_stretches(files: Sequence[BusyFile], zone: dt.tzinfo, first: dt.datetime, last: dt.datetime) -> IntArray:
    """When one of some calendars says busy: (n, 2), minutes since 1970, begun ones whole."""
    return merge(
        [
            (math.floor(start.timestamp() / 60.0), math.ceil(end.timestamp() / 60.0))
            for file in files
            for start, end in busy_times(file, zone, first, last)
        ]
    )


def excepted_stretches(station: Station, first: dt.datetime, last: dt.datetime) -> IntArray:
    """The station's excepted dates, each from local midnight to the next: (n, 2)."""
    zone = zone_of(station)
    return merge(
        [
            (_minute(date, dt.time(0), zone, ending=False), _minute(date + DAY, dt.time(0), zone))
            for date in _dates(zone, first, last)
            if station.is_away(date)
        ]
    )


def _dates(zone: dt.tzinfo, first: dt.datetime, last: dt.datetime) -> list[dt.date]:
    """Local dates on which a stretch may begin that reaches into this time."""
    begin, end = (instant.astimezone(zone).date() for instant in (first, last))
    return [begin + DAY * day for day in range(-1, (end - begin).days + 1)]


def late_stretches(
    latest: dt.time,
    zone: dt.tzinfo,
    first: dt.datetime,
    last: dt.datetime,
    is_free_day: Callable[[dt.date], bool] = lambda _: False,
) -> IntArray:
    """From the latest hour until six in the morning of Monday to Friday, between two instants: (n, 2) minutes.

    A free day has no working morning. A latest hour after noon is one of the evening before; one between six and noon
    forbids nothing.
    """
    made = [
        (_minute(date - DAY if latest > NOON else date, latest, zone), _minute(date, MORNING, zone, ending=False))
        for date in (*_dates(zone, first, last), last.astimezone(zone).date() + DAY)
        if WEEKDAYS[date.weekday()] in WORK_MORNINGS and not is_free_day(date)
    ]
    return merge(made)


def merge(stretches: Sequence[tuple[int, int]]) -> IntArray:
    """Sorted, joined where they touch, without empty ones: (n, 2)."""
    found: list[list[int]] = []
    for start, end in sorted(stretches):
        if end <= start:
            continue
        if found and start <= found[-1][1]:
            found[-1][1] = max(found[-1][1], end)
        else:
            found.append([start, end])
    return np.array(found, dtype=np.int64).reshape(-1, 2)


def overlap(one: IntArray, other: IntArray) -> IntArray:
    """What both have in common; each sorted and apart, (n, 2), minutes since 1970."""
    start = np.maximum(one[:, None, 0], other[None, :, 0]).ravel()
    end = np.minimum(one[:, None, 1], other[None, :, 1]).ravel()
    some = end > start
    return np.stack([start[some], end[some]], axis=1)


def subtract(one: IntArray, other: IntArray) -> IntArray:
    """What the first has and the second has not, (n, 2), minutes since 1970."""
    far = 2**40
    edges = np.concatenate([[-far], other.ravel(), [far]]).reshape(-1, 2)
    return overlap(one, edges)


def inside(stretches: IntArray, minute: IntArray) -> npt.NDArray[np.bool_]:
    """Whether each minute (its whole 60 seconds) lies in one of the stretches.

    Stretches (n, 2), minutes (m,), as the result.
    """
    return np.searchsorted(stretches.ravel(), minute, side="right") % 2 == 1


def _last_date(date: dt.date, hours: Hours) -> dt.date:
    return date if hours.until > hours.start else date + DAY


def _minute(date: dt.date, time: dt.time, zone: dt.tzinfo, ending: bool = True) -> int:
    """Minutes since 1970 of a local time: as an end the first time the clock reaches it, as a start the last.

    A time that the clocks skip is the moment they do so.
    """
    local = dt.datetime.combine(date, time, tzinfo=zone)
    early, late = (local.replace(fold=fold).astimezone(dt.UTC) for fold in (0, 1))
    if late >= early:  # usual, or shown twice
        return minutes_of(early if ending else late)
    # Skipped: by the offset before it the time lies after the change, by the offset behind it before.
    low, high, offset = minutes_of(late), minutes_of(early), late.astimezone(zone).utcoffset()
    while high - low > 1:
        middle = (low + high) // 2
        before = instant_of_minute(middle).astimezone(zone).utcoffset() == offset
        low, high = (middle, high) if before else (low, middle)
    return high
