"""Nights against PyEphem: one passage of the Moon each, from lowest point to lowest point, with a date of its own.

The lowest and highest points are looked for again in altitudes of PyEphem (its own theory of the Moon, topocentric, no
refraction), minute by minute; the dates by the wall clock of the IANA database.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from functools import lru_cache
from itertools import pairwise
from zoneinfo import ZoneInfo

import ephem
import numpy as np
import pytest

from pipeline.ephemeris.sky import make_sky
from pipeline.ephemeris.tracks import make_sites, see_moon
from pipeline.windows.nights import Nights, NoNight, dates_of, joined, make_nights, nights_of
from pipeline.windows.scene import sites_of
from pipeline.windows.span import Span
from tests.conftest import Outside
from tests.plan.months import demo_inputs
from tests.windows.skies import sky_between, station

YEAR = (dt.date(2027, 1, 1), dt.date(2027, 12, 31))
# The zone with a 25-hour day in October, one with a change of half an hour, one without any, and one at the date line.
PLACES = {
    "34 S": (-34.9, -56.2, "America/Montevideo"),
    "50 N": (50.0, 8.0, "Europe/Berlin"),
    "69 N": (69.0, 19.0, "Europe/Oslo"),
    "half an hour": (-31.5, 159.1, "Australia/Lord_Howe"),
    "date line": (-36.9, 174.8, "Pacific/Auckland"),
}
seconds_of_ephem = 1.0
# Where the elevation bends least, two ephemerides agree less well on the instant of its extreme.
seconds_of_ephem_near_the_pole = 30.0


@lru_cache(maxsize=8)
def nights_at(latitude_deg: float, longitude_deg: float, zone: str, first: dt.date, last: dt.date) -> Nights:
    """Nights of a flat place."""
    span = Span(first, last, ZoneInfo(zone))
    sky = make_sky(*span.sky_edges)
    return make_nights(span, sky, make_sites(sky, latitude_deg, longitude_deg, 0.0))


def year_at(name: str) -> Nights:
    return nights_at(*PLACES[name], *YEAR)


def ephem_altitude_deg(latitude_deg: float, longitude_deg: float, moment: dt.datetime) -> float:
    """Geometric altitude of the Moon's centre by PyEphem."""
    place = ephem.Observer()
    place.lat, place.lon = str(latitude_deg), str(longitude_deg)
    place.elevation, place.pressure = 0.0, 0
    place.date = ephem.Date(moment.replace(tzinfo=None))
    return float(np.degrees(ephem.Moon(place).alt))


def seconds_off(latitude_deg: float, longitude_deg: float, moment: dt.datetime, sign: int) -> float:
    """How far PyEphem's highest (`sign` 1) or lowest (-1) altitude within three hours lies from an instant."""
    minutes = np.arange(-180, 181, 2)
    seen = [ephem_altitude_deg(latitude_deg, longitude_deg, moment + dt.timedelta(minutes=int(m))) for m in minutes]
    altitude = sign * np.array(seen)
    top = int(np.argmax(altitude))
    assert 15 < top < len(minutes) - 15, "an extreme, not an end of what was looked at"
    near = slice(top - 10, top + 11)
    curve = np.polynomial.Polynomial.fit(minutes[near], altitude[near], 5)
    roots = [root.real for root in curve.deriv().roots() if abs(root.imag) < 1e-9 and abs(root.real - minutes[top]) < 3]
    assert len(roots) == 1
    return abs(roots[0]) * 60.0


@pytest.mark.parametrize("name", PLACES)
def test_lowest_and_highest_points_against_ephem(name: str, outside: Outside) -> None:
    nights = year_at(name)
    latitude, longitude, _ = PLACES[name]
    every = slice(3, None, 23)
    off = [seconds_off(latitude, longitude, edge, -1) for edge in nights.edges[every]]
    off += [seconds_off(latitude, longitude, top, 1) for top in nights.highest[every]]
    assert max(off) < seconds_of_ephem
    outside("PyEphem", len(off), f"{max(off):.1f} s", "lowest and highest points of the Moon")


def test_extremes_near_the_pole_against_ephem() -> None:
    """At 86 degrees north the declination moves the extreme by more than half an hour from the meridian."""
    nights = nights_at(86.0, 20.0, "Arctic/Longyearbyen", dt.date(2027, 3, 1), dt.date(2027, 3, 28))
    off = [seconds_off(86.0, 20.0, edge, -1) for edge in nights.edges[::4]]
    off += [seconds_off(86.0, 20.0, top, 1) for top in nights.highest[::4]]
    assert max(off) < seconds_of_ephem_near_the_pole


@pytest.mark.parametrize("name", PLACES)
def test_nights_of_a_year_follow_each_other(name: str) -> None:
    """No gap, each highest point between its edges, each about a lunar day (24.84 h in the mean, from memory)."""
    nights = year_at(name)
    assert len(nights.edges) == len(nights.dates) + 1 == len(nights.highest) + 1
    for begin, top, end in zip(nights.edges, nights.highest, nights.edges[1:], strict=False):
        assert begin < top < end
        assert dt.timedelta(hours=24) < end - begin < dt.timedelta(hours=26)
    mean_h = (nights.end - nights.start).total_seconds() / 3600.0 / len(nights.dates)
    assert mean_h == pytest.approx(24.84, abs=0.01)


@pytest.mark.parametrize("name", PLACES)
def test_dates_of_a_year(name: str) -> None:
    """Each date once and in order; a date a lunation is left without (29.53 days, from memory): 12 or 13 a year."""
    nights = year_at(name)
    zone = ZoneInfo(PLACES[name][2])
    assert max(Counter(nights.dates).values()) == 1
    assert list(nights.dates) == sorted(nights.dates)
    assert nights.dates[0] >= YEAR[0]
    assert nights.dates[-1] <= YEAR[1]
    assert 365 - len(nights.dates) in (12, 13)
    gaps = [(after - before).days for before, after in pairwise(nights.dates)]
    assert set(gaps) <= {1, 2}
    for date, top in zip(nights.dates, nights.highest, strict=True):
        wall = top.astimezone(zone)
        assert date == (wall.date() if wall.hour >= 6 else wall.date() - dt.timedelta(days=1))


@pytest.mark.parametrize(
    ("highest_local", "date"),
    [("2027-03-28 05:59", "2027-03-27"), ("2027-03-28 06:00", "2027-03-28"), ("2027-03-28 23:59", "2027-03-28")],
)
def test_six_in_the_morning_parts_the_dates(highest_local: str, date: str) -> None:
    zone = ZoneInfo("America/Montevideo")
    instant = dt.datetime.fromisoformat(highest_local).replace(tzinfo=zone).astimezone(dt.UTC)
    assert dates_of([instant], zone) == [dt.date.fromisoformat(date)]


def test_a_day_of_25_hours_gives_no_date_twice() -> None:
    """Clocks go back on 2027 October 31 in Oslo (directive 2000/84/EC: the last Sunday of October at 01:00 UTC).

    Made-up passages 24 h 40 min apart, the shortest that occur: the two that stand highest from six to six of that day.
    """
    zone, step = ZoneInfo("Europe/Oslo"), dt.timedelta(hours=24, minutes=40)
    second = dt.datetime(2027, 10, 31, 4, 50, tzinfo=dt.UTC)  # 05:50 winter time: of the 30th
    instants = [second - 2 * step, second - step, second, second + step]
    local = [instant.astimezone(zone) for instant in instants]
    assert [f"{one:%d %H:%M}" for one in local] == ["29 05:30", "30 06:10", "31 05:50", "01 06:30"]
    assert [date.isoformat() for date in dates_of(instants, zone)] == [
        "2027-10-28", "2027-10-29", "2027-10-30", "2027-11-01",
    ]  # fmt: skip
    # The date that the first of both takes was free; where nothing collides nothing moves.
    assert [date.day for date in dates_of(instants[:2], zone)] == [28, 30]


@pytest.mark.parametrize(("name", "most"), [("34 S", 0.01), ("50 N", 0.025), ("69 N", 0.12)])
def test_evenings_on_a_neighbour_s_date(name: str, most: float) -> None:
    """Of the minutes from 18:00 to midnight with the Moon up few lie in a night of another date.

    Measured: 0.3 % at 34 degrees south, 1.3 % at 50 north, 7.5 % at 69 north, where a Moon near its lowest is still up.
    """
    nights, (latitude, longitude, zone) = year_at(name), PLACES[name]
    sky = make_sky(nights.start, nights.end)
    times = np.arange(0.0, (nights.end - nights.start).total_seconds(), 600.0)
    home = make_sites(sky, latitude, longitude, 0.0).take(np.zeros(times.size, dtype=np.int64))
    up = see_moon(sky, home, times).elevation_deg > 0.0
    local = [(nights.start + dt.timedelta(seconds=s)).astimezone(ZoneInfo(zone)) for s in times.tolist()]
    place = nights.night_index(times, nights.start)
    other = np.array([nights.dates[p] != wall.date() for p, wall in zip(place, local, strict=True)])
    evening = up & np.array([wall.hour >= 18 for wall in local])
    assert 0.0 < other[evening].mean() < most


def test_which_night_an_instant_falls_in() -> None:
    """The lowest point itself opens the night; before the first -1, after the last the number of nights."""
    nights = nights_at(*PLACES["34 S"], dt.date(2027, 3, 5), dt.date(2027, 3, 7))
    edge = nights.edges_s(nights.start)
    times = [-0.1, edge[0], edge[1] - 0.1, edge[1], edge[2], edge[3] - 0.1, edge[3]]
    assert nights.night_index(times, nights.start).tolist() == [-1, 0, 0, 1, 2, 2, 3]
    assert nights.edges_of(dt.date(2027, 3, 6)) == nights.edges[1:3]
    with pytest.raises(ValueError, match="not in tuple"):
        nights.edges_of(dt.date(2027, 3, 8))


@pytest.mark.parametrize("name", PLACES)
def test_months_apart_hold_every_night_once(name: str) -> None:
    """The same nights, to a tenth of a second: every month starts from a sky of its own."""
    place, year = PLACES[name], year_at(name)
    months = [
        nights_at(*place, dt.date(2027, m, 1), dt.date(2027 + m // 12, m % 12 + 1, 1) - dt.timedelta(days=1))
        for m in range(1, 13)
    ]
    together = joined(year, months)
    assert together.dates == year.dates
    for mine, whole in ((together.edges, year.edges), (together.highest, year.highest)):
        assert len(mine) == len(whole)
        assert max(abs((a - b).total_seconds()) for a, b in zip(mine, whole, strict=True)) < 0.1
    for one, after in pairwise(months):
        assert abs((after.start - one.end).total_seconds()) < 0.1


@pytest.mark.parametrize("latitude_deg", [89.95, -89.95, 90.0])
def test_a_place_at_a_pole_has_nights(latitude_deg: float) -> None:
    """The elevation has no extreme a day there; the meridian parts the nights, no date twice, none skipped but one."""
    nights = nights_at(latitude_deg, 30.0, "UTC", dt.date(2027, 3, 1), dt.date(2027, 3, 31))
    assert len(nights.dates) == 30
    for begin, top, end in zip(nights.edges, nights.highest, nights.edges[1:], strict=False):
        assert begin < top < end


def test_a_date_without_a_night_is_refused_in_a_sentence() -> None:
    """The demo's Moon stands highest at 05:31 on 28 March and at 06:23 on the 29th."""
    inputs = demo_inputs()
    date = dt.date(2027, 3, 28)
    with pytest.raises(NoNight, match=r"^2027-03-28 has no night: .* plan 2027-03-27 or 2027-03-29$"):
        nights_of(inputs, Span(date, date, inputs.zone))
    assert nights_of(inputs, Span(date, date + dt.timedelta(days=1), inputs.zone)).dates == (dt.date(2027, 3, 29),)


def test_nights_of_inputs_are_home_s() -> None:
    inputs = demo_inputs()
    span = Span(dt.date(2027, 3, 1), dt.date(2027, 3, 31), inputs.zone)
    sky = sky_between(*span.sky_edges)
    assert nights_of(inputs, span) == make_nights(span, sky, sites_of(sky, [inputs.home]))
    assert station().call != inputs.home.call
