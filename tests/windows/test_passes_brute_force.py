"""Passes and mutual windows against brute force: the rules written out plainly, asked every second."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.inputs.model import Station
from pipeline.windows.moon_passes import EDGE_S, Look, MoonPasses, find_passes, look_at_moon, overlaps
from pipeline.windows.rules import make_rules
from tests.conftest import Outside
from tests.windows.skies import (
    invented_pass,
    invented_wobble,
    open_on_grid,
    sites_of,
    sky_between,
    station,
    stretches,
    utc,
)

one_second = 1.0
shortest_s = 2.0  # the shortest stretch that must never be missed


@st.composite
def skylines(draw: st.DrawFn) -> list[tuple[float, float]]:
    """None, gentle or jagged: points anywhere, some hundredths of a degree apart, so that walls are nearly upright."""
    azimuths = draw(st.lists(st.floats(0.0, 359.9), max_size=12, unique=True))
    walls = draw(st.booleans())
    points = {round(azimuth, 2): draw(st.floats(-3.0, 40.0)) for azimuth in azimuths}
    if walls:
        points |= {round(azimuth + 0.01, 2): draw(st.floats(-3.0, 40.0)) for azimuth in list(points)}
    return sorted((azimuth, elevation) for azimuth, elevation in points.items() if azimuth < 360.0)


@st.composite
def stations(draw: st.DrawFn, call: str = "QA1") -> Station:
    """Any rules: skyline, minimum elevation, mount that stops short of the zenith or of part of the round."""
    # To a thousandth of a degree: nearer than that a stop and the Moon differ by rounding alone.
    stop = st.floats(0.0, 360.0).map(lambda angle: round(angle, 3))
    stops = draw(st.none() | st.tuples(stop, stop))
    return station(
        call,
        draw(st.floats(-90.0, 90.0)),
        draw(st.floats(-180.0, 180.0)),
        height_m=draw(st.floats(-400.0, 5000.0)),
        minimum_elevation_deg=draw(st.sampled_from([0.0, 0.0, 3.0, 10.0]) | st.floats(0.0, 60.0)),
        horizon=draw(skylines()),
        maximum_elevation_deg=draw(st.sampled_from([90.0, 90.0, 85.0, 180.0]) | st.floats(30.0, 90.0)),
        stops=stops if stops and abs(stops[0] - stops[1]) > 1e-3 else None,
    )


def compare(passes: MoonPasses, time_s: np.ndarray, fine: np.ndarray) -> float:
    """Every stretch of two seconds is found, its edges within a second, and nothing else is; returns the worst edge."""
    worst = 0.0
    for first, last in stretches(fine):
        if time_s[last] - time_s[first] < shortest_s:
            continue
        mine = (passes.end_s > time_s[first]) & (passes.start_s < time_s[last])
        start, end = passes.start_s[mine], passes.end_s[mine]
        assert start.size, f"missed: {time_s[first]} to {time_s[last]}"
        # The rule changes between two seconds of the grid: 0 to 1 s before the first, 0 to 1 s after the last.
        assert -one_second - EDGE_S <= start[0] - time_s[first] <= EDGE_S
        assert -EDGE_S <= end[-1] - time_s[last] <= one_second + EDGE_S
        # A gap that no second of the grid saw.
        assert (start[1:] - end[:-1] <= one_second).all()
        worst = max(worst, start[0] - time_s[first], time_s[last] - end[-1], 0.0)
    # Nothing extra: well inside a pass, every second of the grid is open.
    held = np.zeros(time_s.size, dtype=bool)
    for start, end in zip(passes.start_s, passes.end_s, strict=True):
        held |= (time_s >= start + EDGE_S) & (time_s <= end - EDGE_S)
    assert fine[held].all()
    return float(worst)


def compare_everything(look: Look, both: tuple[Station, Station], duration_s: float) -> tuple[int, float]:
    """Both stations' passes and their mutual windows against the grid; how many were compared and the worst edge."""
    rules = make_rules(both)
    passes = find_passes(look, rules, 2, 0.0, duration_s)
    time = np.arange(0.0, duration_s + 0.5)
    fine, worst, count = [], 0.0, 0
    for index, one in enumerate(both):
        azimuth, elevation = look(np.full(time.size, index), time)
        here, _ = open_on_grid(one, azimuth, elevation)
        fine.append(here)
        worst = max(worst, compare(passes[index], time, here))
        count += passes[index].start_s.size
        _middles_are_open(one, index, look, passes[index])
    shared = overlaps(passes[0], passes[1:])
    start, end = shared.start_s, shared.end_s
    unused = np.zeros(start.size, dtype=np.int64)
    worst = max(worst, compare(MoonPasses(start, end, unused, unused), time, fine[0] & fine[1]))
    return count + start.size, worst


def _middles_are_open(one: Station, index: int, look: Look, passes: MoonPasses) -> None:
    """Also a pass too short for the grid is a real one."""
    middle = (passes.start_s + passes.end_s) / 2
    azimuth, elevation = look(np.full(middle.size, index), middle)
    # The finder decides in steps of 0.1 s, in which the Moon moves 0.0005 degree: room for a touch.
    step = station(
        one.call,
        minimum_elevation_deg=max(one.minimum_elevation_deg - 0.001, 0.0),
        horizon=[(point.azimuth_deg, point.elevation_deg - 0.001) for point in one.horizon] or [(0.0, -0.001)],
        maximum_elevation_deg=min(one.mount.maximum_elevation_deg + 0.001, 180.0),
        stops=None,
    )
    long_enough = passes.end_s - passes.start_s > EDGE_S
    assert open_on_grid(step, azimuth, elevation)[0][long_enough].all()


@settings(max_examples=40)
@given(
    both=st.tuples(stations("QA1"), stations("QA2")),
    latitude=st.floats(-90.0, 90.0),
    above=st.sampled_from([0.0, 0.01, 0.3, 3.0]) | st.floats(-60.0, 60.0),
    start=st.floats(-180.0, 180.0),
    drift=st.floats(-0.3, 0.3),
)
def test_circling_moon(
    both: tuple[Station, Station], latitude: float, above: float, start: float, drift: float
) -> None:
    """A whole turn, high passes near the zenith included (declination next to the latitude)."""
    declination = float(np.clip(latitude + above, -89.0, 89.0))
    compare_everything(invented_pass(latitude, declination, start, drift), both, 8 * 3600.0)


@settings(max_examples=40)
@given(
    both=st.tuples(stations("QA1"), stations("QA2")),
    azimuth=st.floats(0.0, 360.0),
    elevation=st.floats(0.0, 45.0),
    turn=st.floats(-1.0, 1.0),
    rise=st.floats(-0.3, 0.3),
    beat=st.floats(15.0, 900.0),
    phase=st.floats(0.0, 6.28),
)
def test_trembling_moon(
    both: tuple[Station, Station],
    azimuth: float,
    elevation: float,
    turn: float,
    rise: float,
    beat: float,
    phase: float,
) -> None:
    """Touches of a few seconds, dozens an hour."""
    compare_everything(invented_wobble(azimuth, elevation, turn, rise, beat, phase), both, 7200.0)


@settings(max_examples=10)
@given(
    both=st.tuples(stations("QA1"), stations("QA2")),
    day=st.integers(0, 330),
    hours=st.integers(6, 36),
    refraction=st.booleans(),
)
def test_real_moon(both: tuple[Station, Station], day: int, hours: int, refraction: bool) -> None:
    """A day and a half at most of the real Moon at any two places."""
    begin = utc(2027, 1, 1) + dt.timedelta(days=day)
    sky = sky_between(begin, begin + dt.timedelta(hours=hours))
    compare_everything(look_at_moon(sky, sites_of(sky, both), refraction), both, sky.duration_s)


SHARP = [
    # Walls 0.01 degree wide, a gap of 0.4 degree to look through, and a spire.
    [(100.0, 30.0), (150.0, 30.0), (150.01, 5.0), (150.4, 5.0), (150.41, 30.0), (200.0, 30.0)],
    [(0.0, 2.0), (179.9, 2.0), (180.0, 35.0), (180.1, 2.0), (359.0, 20.0), (359.99, 2.0)],
]


@pytest.mark.parametrize("horizon", SHARP)
@pytest.mark.parametrize("latitude_deg", [-35.0, 24.0, 48.0, 70.0, 90.0])
def test_sharp_skylines(horizon: list[tuple[float, float]], latitude_deg: float, outside: Outside) -> None:
    both = (
        station("QA1", latitude_deg, 11.0, horizon=horizon, minimum_elevation_deg=4.0),
        station("QA2", -latitude_deg / 2, 20.0, horizon=horizon, stops=(200.0, 160.0), maximum_elevation_deg=75.0),
    )
    sky = sky_between(utc(2027, 3, 14), utc(2027, 3, 16))
    count, worst = compare_everything(look_at_moon(sky, sites_of(sky, both), True), both, sky.duration_s)
    outside("brute force on one-second grids", count, f"{worst:.2g} s beyond the grid", "passes and windows")


def test_a_pass_of_seconds_is_found() -> None:
    """A gap in the skyline that the Moon crosses in about five seconds."""
    slit = [(0.0, 80.0), (180.0, 80.0), (180.005, 0.0), (180.025, 0.0), (180.03, 80.0)]
    one = station("QA1", 48.0, 11.0, horizon=slit)
    sky = sky_between(utc(2027, 3, 14), utc(2027, 3, 17))
    passes = find_passes(look_at_moon(sky, sites_of(sky, [one]), True), make_rules([one]), 1, 0.0, sky.duration_s)[0]
    assert passes.start_s.size == 3
    assert ((passes.end_s - passes.start_s > 2.0) & (passes.end_s - passes.start_s < 10.0)).all()


def test_a_spire_hides_the_moon_for_seconds() -> None:
    """A mast 0.01 degree wide in the south: the Moon is behind it for two or three seconds; the pass falls in two."""
    mast = [(0.0, 1.0), (179.99, 1.0), (179.995, 89.0), (180.005, 89.0), (180.01, 1.0), (359.0, 1.0)]
    one = station("QA1", 48.0, 11.0, horizon=mast)
    sky = sky_between(utc(2027, 3, 24), utc(2027, 3, 27))
    passes = find_passes(look_at_moon(sky, sites_of(sky, [one]), True), make_rules([one]), 1, 0.0, sky.duration_s)[0]
    gaps = passes.start_s[1:] - passes.end_s[:-1]
    short = gaps[gaps < 600.0]
    assert short.size == 3
    assert ((short > 1.5) & (short < 6.0)).all()


def test_the_zenith_is_within_reach_of_a_plain_mount() -> None:
    """Refraction lifts a Moon in the zenith to 90.003 degrees, which is no break in the pass."""

    def overhead(owner: np.ndarray, time_s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        elevation = 90.0 - 0.004 * np.abs(time_s - 1800.0) + 0.0 * owner
        return np.where(time_s < 1800.0, 90.0, 270.0) + 0.0 * owner, elevation + 0.003

    passes = find_passes(overhead, make_rules([station()]), 1, 0.0, 3600.0)[0]
    assert passes.start_s.size == 1
