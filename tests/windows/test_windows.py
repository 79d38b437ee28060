"""Mutual windows at the edges of months and nights: each in one night, each once, with the rules that bound it."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from pipeline.inputs.model import Station
from pipeline.windows.moon_passes import LOWEST_POINT, PERIOD_EDGE, MoonPasses, split_at
from pipeline.windows.nights import Nights, NoNight, make_nights
from pipeline.windows.rules import HORIZON, MINIMUM_ELEVATION
from pipeline.windows.scene import sites_of
from pipeline.windows.span import Span
from pipeline.windows.windows import CUT_AT_LOWEST, Windows, mutual_windows
from tests.windows.skies import passes_between, station

edge_s = 0.2  # two runs halve different intervals, each edge to 0.1 s
DAY_S = 86400.0
OSLO, AUCKLAND, UTC = ZoneInfo("Europe/Oslo"), ZoneInfo("Pacific/Auckland"), ZoneInfo("UTC")

NORTH_1 = station("QA1", 70.0, 25.0, height_m=340.0)
NORTH_2 = station("QA2", 71.5, 51.0)
MIDDLE = station("QA3", 48.1, 11.6, horizon=[(0, 1.0), (120, 6.0), (240, 2.0)])
SOUTH = station("QA4", -41.3, 174.8, minimum_elevation_deg=5.0)
PAIRS = {"never sets": (NORTH_1, NORTH_2), "north and middle": (NORTH_1, MIDDLE), "antipodes": (MIDDLE, SOUTH)}

Row = tuple[dt.datetime, dt.datetime, str, str]


def windows_of(
    pair: tuple[Station, Station], first: dt.date, last: dt.date, zone: ZoneInfo
) -> tuple[Nights, list[Row]]:
    """Windows of a period as the plan computes them, as instants."""
    span = Span(first, last, zone)
    sky, passes = passes_between(*span.sky_edges, pair)
    nights = make_nights(span, sky, sites_of(sky, pair[:1]))
    home = split_at(passes[0], nights.edges_s(sky.start))
    found: Windows = mutual_windows(home, passes[1], (sky.seconds(nights.start), sky.seconds(nights.end)))
    rows = [
        (sky.start + dt.timedelta(seconds=float(start)), sky.start + dt.timedelta(seconds=float(end)), opens, closes)
        for start, end, opens, closes in zip(found.start_s, found.end_s, found.opens_by, found.closes_by, strict=True)
    ]
    return nights, rows


def night_by_night(
    pair: tuple[Station, Station], dates: list[dt.date], zone: ZoneInfo
) -> tuple[list[dt.date], list[Row]]:
    """Each date planned alone: the nights found and their windows; a date may have no night."""
    nights: list[dt.date] = []
    rows: list[Row] = []
    for date in dates:
        try:
            period, found = windows_of(pair, date, date, zone)
        except NoNight:
            continue
        nights.extend(period.dates)
        rows.extend(found)
    return nights, rows


def assert_same(mine: list[Row], whole: list[Row]) -> None:
    """The same windows to 0.2 s, with the same rules."""
    assert len(mine) == len(whole)
    for one, other in zip(mine, whole, strict=True):
        assert abs((one[0] - other[0]).total_seconds()) < edge_s
        assert abs((one[1] - other[1]).total_seconds()) < edge_s
        assert one[2:] == other[2:]


@pytest.mark.parametrize("pair", PAIRS.values(), ids=PAIRS.keys())
@pytest.mark.parametrize("zone", [OSLO, AUCKLAND], ids=str)
def test_two_months_hold_every_window_once(pair: tuple[Station, Station], zone: ZoneInfo) -> None:
    """June and July 2027: the Moon stands far north at both ends of July and never sets at 70 degrees north."""
    _, june = windows_of(pair, dt.date(2027, 6, 1), dt.date(2027, 6, 30), zone)
    _, july = windows_of(pair, dt.date(2027, 7, 1), dt.date(2027, 7, 31), zone)
    _, both = windows_of(pair, dt.date(2027, 6, 1), dt.date(2027, 7, 31), zone)
    assert_same(june + july, both)


def test_a_moon_that_never_sets_is_parted_at_its_lowest_points_and_says_so() -> None:
    period, rows = windows_of(PAIRS["never sets"], dt.date(2027, 6, 1), dt.date(2027, 7, 31), OSLO)
    cuts = [(one, after) for one, after in pairwise(rows) if one[1] == after[0]]
    assert len(cuts) > 6
    for one, after in cuts:
        assert one[3] == after[2] == CUT_AT_LOWEST
        assert one[1] in period.edges
    # Nowhere else, and no window is longer than a night.
    at = [edge for row in rows for edge, rule in ((row[0], row[2]), (row[1], row[3])) if rule == CUT_AT_LOWEST]
    assert sorted(at) == sorted([one[1] for one, _ in cuts] * 2 + [e for e in at if e in (period.start, period.end)])
    assert max(end - start for start, end, *_ in rows) < dt.timedelta(hours=26)


@pytest.mark.parametrize("pair", PAIRS.values(), ids=PAIRS.keys())
def test_every_window_lies_in_one_night(pair: tuple[Station, Station]) -> None:
    period, rows = windows_of(pair, dt.date(2027, 6, 1), dt.date(2027, 7, 31), AUCKLAND)
    assert len(rows) > 20
    for start, end, opens, closes in rows:
        begin, after = ((moment - period.start).total_seconds() for moment in (start, end))
        place = int(period.night_index(begin, period.start))
        assert period.edges[place] <= start < end <= period.edges[place + 1]
        assert int(period.night_index(after - 0.001, period.start)) == place
        assert (opens == CUT_AT_LOWEST) == (start == period.edges[place])
        assert (closes == CUT_AT_LOWEST) == (end == period.edges[place + 1])


def test_a_moon_that_sets_is_cut_nowhere() -> None:
    """In middle latitudes also where a window runs over local noon or midnight."""
    period, rows = windows_of((MIDDLE, station("QA5", 41.7, -72.7)), dt.date(2027, 3, 1), dt.date(2027, 3, 31), UTC)
    noons = [dt.datetime.combine(date, dt.time(12), tzinfo=dt.UTC) for date in period.dates]
    assert sum(any(start < noon < end for noon in noons) for start, end, *_ in rows) >= 3
    assert not [row for row in rows if CUT_AT_LOWEST in row[2:]]
    assert all(end - start < dt.timedelta(hours=13) for start, end, *_ in rows)


@pytest.mark.parametrize("latitude_deg", [70.0, 72.0, 74.0])
@pytest.mark.parametrize("zone", [UTC, AUCKLAND], ids=str)
def test_nights_planned_one_by_one_hold_a_moon_that_never_sets_once(latitude_deg: float, zone: ZoneInfo) -> None:
    """In New Zealand clocks go forward on 2027 September 26 while the Moon stays up."""
    dates = [dt.date(2027, 9, 15) + dt.timedelta(days=day) for day in range(14)]
    pair = (station("QA1", latitude_deg, 25.0), station("QA2", latitude_deg, 51.0))
    nights, singly = night_by_night(pair, dates, zone)
    period, both = windows_of(pair, dates[0], dates[-1], zone)
    assert nights == list(period.dates)
    assert_same(singly, both)


def test_passes_are_parted_where_they_are_crossed_and_nowhere_else() -> None:
    """Three passes and four lowest points: one crossed twice, one touched at its end, one not at all."""
    passes = MoonPasses(
        np.array([5.0, 50.0, 70.0]),
        np.array([35.0, 60.0, 80.0]),
        np.array([HORIZON, MINIMUM_ELEVATION, PERIOD_EDGE]),
        np.array([MINIMUM_ELEVATION, HORIZON, HORIZON]),
    )
    parted = split_at(passes, np.array([10.0, 30.0, 60.0, 65.0]))
    assert parted.start_s.tolist() == [5.0, 10.0, 30.0, 50.0, 70.0]
    assert parted.end_s.tolist() == [10.0, 30.0, 35.0, 60.0, 80.0]
    low = LOWEST_POINT
    assert parted.opened_by.tolist() == [HORIZON, low, low, MINIMUM_ELEVATION, PERIOD_EDGE]
    assert parted.closed_by.tolist() == [low, low, MINIMUM_ELEVATION, HORIZON, HORIZON]


def test_two_windows_a_day() -> None:
    """On far sides of the pole a northern Moon is low for both twice a day: rising here, setting there, and back."""
    place, opposite = station("QA6", 60.0, 10.0), station("QA7", 58.0, -168.0)
    period, rows = windows_of((place, opposite), dt.date(2027, 3, 1), dt.date(2027, 3, 31), UTC)
    seconds = [(row[0] - period.start).total_seconds() for row in rows]
    per_night = np.bincount(period.night_index(seconds, period.start))
    assert per_night.max() == 2
    assert (per_night == 2).sum() > 8


def test_what_opens_and_closes() -> None:
    """A wall in the east at home, a minimum at the partner next door: the higher one opens, the higher one closes."""
    home = station("QA1", 48.0, 11.0, horizon=[(0, 15.0), (179, 15.0), (181, 1.0), (359, 1.0)])
    partner = station("QA2", 48.0, 11.3, minimum_elevation_deg=8.0)
    _, rows = windows_of((home, partner), dt.date(2027, 3, 10), dt.date(2027, 3, 16), UTC)
    assert {row[2] for row in rows} == {"home horizon"}
    assert {row[3] for row in rows} == {"partner minimum elevation"}


def test_mount_rules_are_named() -> None:
    """The Moon culminates near 70 degrees: the mount loses it there, and a stop in the west ends the pass."""
    home = station("QA1", 48.0, 11.0, maximum_elevation_deg=60.0, stops=(0.0, 270.0))
    _, rows = windows_of((home, station("QA2", 48.0, 11.0)), dt.date(2027, 3, 13), dt.date(2027, 3, 15), UTC)
    assert {"home mount elevation", "home mount azimuth"} <= {row[3] for row in rows}
    assert "home mount elevation" in {row[2] for row in rows}


def test_the_later_opening_and_the_earlier_closing_count() -> None:
    home = MoonPasses(
        np.array([0.0, 2 * DAY_S]),
        np.array([40_000.0, 2 * DAY_S + 5.0]),
        np.array([PERIOD_EDGE, HORIZON]),
        np.array([HORIZON, MINIMUM_ELEVATION]),
    )
    partner = MoonPasses(
        np.array([10_000.0]), np.array([3 * DAY_S]), np.array([MINIMUM_ELEVATION]), np.array([PERIOD_EDGE])
    )
    found = mutual_windows(home, partner, (0.0, 10 * DAY_S))
    assert found.start_s.tolist() == [10_000.0, 2 * DAY_S]
    assert found.end_s.tolist() == [40_000.0, 2 * DAY_S + 5.0]
    assert found.opens_by == ("partner minimum elevation", "home horizon")
    assert found.closes_by == ("home horizon", "home minimum elevation")
