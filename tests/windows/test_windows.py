"""Mutual windows at the edges of months and nights: each whole, each once, each with the rules that bound it."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from pipeline.inputs.model import Station
from pipeline.windows.moon_passes import PERIOD_EDGE, MoonPasses
from pipeline.windows.rules import HORIZON, MINIMUM_ELEVATION
from pipeline.windows.span import MARGIN, Span
from pipeline.windows.windows import CUT_BY_PERIOD, Windows, mutual_windows
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


def windows_of(pair: tuple[Station, Station], first: dt.date, last: dt.date, zone: ZoneInfo) -> tuple[Span, list[Row]]:
    """Windows of a period as the plan computes them, as instants."""
    period = Span(first, last, zone)
    sky, passes = passes_between(period.start - MARGIN, period.end + MARGIN, pair)
    found: Windows = mutual_windows(passes[0], passes[1], (sky.seconds(period.start), sky.seconds(period.end)))
    rows = [
        (sky.start + dt.timedelta(seconds=float(start)), sky.start + dt.timedelta(seconds=float(end)), opens, closes)
        for start, end, opens, closes in zip(found.start_s, found.end_s, found.opens_by, found.closes_by, strict=True)
    ]
    return period, rows


def joined_at_month_edges(rows: list[Row]) -> list[Row]:
    """What one month cut and the next goes on with, as one."""
    whole: list[Row] = []
    for row in sorted(rows):
        if row[2] == CUT_BY_PERIOD and whole and whole[-1][3] == CUT_BY_PERIOD and whole[-1][1] == row[0]:
            row = (whole.pop()[0], row[1], row[2], row[3])
        whole.append(row)
    return whole


@pytest.mark.parametrize("pair", PAIRS.values(), ids=PAIRS.keys())
@pytest.mark.parametrize("zone", [OSLO, AUCKLAND], ids=str)
def test_two_months_hold_every_window_once(pair: tuple[Station, Station], zone: ZoneInfo) -> None:
    """June and July 2027: the Moon stands far north at both ends of July and never sets at 70 degrees north."""
    _, june = windows_of(pair, dt.date(2027, 6, 1), dt.date(2027, 6, 30), zone)
    _, july = windows_of(pair, dt.date(2027, 7, 1), dt.date(2027, 7, 31), zone)
    _, both = windows_of(pair, dt.date(2027, 6, 1), dt.date(2027, 7, 31), zone)
    together = joined_at_month_edges(june + july)
    assert len(together) == len(both)
    for mine, whole in zip(together, both, strict=True):
        assert abs((mine[0] - whole[0]).total_seconds()) < edge_s
        assert abs((mine[1] - whole[1]).total_seconds()) < edge_s
        assert (mine[3]) == (whole[3])


def test_a_moon_that_never_sets_is_cut_at_the_month_and_says_so() -> None:
    period, june = windows_of(PAIRS["never sets"], dt.date(2027, 6, 1), dt.date(2027, 6, 30), OSLO)
    _, july = windows_of(PAIRS["never sets"], dt.date(2027, 7, 1), dt.date(2027, 7, 31), OSLO)
    assert june[-1][3] == july[0][2] == CUT_BY_PERIOD
    assert june[-1][1] == july[0][0] == period.end
    assert max(end - start for start, end, *_ in june + july) > dt.timedelta(days=3)


@pytest.mark.parametrize("latitude_deg", [70.0, 72.0, 74.0])
@pytest.mark.parametrize("zone", [UTC, AUCKLAND], ids=str)
def test_nights_planned_one_by_one_hold_a_moon_that_never_sets_once(latitude_deg: float, zone: ZoneInfo) -> None:
    """In New Zealand clocks go forward on 2027 September 26, and a night has 23 hours while the stretch goes on."""
    nights = [dt.date(2027, 9, 15) + dt.timedelta(days=day) for day in range(14)]
    pair = (station("QA1", latitude_deg, 25.0), station("QA2", latitude_deg, 51.0))
    singly = [row for night in nights for row in windows_of(pair, night, night, zone)[1]]
    _, both = windows_of(pair, nights[0], nights[-1], zone)
    together = joined_at_month_edges(singly)
    assert len(together) == len(both)
    for mine, whole in zip(together, both, strict=True):
        assert abs((mine[0] - whole[0]).total_seconds()) < edge_s
        assert abs((mine[1] - whole[1]).total_seconds()) < edge_s


def test_windows_across_noon_stay_whole_and_belong_to_the_night_they_start_in() -> None:
    period, rows = windows_of((MIDDLE, station("QA5", 41.7, -72.7)), dt.date(2027, 3, 1), dt.date(2027, 3, 31), UTC)
    noons = period.noons
    across = [row for row in rows if any(row[0] < noon < row[1] for noon in noons)]
    assert len(across) >= 3
    origin = period.start
    for start, end, opens, closes in rows:
        assert "month" not in (opens, closes)
        assert end - start < dt.timedelta(hours=13)
        night = period.dates[int(period.night_index((start - origin).total_seconds(), origin))]
        local = start.astimezone(period.zone)
        assert night == (local.date() if local.hour >= 12 else local.date() - dt.timedelta(days=1))
    # Across the last noon too: whole, and of the last night.
    assert all(row[0] < period.end for row in rows)


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
