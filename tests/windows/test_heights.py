"""What the Moon's course settles hour by hour, against the Moon itself asked every minute."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.ephemeris.tracks import Sites, make_sites, see_moon
from pipeline.windows.heights import Course, arcs_of, course_of, find_crossings, heights, settle
from tests.windows.skies import sky_between, utc

SKY = sky_between(utc(2027, 3, 1), utc(2027, 3, 31))
LATITUDES = (-90.0, -78.0, -61.9, -35.0, 0.0, 28.4, 48.1, 62.0, 70.0, 90.0)
MINUTES = 60
half_a_millisecond_deg = 0.0005 * 15.6 / 3600.0


def _sites() -> Sites:
    return make_sites(
        SKY, LATITUDES, np.linspace(-170.0, 150.0, len(LATITUDES)), np.linspace(0.0, 4000.0, len(LATITUDES))
    )


def _true_heights(course: Course, sites: Sites, sines: np.ndarray) -> np.ndarray:
    """By the minute, (stations, minutes): range times sine less sine."""
    time = np.linspace(course.time_s[0], course.time_s[-1], MINUTES * (course.time_s.size - 1) + 1)
    seen = see_moon(SKY, sites.against_times(), time)
    return seen.range_km * (np.sin(np.radians(seen.elevation_deg)) - sines[:, None])


@pytest.mark.parametrize("elevation_deg", [-1.0, 0.0, 5.0, 30.0, 62.0])
def test_every_hour_is_what_it_is_said_to_be(elevation_deg: float) -> None:
    """A month at ten latitudes, poles and grazing Moons included: no minute says otherwise."""
    sites = _sites()
    sines = np.full(len(LATITUDES), np.sin(np.radians(elevation_deg)))
    course = course_of(SKY, 0.0, SKY.duration_s)
    curves = heights(course, sites, sines)
    hours = settle(course, *curves, course.step_s)
    true = _true_heights(course, sites, sines)
    by_hour = np.stack([true[:, minute : true.shape[1] - 1 : MINUTES] for minute in range(MINUTES)], axis=-1)
    assert (by_hour[hours.above] >= 0.0).all()
    assert (by_hour[hours.below] < 0.0).all()
    assert not (hours.above & hours.below).any()
    changes = (np.diff(np.sign(true), axis=1) != 0).reshape(len(LATITUDES), -1, MINUTES).sum(axis=-1)
    assert (changes[hours.crosses] <= 1).all()
    # Little is left to be halved: hours in which the Moon turns within arcseconds of the cone.
    assert (hours.above | hours.below | hours.crosses).mean() > 0.99
    arcs = arcs_of(course, curves, *np.nonzero(hours.crosses))
    seen = see_moon(SKY, sites.take(arcs.station), find_crossings(SKY, sites, sines, arcs))
    assert seen.elevation_deg == pytest.approx(elevation_deg, abs=half_a_millisecond_deg)


def test_a_cubic_is_off_by_no_more_than_is_said() -> None:
    """Half way between two nodes, where Hermite's cubic is worst; the bound is not idle either."""
    sites, sines = _sites(), np.zeros(len(LATITUDES))
    course = course_of(SKY, 0.0, SKY.duration_s)
    height, rate = heights(course, sites, sines)
    step = course.step_s
    middle = (height[:, :-1] + height[:, 1:]) / 2.0 + step * (rate[:, :-1] - rate[:, 1:]) / 8.0
    seen = see_moon(SKY, sites.against_times(), course.time_s[:-1] + step / 2.0)
    off = np.abs(middle - seen.range_km * np.sin(np.radians(seen.elevation_deg)))
    assert course.error_km / 3.0 < off.max() <= course.error_km < 7.2
