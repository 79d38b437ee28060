"""Rules and their bounds: the mask between its points and through north, mount stops, and what an arc can hold."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ephemeris.tracks import see_moon
from pipeline.windows.rules import (
    FASTEST_MOON_DEG_PER_S,
    HORIZON,
    MINIMUM_ELEVATION,
    MOUNT_AZIMUTH,
    MOUNT_ELEVATION,
    make_rules,
)
from pipeline.windows.scene import sites_of
from tests.windows.skies import passes_between, sky_between, station, utc


def test_mask_is_straight_between_points_and_through_north() -> None:
    rules = make_rules([station("QA1"), station("QA2", horizon=[(350, 4.0), (90, 8.0), (200, 1.0)])])
    azimuth = np.array([350.0, 20.0, 360.0, 0.0, 90.0, 145.0, 719.0])
    # 350 to 90 is 100 degrees for 4 degrees of rise.
    expected = [4.0, 5.2, 4.4, 4.4, 8.0, 4.5, 4.36]
    np.testing.assert_allclose(rules.mask(np.ones(7, dtype=np.int64), azimuth), expected)
    assert (rules.mask(np.zeros(7, dtype=np.int64), azimuth) == 0.0).all()


def test_one_point_is_a_level_skyline() -> None:
    rules = make_rules([station(horizon=[(123.0, 7.0)])])
    np.testing.assert_array_equal(rules.mask(np.zeros(3, dtype=np.int64), np.array([0.0, 123.0, 359.9])), 7.0)


@pytest.mark.parametrize(
    ("stops", "azimuth_deg", "into_deg"),
    [
        ((200.0, 160.0), 200.0, 0.0),  # clockwise through north: all but 160 to 200
        ((200.0, 160.0), 180.0, -20.0),
        ((200.0, 160.0), 350.0, 150.0),
        ((10.0, 300.0), 350.0, -20.0),
        ((10.0, 300.0), 5.0, -5.0),
        ((350.0, 20.0), 0.0, 10.0),
    ],
)
def test_mount_stops(stops: tuple[float, float], azimuth_deg: float, into_deg: float) -> None:
    rules = make_rules([station(stops=stops)])
    owner = np.zeros(1, dtype=np.int64)
    clear = rules.clearances(owner, np.array([azimuth_deg]), np.array([30.0]))
    assert clear[MOUNT_AZIMUTH, 0] == pytest.approx(into_deg)


def test_clearances_in_degrees() -> None:
    one = station(minimum_elevation_deg=5.0, horizon=[(0.0, 2.0)], maximum_elevation_deg=80.0)
    clear = make_rules([one]).clearances(np.zeros(1, dtype=np.int64), np.array([0.0]), np.array([6.0]))[:, 0]
    assert clear[HORIZON] == pytest.approx(4.0)
    assert clear[MINIMUM_ELEVATION] == pytest.approx(1.0)
    assert clear[MOUNT_ELEVATION] == pytest.approx(74.0)
    assert clear[MOUNT_AZIMUTH] > 360.0
    skyline_only = make_rules([one], horizon_only=True)
    assert np.argmin(skyline_only.clearances(np.zeros(1, dtype=np.int64), np.zeros(1), np.array([1.0]))) == HORIZON


@settings(max_examples=200)
@given(
    points=st.lists(st.tuples(st.integers(0, 35999), st.floats(-5.0, 60.0)), max_size=9, unique_by=lambda p: p[0]),
    stops=st.none() | st.tuples(st.integers(0, 360), st.integers(0, 360)),
    azimuth=st.floats(0.0, 359.99),
    elevation=st.floats(-20.0, 89.99),
    half_s=st.sampled_from([0.1, 4.0, 60.0, 480.0, 1800.0]),
    seed=st.integers(0, 2**31),
)
def test_bounds_hold_everywhere_within_reach(
    points: list[tuple[int, float]],
    stops: tuple[int, int] | None,
    azimuth: float,
    elevation: float,
    half_s: float,
    seed: int,
) -> None:
    """Any place that the Moon can come to in the time has a clearance between the bounds; asked at random places."""
    one = station(
        horizon=[(a / 100.0, e) for a, e in points],
        minimum_elevation_deg=4.0,
        maximum_elevation_deg=70.0,
        stops=stops if stops and stops[0] % 360 != stops[1] % 360 else None,
    )
    rules = make_rules([station("QA0", horizon=[(0.0, 60.0)]), one, station("QA2", horizon=[(359.0, -5.0)])])
    owner = np.ones(1, dtype=np.int64)
    low, high = rules.bounds(owner, np.array([azimuth]), np.array([elevation]), half_s)
    random = np.random.default_rng(seed)
    # A random distance and direction on the sphere from the place.
    away = np.radians(FASTEST_MOON_DEG_PER_S * half_s * np.sqrt(random.uniform(0.0, 1.0, 200)))
    turn = random.uniform(0.0, 2 * np.pi, 200)
    tilt = np.radians(elevation)
    sine = np.sin(tilt) * np.cos(away) + np.cos(tilt) * np.sin(away) * np.cos(turn)
    around = np.arctan2(np.sin(turn) * np.sin(away) * np.cos(tilt), np.cos(away) - np.sin(tilt) * sine)
    azimuths = (azimuth + np.degrees(around)) % 360.0
    clear = rules.clearances(np.ones(200, dtype=np.int64), azimuths, np.degrees(np.arcsin(sine))).min(axis=0)
    assert (clear >= low[0] - 1e-9).all()
    assert (clear <= high[0] + 1e-9).all()


def test_the_moon_keeps_within_its_pace() -> None:
    """Over two months, from the pole to the equator: what the search for passes rests on."""
    sky = sky_between(utc(2027, 6, 1), utc(2027, 8, 1))
    stations = [station(f"QA{i}", latitude, 10.0) for i, latitude in enumerate((-90.0, -45.0, -20.0, 0.0, 27.0, 60.0))]
    time = np.arange(0.0, sky.duration_s, 120.0)
    seen = see_moon(sky, sites_of(sky, stations).against_times(), time)
    azimuth, elevation = np.radians(seen.azimuth_deg), np.radians(seen.elevation_deg)
    unit = np.stack([np.cos(elevation) * np.cos(azimuth), np.cos(elevation) * np.sin(azimuth), np.sin(elevation)])
    pace = np.degrees(np.linalg.norm(np.diff(unit, axis=-1), axis=0)) / 120.0
    assert pace.max() < FASTEST_MOON_DEG_PER_S
    # And the margin is no waste: within a tenth of it.
    assert pace.max() > 0.9 * FASTEST_MOON_DEG_PER_S


def test_passes_of_many_stations_are_those_of_each_alone() -> None:
    stations = [
        station("QA1", 48.0, 11.0, horizon=[(0.0, 3.0), (180.0, 9.0)]),
        station("QA2", -30.0, 150.0, minimum_elevation_deg=12.0),
        station("QA3", 70.0, -20.0, stops=(200.0, 160.0)),
    ]
    begin, end = utc(2027, 3, 1), utc(2027, 3, 8)
    _, together = passes_between(begin, end, stations)
    for one, mine in zip(stations, together, strict=True):
        _, (alone,) = passes_between(begin, end, [one])
        np.testing.assert_array_equal(mine.start_s, alone.start_s)
        np.testing.assert_array_equal(mine.end_s, alone.end_s)
        np.testing.assert_array_equal(mine.opened_by, alone.opened_by)
