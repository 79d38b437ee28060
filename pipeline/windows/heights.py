"""When the Moon stands above fixed elevations, settled hour by hour from cubics between nodes and what they may be off.

A station's height of the Moon over a cone of one elevation is a smooth curve: Hermite's cubic with its error decides
most hours whole (a cubic lies between its Bernstein coefficients, Farouki 2012, from memory), and in an hour in which
it rises or falls throughout it crosses zero once at most.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.sky import Sky
from pipeline.ephemeris.tracks import Sites, moon_over_ground, see_moon

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

# Between nodes an hour apart the cubic is off by 7 km of 380,000 at most: four arcseconds.
NODE_STEP_S = 3600.0
# The fastest that the Moon moves over any sky, as in `windows.rules`; the fourth derivative of a point that circles at
# such a rate is its distance times the fourth power, and a fifth more holds what circles along with it.
FASTEST_RAD_PER_S = np.radians(15.6) / 3600.0
FARTHEST_KM = 1.2 * (406_800.0 + 6_400.0)
# The cubic's root is good to a second; from there a step leaves a thousandth of the one before.
CUBIC_STEPS, ENOUGH_S, MOST_STEPS = 4, 1e-2, 20


@dataclass(frozen=True)
class Course:
    """The Moon over the ground at nodes (n,), s of the sky: place in km and rate in km/s, (n, 3) each."""

    time_s: FloatArray
    place_km: FloatArray
    rate_km_per_s: FloatArray

    @property
    def step_s(self) -> float:
        """From node to node."""
        return float(self.time_s[1] - self.time_s[0])

    @property
    def error_km(self) -> float:
        """What a Hermite cubic between two nodes is off at most."""
        return FARTHEST_KM * (FASTEST_RAD_PER_S * self.step_s) ** 4 / 384.0

    @property
    def error_km_per_s(self) -> float:
        """What its slope is off at most (Birkhoff and Priver 1967, from memory)."""
        return FARTHEST_KM * (FASTEST_RAD_PER_S * self.step_s) ** 4 * np.sqrt(3.0) / 216.0 / self.step_s


@dataclass(frozen=True)
class Settled:
    """Hours (stations, n - 1) in which the Moon is above throughout, below throughout, or crosses once."""

    above: BoolArray
    below: BoolArray
    crosses: BoolArray


def course_of(sky: Sky, start_s: float, end_s: float) -> Course:
    """The Moon's course over a stretch of a sky, nodes an hour apart or a little less."""
    count = max(1, int(np.ceil((end_s - start_s) / NODE_STEP_S)))
    time = start_s + (end_s - start_s) * np.arange(count + 1) / count
    return Course(time, *moon_over_ground(sky, time))


def heights(course: Course, sites: Sites, sines: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How far the Moon stands over the cone of an elevation: km along the plumb line, and km/s; (stations, n) each.

    `sines` (stations,) of the geometric elevations; positive where the Moon is higher.
    """
    up, place, sine = sites.axes[:, 2], sites.place_km, sines[:, None]
    along = np.einsum("ij,ij->i", up, place)[:, None]
    square = np.einsum("ij,ij->i", place, place)[:, None]
    moon_square = np.einsum("ij,ij->i", course.place_km, course.place_km)
    moon_away = np.einsum("ij,ij->i", course.place_km, course.rate_km_per_s)
    distance = np.sqrt(moon_square + square - 2.0 * (place @ course.place_km.T))
    away = (moon_away - place @ course.rate_km_per_s.T) / distance
    return up @ course.place_km.T - along - sine * distance, up @ course.rate_km_per_s.T - sine * away


def settle(course: Course, height_km: FloatArray, rate_km_per_s: FloatArray) -> Settled:
    """Each hour of each station by its cubic, heights and rates (stations, n) as `heights` gives them."""
    first, last = height_km[:, :-1], height_km[:, 1:]
    third = course.step_s / 3.0
    second, penultimate = first + third * rate_km_per_s[:, :-1], last - third * rate_km_per_s[:, 1:]
    least = np.minimum(np.minimum(first, second), np.minimum(penultimate, last)) - course.error_km
    most = np.maximum(np.maximum(first, second), np.maximum(penultimate, last)) + course.error_km
    slopes = (second - first, penultimate - second, last - penultimate)
    room = course.error_km_per_s * third
    rises = np.minimum(np.minimum(slopes[0], slopes[1]), slopes[2]) > room
    falls = np.maximum(np.maximum(slopes[0], slopes[1]), slopes[2]) < -room
    one_way = rises | falls
    crosses = one_way & ((first < 0.0) != (last < 0.0))
    above = ~crosses & ((least >= 0.0) | (one_way & (first >= 0.0)))
    below = ~crosses & ((most < 0.0) | (one_way & (first < 0.0)))
    return Settled(above, below, crosses)


@dataclass(frozen=True)
class Crossings:
    """Crossings (m,) by station and hour: when, s of the sky, and whether the Moon rises over the cone there."""

    station: IntArray
    hour: IntArray
    time_s: FloatArray
    rises: BoolArray


def find_crossings(
    sky: Sky, sites: Sites, sines: FloatArray, course: Course, curves: tuple[FloatArray, FloatArray], crosses: BoolArray
) -> Crossings:
    """When the Moon crosses its cone in the hours marked so, (stations, hours); `curves` are heights and rates, km and
    km/s, (stations, nodes).

    From the root of each cubic on by the Moon's own place, with the cubic's slope, until a step is short.
    """
    station, hour = np.nonzero(crosses)
    (first, last), slopes = ([curve[station, hour], curve[station, hour + 1]] for curve in curves)
    step = course.step_s
    share = first / (first - last)
    for _ in range(CUBIC_STEPS):
        value, slope = _cubic(first, last, slopes[0] * step, slopes[1] * step, share)
        share = np.clip(share - value / slope, 0.0, 1.0)
    rate = _cubic(first, last, slopes[0] * step, slopes[1] * step, share)[1] / step
    begin = course.time_s[hour]
    time, left = begin + share * step, np.arange(hour.size)
    for _ in range(MOST_STEPS):
        seen = see_moon(sky, sites.take(station[left]), time[left])
        height = seen.range_km * (np.sin(np.radians(seen.elevation_deg)) - sines[station[left]])
        moved = np.clip(time[left] - height / rate[left], begin[left], begin[left] + step)
        far = np.abs(moved - time[left]) > ENOUGH_S
        time[left] = moved
        left = left[far]
        if not left.size:
            break
    return Crossings(station, hour, time, first < 0.0)


def _cubic(
    first: FloatArray, last: FloatArray, slope_first: FloatArray, slope_last: FloatArray, share: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Hermite's cubic and its slope at shares of the step; slopes a step."""
    square, cube = (
        3.0 * (last - first) - 2.0 * slope_first - slope_last,
        slope_first + slope_last - 2.0 * (last - first),
    )
    value = first + share * (slope_first + share * (square + share * cube))
    return value, slope_first + share * (2.0 * square + 3.0 * share * cube)
