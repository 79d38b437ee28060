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
from pipeline.ephemeris.tracks import Sites, moon_from_centre_km, moon_over_ground

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

# Between nodes an hour apart the cubic is off by 7 km of 380,000 at most: four arcseconds.
NODE_STEP_S = 3600.0
# The fastest that the Moon moves over any sky, as in `windows.rules`; the fourth derivative of a point that circles at
# such a rate is its distance times the fourth power, and a fifth more holds what circles along with it.
FASTEST_RAD_PER_S = np.radians(15.6) / 3600.0
FARTHEST_KM = 1.2 * (406_800.0 + 6_400.0)
# The cubic's root is good to a second; from there a step leaves a thousandth of itself, so after one as short as this
# the edge is good to half a millisecond.
CUBIC_STEPS, ENOUGH_S, MOST_STEPS = 4, 0.5, 20


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
    """Steps (stations, n - 1) in which the Moon is above throughout, below throughout, or crosses once."""

    above: BoolArray
    below: BoolArray
    crosses: BoolArray


@dataclass(frozen=True)
class Arcs:
    """Cubics (m,) of stations, each over one step from its begin, s of the sky: heights (2, m) in km at both ends, and
    rates (2, m) in km/s."""

    station: IntArray
    begin_s: FloatArray
    step_s: FloatArray
    height_km: FloatArray
    rate_km_per_s: FloatArray

    @property
    def rises(self) -> BoolArray:
        """Whether the Moon is below its cone first, (m,)."""
        return self.height_km[0] < 0.0

    @classmethod
    def joined(cls, first: Arcs, second: Arcs) -> Arcs:
        """Both in one."""
        return cls(*(np.concatenate([getattr(one, name) for one in (first, second)], axis=-1) for name in ARC_PARTS))


ARC_PARTS = ("station", "begin_s", "step_s", "height_km", "rate_km_per_s")


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
    moon, motion = (np.ascontiguousarray(vectors.T) for vectors in (course.place_km, course.rate_km_per_s))
    distance = _products(place, moon)
    distance *= -2.0
    distance += moon_square
    distance += square
    np.sqrt(distance, out=distance)
    away = (moon_away - _products(place, motion)) / distance
    return _products(up, moon) - along - sine * distance, _products(up, motion) - sine * away


def _products(sites: FloatArray, moon: FloatArray) -> FloatArray:
    """Scalar products (n, k) of vectors (n, 3) with others (3, k); bit by bit the same for one station as for many."""
    return np.einsum("ij,jk->ik", sites, moon)


def settle(course: Course, height_km: FloatArray, rate_km_per_s: FloatArray, step_s: float) -> Settled:
    """Each step of each station by its cubic; heights and rates (stations, n) as `heights` gives them, a step apart.

    What the cubics may be off is the course's, whose steps these are or parts of.
    """
    first, last = height_km[:, :-1], height_km[:, 1:]
    # The four Bernstein coefficients of each cubic, and the steps between them.
    thirds = step_s / 3.0 * rate_km_per_s
    begins, ends = thirds[:, :-1], thirds[:, 1:]
    second, penultimate = first + begins, last - ends
    middle = penultimate - second
    room = course.error_km_per_s * step_s / 3.0
    one_way = np.minimum(np.minimum(begins, ends), middle) > room
    one_way |= np.maximum(np.maximum(begins, ends), middle) < -room
    starts_above = first >= 0.0
    crosses = one_way & (starts_above != (last >= 0.0))
    above = np.minimum(np.minimum(first, second), np.minimum(penultimate, last)) >= course.error_km
    below = np.maximum(np.maximum(first, second), np.maximum(penultimate, last)) < -course.error_km
    one_way &= ~crosses
    return Settled(above | (one_way & starts_above), below | (one_way & ~starts_above), crosses)


def arcs_of(course: Course, curves: tuple[FloatArray, FloatArray], station: IntArray, hour: IntArray) -> Arcs:
    """The cubics of these hours, (m,) each; `curves` are heights and rates, km and km/s, (stations, nodes)."""
    ends = np.stack([hour, hour + 1])
    height, rate = (curve[station, ends] for curve in curves)
    return Arcs(station, course.time_s[hour], np.full(hour.size, course.step_s), height, rate)


def parted(arcs: Arcs, parts: int) -> tuple[FloatArray, FloatArray]:
    """Heights and rates of each cubic at the ends of so many equal parts, km and km/s, (m, n) each."""
    share = np.arange(parts + 1) / parts
    steps = arcs.step_s[:, None]
    value, slope = _cubic(arcs.height_km[..., None], arcs.rate_km_per_s[..., None] * steps, share)
    return value, slope / steps


def find_crossings(sky: Sky, sites: Sites, sines: FloatArray, arcs: Arcs) -> FloatArray:
    """When the Moon crosses the cone of each arc's station, s of the sky, (m,); `sines` (stations,) as for `heights`.

    From the root of each cubic on by the Moon's own place, with the cubic's slope, until a step is short.
    """
    step = arcs.step_s
    slopes = arcs.rate_km_per_s * step
    share = arcs.height_km[0] / (arcs.height_km[0] - arcs.height_km[1])
    for _ in range(CUBIC_STEPS):
        value, slope = _cubic(arcs.height_km, slopes, share)
        share = np.clip(share - value / slope, 0.0, 1.0)
    rate = _cubic(arcs.height_km, slopes, share)[1] / step
    begin, end = arcs.begin_s, arcs.begin_s + step
    time, left = begin + share * step, np.arange(step.size)
    for _ in range(MOST_STEPS):
        station, now = arcs.station[left], time[left]
        away = moon_from_centre_km(sky, now) - sites.place_km[station]
        height = np.einsum("ij,ij->i", sites.axes[station, 2], away)
        height -= sines[station] * np.sqrt(np.einsum("ij,ij->i", away, away))
        moved = np.clip(now - height / rate[left], begin[left], end[left])
        time[left] = moved
        left = left[np.abs(moved - now) > ENOUGH_S]
        if not left.size:
            break
    return time


def _cubic(ends: FloatArray, slopes: FloatArray, share: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Hermite's cubic and its slope at shares of the step; values and slopes a step at both ends, (2, ...)."""
    step = ends[1] - ends[0]
    square, cube = 3.0 * step - 2.0 * slopes[0] - slopes[1], slopes[0] + slopes[1] - 2.0 * step
    value = ends[0] + share * (slopes[0] + share * (square + share * cube))
    return value, slopes[0] + share * (2.0 * square + 3.0 * share * cube)
