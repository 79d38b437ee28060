"""The Moon from the Earth's centre: Meeus's worked examples (by PyMeeus), extremes of the months, perigees, phases."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

import numpy as np
import pytest
from pymeeus.Epoch import Epoch
from pymeeus.Moon import Moon
from pymeeus.Sun import Sun

from pipeline.ephemeris.sky import Sky, make_sky
from pipeline.ephemeris.tracks import Geocentre, bodies_at, see_from_centre
from tests.claims import asserted
from tests.conftest import Outside
from tests.ephemeris.places import azimuth_difference_deg

meeus_bar_deg = 0.003
meeus_bar_km = 20.0
# A perigee "time" is flat: half an hour off costs 0.05 km, the light-time convention of the list up to 36 km.
perigee_bar_km = 40.0
half_an_hour_s = 1800.0


def _centre_at_terrestrial_time(instant_tt: dt.datetime, tt_minus_utc_s: float) -> tuple[Sky, np.ndarray]:
    instant = instant_tt - dt.timedelta(seconds=tt_minus_utc_s)
    sky = make_sky(instant - dt.timedelta(minutes=30), instant + dt.timedelta(minutes=30))
    return sky, np.array([sky.seconds(instant)])


def _right_ascension_and_declination_deg(vector: np.ndarray) -> tuple[float, float]:
    x, y, z = vector
    return float(np.degrees(np.arctan2(y, x)) % 360.0), float(np.degrees(np.arctan2(z, np.hypot(x, y))))


def test_example_47a(outside: Outside) -> None:
    """Meeus, Astronomical Algorithms, example 47.a: 1992 April 12, 0h TD. Printed: 134.688469, 13.768367, 368,409.7."""
    sky, time = _centre_at_terrestrial_time(dt.datetime(1992, 4, 12, tzinfo=dt.UTC), 58.184)
    bodies = bodies_at(sky, time)
    centre = see_from_centre(bodies)
    ascension, declination, distance_km, _ = Moon.apparent_equatorial_pos(Epoch(1992, 4, 12.0))
    assert float(ascension) == pytest.approx(134.688469, abs=1e-5)
    assert float(declination) == pytest.approx(13.768367, abs=1e-5)
    off_deg = max(
        abs(_right_ascension_and_declination_deg(bodies.moon_of_date_km[0])[0] - float(ascension)),
        abs(float(centre.declination_deg[0]) - float(declination)),
    )
    assert off_deg < meeus_bar_deg
    off_km = abs(float(centre.distance_km[0]) - float(distance_km))
    assert off_km < meeus_bar_km
    outside("PyMeeus", 1, f"{off_deg:.2g} degree", "worked examples")
    outside("PyMeeus", 1, f"{off_km:.2g} km", "worked examples")


def test_example_48a() -> None:
    """Example 48.a: the same instant, illuminated fraction of the disc 0.68 (printed: 0.6786)."""
    sky, time = _centre_at_terrestrial_time(dt.datetime(1992, 4, 12, tzinfo=dt.UTC), 58.184)
    ours = float(see_from_centre(bodies_at(sky, time)).lit_fraction[0])
    assert ours == pytest.approx(Moon.illuminated_fraction_disk(Epoch(1992, 4, 12.0)), abs=0.002)
    assert ours == pytest.approx(0.6786, abs=0.002)


def test_examples_25a_and_25b(outside: Outside) -> None:
    """Examples 25.a and b: the Sun on 1992 October 13, 0h TD. Printed: RA 13h13m31.4s, -7d47'06", R 0.99760852 AU."""
    sky, time = _centre_at_terrestrial_time(dt.datetime(1992, 10, 13, tzinfo=dt.UTC), 59.184)
    seen = sky.sun_seen_km(time)
    ascension, declination = _right_ascension_and_declination_deg(sky.to_date(seen, time)[0])
    assert ascension == pytest.approx(15 * (13 + 13 / 60 + 31.4 / 3600), abs=meeus_bar_deg)
    assert declination == pytest.approx(-(7 + 47 / 60 + 6 / 3600), abs=meeus_bar_deg)
    assert float(np.linalg.norm(seen)) / 149_597_870.7 == pytest.approx(0.99760852, abs=2e-5)
    coarse = Sun.apparent_rightascension_declination_coarse(Epoch(1992, 10, 13.0))  # 25.a, good to 0.01 degree
    off = max(abs(ascension - float(coarse[0])), abs(declination - float(coarse[1])))
    assert off < 0.01
    outside("PyMeeus", 1, f"{off:.2g} degree", "worked examples")


@lru_cache(maxsize=1)
def _year() -> tuple[dt.datetime, np.ndarray, Geocentre]:
    """2027, every twenty minutes."""
    start = dt.datetime(2027, 1, 1, tzinfo=dt.UTC)
    sky = make_sky(start, dt.datetime(2028, 1, 1, tzinfo=dt.UTC))
    time = np.arange(0.0, sky.duration_s, 1200.0)
    return start, time, see_from_centre(bodies_at(sky, time))


# Greatest northern declination of each lunar month of 2027, apparent, of date: Skyfield 1.55 on DE440, to 0.01 degree.
NORTHERNMOST_DEG = {
    (1, 19): 27.69, (2, 16): 27.72, (3, 15): 27.62, (4, 11): 27.42, (5, 9): 27.24, (6, 5): 27.15, (7, 2): 27.17,
    (7, 30): 27.22, (8, 26): 27.18, (9, 22): 27.03, (10, 20): 26.81, (11, 16): 26.63, (12, 13): 26.58,
}  # fmt: skip
SOUTHERNMOST_DEG = {(1, 5): -27.64, (2, 2): -27.71, (6, 18): -27.14, (12, 26): -26.59}


def test_declination_extremes_of_2027(outside: Outside) -> None:
    start, time, centre = _year()
    worst = 0.0
    for sign, table in ((1, NORTHERNMOST_DEG), (-1, SOUTHERNMOST_DEG)):
        for (month, day), extreme_deg in table.items():
            noon_s = (dt.datetime(2027, month, day, 12, tzinfo=dt.UTC) - start).total_seconds()
            near = np.abs(time - noon_s) < 3 * 86400.0
            ours = sign * (sign * centre.declination_deg[near]).max()
            worst = max(worst, abs(ours - extreme_deg))
    assert worst < asserted("declination extremes of 2027")
    outside("Skyfield on DE440", len(NORTHERNMOST_DEG) + len(SOUTHERNMOST_DEG), f"{worst:.2g} degree", "extremes")


# Nearest points of 2027: Skyfield 1.55 on DE440. Farthest of the year: 2027-01-07 08:08 UTC, 406,607 km.
PERIGEES_KM = {
    (1, 21): 357_288, (2, 19): 361_030, (3, 19): 366_461, (4, 14): 370_041, (5, 9): 366_657, (6, 6): 361_717,
    (7, 4): 358_289, (8, 2): 357_359, (8, 30): 359_196, (9, 27): 363_434, (10, 25): 368_620, (11, 19): 369_327,
    (12, 16): 364_007,
}  # fmt: skip


def test_nearest_and_farthest_moon_of_2027(outside: Outside) -> None:
    start, time, centre = _year()
    worst = 0.0
    for (month, day), distance_km in PERIGEES_KM.items():
        noon_s = (dt.datetime(2027, month, day, 12, tzinfo=dt.UTC) - start).total_seconds()
        near = np.abs(time - noon_s) < 2 * 86400.0
        worst = max(worst, abs(float(centre.distance_km[near].min()) - distance_km))
    assert worst < perigee_bar_km
    # This one was listed without light time, so it is sharper.
    farthest = int(np.argmax(centre.distance_km))
    assert centre.distance_km[farthest] == pytest.approx(406_607, abs=2.0)
    listed_s = (dt.datetime(2027, 1, 7, 8, 8, tzinfo=dt.UTC) - start).total_seconds()
    assert abs(time[farthest] - listed_s) < 2 * half_an_hour_s
    outside("Skyfield on DE440", 1, f"{abs(float(centre.distance_km[farthest]) - 406_607):.2g} km", "apogees")


# New and full Moons of 2026, UTC: Skyfield 1.55, almanac.
NEW = [dt.datetime(2026, 1, 18, 19, 52), dt.datetime(2026, 2, 17, 12, 1), dt.datetime(2026, 3, 19, 1, 23)]
FULL = [dt.datetime(2026, 1, 3, 10, 3), dt.datetime(2026, 2, 1, 22, 9), dt.datetime(2026, 3, 3, 11, 38)]


@pytest.mark.parametrize(("instants", "elongation_deg"), [(NEW, 0.0), (FULL, 180.0)])
def test_phases(instants: list[dt.datetime], elongation_deg: float) -> None:
    """Within the half minute to which they are listed: the Moon gains 0.5 degree an hour on the Sun."""
    for naive in instants:
        instant = naive.replace(tzinfo=dt.UTC)
        sky = make_sky(instant, instant)
        ours = float(see_from_centre(bodies_at(sky, np.array([0.0]))).elongation_deg[0])
        assert azimuth_difference_deg(ours, elongation_deg) < 0.01
