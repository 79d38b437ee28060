"""Hours of stations against the wall clock itself: every minute about every change of the clocks of 2027.

The outside is Python's `zoneinfo` with the IANA database, asked minute by minute what the clock on the wall shows.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from functools import lru_cache
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.agenda.hours import (
    available_stretches,
    hours_assumed,
    inside,
    late_stretches,
    merge,
    overlap,
    subtract,
    zone_of,
)
from pipeline.agenda.notes import HoursAssumed
from pipeline.inputs.model import WEEKDAYS, DateRange, Hours, Station
from pipeline.windows.instants import EPOCH, MINUTE, minutes_of
from pipeline.wording.agenda import note_words
from tests.conftest import Outside
from tests.plan.months import demo_inputs, one_station

# The demo's, and three odd ones: half an hour of summer time, the date line, Casablanca's pause of Ramadan.
ZONES = (
    "America/Montevideo", "Europe/Helsinki", "Asia/Tokyo", "Africa/Johannesburg", "America/Denver",
    "Australia/Adelaide", "Europe/Oslo", "Pacific/Auckland",
    "Australia/Lord_Howe", "Pacific/Chatham", "Africa/Casablanca",
)  # fmt: skip
YEAR = (dt.datetime(2027, 1, 1, tzinfo=dt.UTC), dt.datetime(2028, 1, 1, tzinfo=dt.UTC))
HOURS = [
    Hours(WEEKDAYS, dt.time(1, 30), dt.time(2, 30)),
    Hours(WEEKDAYS, dt.time(2, 30), dt.time(8, 0)),
    Hours(WEEKDAYS, dt.time(22, 0), dt.time(2, 15)),
    Hours(WEEKDAYS, dt.time(2, 0), dt.time(3, 0)),
    Hours(WEEKDAYS, dt.time(0, 0), dt.time(0, 0)),
    Hours(("sun",), dt.time(1, 45), dt.time(3, 10)),
    Hours(("sat", "mon"), dt.time(20, 0), dt.time(3, 0)),
]


def _changes(zone: str) -> list[dt.datetime]:
    """The instants of 2027 at which the offset of a zone changes, to the minute."""
    info, hour = ZoneInfo(zone), dt.timedelta(hours=1)
    instants = [YEAR[0] + hour * k for k in range(365 * 24 + 1)]
    offsets = [instant.astimezone(info).utcoffset() for instant in instants]
    found = []
    for k in np.flatnonzero([a != b for a, b in pairwise(offsets)]):
        minutes = [instants[k] + MINUTE * m for m in range(61)]
        found.append(next(one for one in minutes if one.astimezone(info).utcoffset() == offsets[k + 1]))
    return found


def _station(zone: str | None, available: object, excepted: tuple[DateRange, ...] = ()) -> Station:
    plain = one_station("QA1AAA", 10.0, 100.0, 0.0)
    return dataclasses.replace(plain, time_zone=zone, available=available, unavailable_dates=excepted)


@lru_cache(maxsize=4)
def _walls(zone: dt.tzinfo, start: int, stop: int) -> tuple[list[dt.date], np.ndarray]:
    """Date and date-and-time that the wall clock shows at each minute."""
    wall = [(EPOCH + MINUTE * m).astimezone(zone).replace(tzinfo=None, fold=0) for m in range(start, stop)]
    return [one.date() for one in wall], np.array(wall, dtype="datetime64[m]")


def _brute(station: Station, minutes: range) -> np.ndarray:
    """Whether someone is there at each minute, from what the wall clock shows: no arithmetic of zones at all.

    A stretch begins when the clock shows its start for the last time (or skips it) and ends when it first
    shows its end.
    """
    margin = 2 * 1440
    wall, stamps = _walls(zone_of(station), minutes.start - margin, minutes.stop + margin)
    there = np.zeros(len(wall), dtype=bool)
    dates = sorted(set(wall))
    for date in dates:
        if any(date in stretch for stretch in station.unavailable_dates):
            continue
        for hours in station.available:  # type: ignore[union-attr]
            if WEEKDAYS[date.weekday()] not in hours.days:
                continue
            start = dt.datetime.combine(date, hours.start)
            later = hours.until <= hours.start
            until = dt.datetime.combine(date + dt.timedelta(days=int(later)), hours.until)
            shown = np.flatnonzero(stamps == np.datetime64(start, "m"))
            before = np.flatnonzero(stamps < np.datetime64(start, "m"))
            after = np.flatnonzero(stamps >= np.datetime64(until, "m"))
            if before.size and after.size:
                begin = shown[-1] if shown.size else before[-1] + 1
                there[begin : max(after[0], begin)] = True
    for stretch in station.unavailable_dates:
        there &= np.array([date not in stretch for date in wall])
    return there[margin : margin + len(minutes)]


@pytest.mark.parametrize("zone", ZONES)
def test_every_change_of_the_clocks(zone: str, outside: Outside) -> None:
    """Three days about each change, every kind of stretch; excepted dates before, on and after the change."""
    checked = 0
    for change in _changes(zone):
        local = change.astimezone(ZoneInfo(zone)).date()
        begin = minutes_of(change) - 2160
        minutes = range(begin, begin + 4320)
        for number, hours in enumerate(HOURS):
            excepted = DateRange(*[local + dt.timedelta(days=number % 3 - 1)] * 2)
            for dates in ((), (excepted,)):
                station = _station(zone, (hours,), dates)
                found = available_stretches(station, EPOCH + MINUTE * minutes.start, EPOCH + MINUTE * minutes.stop)
                made = inside(found, np.array(minutes))
                assert made.tolist() == _brute(station, minutes).tolist(), (zone, change, hours, dates)
                checked += made.size
    outside("zoneinfo", checked, "0 minute", "minutes of stations' hours")


times = st.times().map(lambda one: one.replace(second=0, microsecond=0))
weekly = st.lists(st.builds(Hours, st.sets(st.sampled_from(WEEKDAYS), min_size=1).map(tuple), times, times), max_size=3)


@settings(max_examples=40)
@given(st.sampled_from(ZONES), weekly, st.integers(0, 360), st.integers(-1, 3))
def test_any_hours_any_day(zone: str, hours: list[Hours], day: int, away: int) -> None:
    first = YEAR[0] + dt.timedelta(days=day)
    date = first.date()
    excepted = (DateRange(date, date + dt.timedelta(days=away)),) if away >= 0 else ()
    station = _station(zone, tuple(hours), excepted)
    minutes = range(minutes_of(first), minutes_of(first) + 2000)
    found = available_stretches(station, first, first + MINUTE * 2000)
    assert inside(found, np.array(minutes)).tolist() == _brute(station, minutes).tolist()


def test_across_midnight_and_an_excepted_date() -> None:
    """A night that begins on an excepted date is out whole; one that reaches into it ends at its midnight."""
    hours = (Hours(("fri", "sat"), dt.time(16, 0), dt.time(3, 0)),)
    station = _station("America/Montevideo", hours, (DateRange(dt.date(2027, 3, 6), dt.date(2027, 3, 6)),))
    found = available_stretches(
        station, dt.datetime(2027, 3, 5, 15, tzinfo=dt.UTC), dt.datetime(2027, 3, 8, 15, tzinfo=dt.UTC)
    )
    # Montevideo is at UTC-3 all year (IANA database): Friday 16:00 to midnight is what is left.
    day = dt.datetime(2027, 3, 5, tzinfo=dt.UTC)
    assert found.tolist() == [[minutes_of(day.replace(hour=19)), minutes_of(day + dt.timedelta(days=1, hours=3))]]


def test_always_and_nothing_said() -> None:
    first, last = YEAR[0], YEAR[0] + dt.timedelta(days=3)
    whole = available_stretches(_station("Asia/Tokyo", "always"), first, last)
    assert whole.tolist() == [[minutes_of(first), minutes_of(last)]]
    excepted = (DateRange(dt.date(2027, 1, 2), dt.date(2027, 1, 2)),)
    away = available_stretches(_station("Asia/Tokyo", "always", excepted), first, last)
    assert int((away[:, 1] - away[:, 0]).sum()) == 2 * 1440
    assumed = available_stretches(_station("Asia/Tokyo", None), first, last)
    assert int((assumed[:, 1] - assumed[:, 0]).sum()) == 3 * (16 * 60 + 30)


def test_no_zone_goes_by_the_sun() -> None:
    """At 100 degrees east the mean Sun runs 6 h 40 min before Greenwich (four minutes a degree)."""
    station = _station(None, None)
    found = available_stretches(station, YEAR[0], YEAR[0] + dt.timedelta(days=1))
    edges = [(EPOCH + MINUTE * int(edge)).strftime("%H:%M") for edge in found.ravel()]
    assert edges == ["00:20", "16:50"]
    assert hours_assumed(station) == HoursAssumed(station.call, hours=True, zone=True)
    there = hours_assumed(_station("Asia/Tokyo", None))
    assert there == HoursAssumed(station.call, hours=True, zone=False)
    assert note_words(there) == f"{station.call} names no hours: 07:00 to 23:30 local time are assumed."
    assert hours_assumed(_station(None, "always")) is None is hours_assumed(demo_inputs().home)


@pytest.mark.parametrize("zone", ["America/Montevideo", "Europe/Oslo", "Australia/Lord_Howe"])
@pytest.mark.parametrize("latest", [dt.time(21), dt.time(0), dt.time(1, 30), dt.time(6), dt.time(9)])
def test_late_hours_by_the_wall_clock(zone: str, latest: dt.time) -> None:
    """Every minute of the weeks in which clocks change: from the latest hour to six before Monday to Friday.

    By the wall clock alone, whatever night a minute belongs to; in an hour that comes twice the later counts as late.
    """
    info = ZoneInfo(zone)
    for first in (dt.datetime(2027, 3, 26, 12, tzinfo=dt.UTC), dt.datetime(2027, 10, 1, 12, tzinfo=dt.UTC)):
        minutes = np.arange(minutes_of(first), minutes_of(first) + 7 * 1440)
        found = inside(late_stretches(latest, info, first, first + dt.timedelta(days=7)), minutes)
        for minute, late in zip(minutes.tolist(), found.tolist(), strict=True):
            wall = (EPOCH + MINUTE * minute).astimezone(info)
            early = wall.time() < dt.time(6)
            morning = wall.date() if early else wall.date() + dt.timedelta(days=1)
            by_evening = latest > dt.time(12) and wall.time() >= latest
            by_morning = early and (latest > dt.time(12) or wall.time() >= latest)
            assert late == (morning.weekday() < 5 and (by_evening or by_morning)), (wall, latest)


def test_late_hours_of_a_week() -> None:
    """1 March 2027 is a Monday: Friday and Saturday evening are free, Sunday's is not."""
    zone = ZoneInfo("America/Montevideo")
    edges = [dt.datetime(2027, 3, day, 12, tzinfo=zone).astimezone(dt.UTC) for day in (5, 9)]
    for latest, expected in (
        (dt.time(23), [["04 23:00", "05 06:00"], ["07 23:00", "08 06:00"], ["08 23:00", "09 06:00"]]),
        (dt.time(1), [["05 01:00", "05 06:00"], ["08 01:00", "08 06:00"], ["09 01:00", "09 06:00"]]),
    ):
        found = late_stretches(latest, zone, *edges)
        local = [[f"{(EPOCH + MINUTE * int(m)).astimezone(zone):%d %H:%M}" for m in row] for row in found]
        assert [row for row in expected if row not in local] == []
        weekdays = {dt.datetime.strptime(f"2027-03-{row[1][:2]}", "%Y-%m-%d").weekday() for row in local}
        assert weekdays <= {0, 1, 2, 3, 4}


pairs = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), max_size=6)


@given(pairs, pairs)
def test_sets_of_stretches(one: list[tuple[int, int]], other: list[tuple[int, int]]) -> None:
    """Against sets of minutes."""
    first, second = merge(one), merge(other)
    sets = [{m for start, end in pairs for m in range(start, end)} for pairs in (one, other)]
    axis = np.arange(62)
    assert set(axis[inside(first, axis)]) == sets[0]
    assert set(axis[inside(overlap(first, second), axis)]) == sets[0] & sets[1]
    assert set(axis[inside(subtract(first, second), axis)]) == sets[0] - sets[1]
