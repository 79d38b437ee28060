"""Moon and Sun over a period: vectors at nodes, interpolated with their velocities to any instant.

All is geocentric: the Moon and the Sun where they were one light time ago, relative to the Earth at that same
epoch, in axes of the true equator and equinox of date; so neither aberration nor barycentric motion needs a term.
Source: JPL kernel and IAU precession-nutation through Skyfield; cubic Hermite between nodes (error below 1 cm).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.timescale import Clock, EphemerisUnavailable, load_clock, load_kernel

FloatArray = npt.NDArray[np.float64]

LIGHT_KM_PER_S = 299_792.458
# One hour: the fourth derivative of the Moon's place leaves 8 mm. The Sun's once a day leaves
# 400 m: 0.0005 arcsecond.
NODE_STEP_S = 3600.0
SUN_STRIDE = 24
# The equator of date stands at every third node; joined by straight lines it is 0.0002 arcsecond off at most.
EQUATOR_STRIDE = 3
# The dear parts of the sky, the kernel's series of the Moon and the series of the nutation, are asked more rarely, and
# ten such places beside each other give the nodes between them: the Moon every sixth hour (to 0.1 mm), the nutation
# every 36th (to 0.00006 arcsecond; 0.23 arcsecond in 13.7 days is its quickest great term).
# What the planets have in it, half of the terms, is 0.0004 arcsecond in all and slower still.
MOON_STRIDE, NUTATION_STRIDE, PLANETS_STRIDE, BESIDE = 6, 36, 108, 10
# A sky costs its time by the day, so longer gaps are left out. Over a year the pole moves by less than an arcsecond
# from where a stretch has it, which no decibel feels.
LONGEST_GAP = dt.timedelta(days=40)
LONGEST_STRETCH = dt.timedelta(days=370)
# Numbers of bodies in a JPL kernel (NAIF).
MOON_NUMBER, EARTH_NUMBER = 301, 399
J2000_OBLIQUITY_DEG = 23.43928
OBLIQUITY_RATE_DEG_PER_YEAR = -46.837 / 3600 / 100  # IAU 2006: 46.837 arcseconds a century


@dataclass(frozen=True)
class Sky:
    """Moon and Sun over a period. Times are seconds since `start` (UTC).

    Vectors are geocentric in GCRS axes, the Moon's (n, 3) hourly, the Sun's (k, 3) daily; `equator` (m, 3, 3) turns
    them to true equator and equinox of date, `spin_rad` (m,) is the apparent sidereal angle, both every third hour;
    `pole` (3, 3) is polar motion at the middle of the period (within a month it moves by less than 0.1 arcsecond).
    """

    start: dt.datetime
    duration_s: float
    moon_km: FloatArray
    moon_km_per_s: FloatArray
    sun_km: FloatArray
    sun_km_per_s: FloatArray
    equator: FloatArray
    spin_rad: FloatArray
    pole: FloatArray
    obliquity_deg: float
    kernel: str
    clock_note: str

    def seconds(self, instant: dt.datetime) -> float:
        """Seconds from `start` to an aware instant."""
        return (instant - self.start).total_seconds()

    def instant(self, time_s: float) -> dt.datetime:
        """The instant, UTC, so many seconds after `start`, to the microsecond."""
        return self.start + dt.timedelta(seconds=float(time_s))

    def moon_of_date_km(self, time_s: npt.ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The Moon at the very instant, without light time, its rate a second and how that changes in one.

        Axes of date, shapes (..., 3).
        """
        time = np.asarray(time_s, dtype=float)
        equator = self.equator_at(time)
        place, rate, change = hermite_motion(self.moon_km, self.moon_km_per_s, time)
        return turn(equator, place), turn(equator, rate), turn(equator, change)

    def moon_seen_km(self, time_s: npt.ArrayLike) -> FloatArray:
        """The Moon as seen from the Earth's centre, GCRS axes, shape (..., 3).

        A station's own light time differs by 0.02 s at most, in which the Moon moves 20 m: 0.01 arcsecond. Over the
        light time itself the Moon goes straight to 2 mm.
        """
        return self.moon_seen_with_rate_km(time_s)[0]

    def moon_seen_with_rate_km(self, time_s: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """The same and its rate a second, both (..., 3)."""
        place, rate, _ = hermite_motion(self.moon_km, self.moon_km_per_s, np.asarray(time_s, dtype=float))
        delay = np.sqrt(np.einsum("...i,...i->...", place, place)) / LIGHT_KM_PER_S
        return place - delay[..., None] * rate, rate

    def sun_seen_km(self, time_s: npt.ArrayLike) -> FloatArray:
        """The Sun as seen from the Earth's centre, GCRS axes, shape (..., 3)."""
        return hermite(self.sun_km, self.sun_km_per_s, np.asarray(time_s, dtype=float), SUN_STRIDE)

    def equator_at(self, time_s: npt.ArrayLike) -> FloatArray:
        """The matrices from GCRS to date, interpolated, no unit, shape (..., 3, 3)."""
        index, share = node(np.asarray(time_s, dtype=float), len(self.spin_rad), EQUATOR_STRIDE)
        return self.equator[index] + share[..., None, None] * (self.equator[index + 1] - self.equator[index])

    def to_date(self, vectors: FloatArray, time_s: npt.ArrayLike) -> FloatArray:
        """Vectors (..., 3) turned from GCRS to the true equator and equinox of date. The unit stays."""
        return turn(self.equator_at(time_s), vectors)

    def spin(self, time_s: npt.ArrayLike) -> FloatArray:
        """Apparent sidereal angle at Greenwich, rad, not folded; times of any shape."""
        index, share = node(np.asarray(time_s, dtype=float), len(self.spin_rad), EQUATOR_STRIDE)
        return self.spin_rad[index] + share * (self.spin_rad[index + 1] - self.spin_rad[index])

    @property
    def spin_rad_per_s(self) -> float:
        """How fast the Earth turns against the equinox of date, the mean over the sky."""
        steps = len(self.spin_rad) - 1
        return float(self.spin_rad[-1] - self.spin_rad[0]) / (steps * EQUATOR_STRIDE * NODE_STEP_S)

    def to_earth(self, vectors_of_date: FloatArray, time_s: npt.ArrayLike) -> FloatArray:
        """Vectors of date (..., 3) turned to axes that spin with the Earth (before polar motion). The unit stays."""
        return turn_about_pole(vectors_of_date, -self.spin(time_s))

    def from_earth(self, vectors_of_earth: FloatArray, time_s: npt.ArrayLike) -> FloatArray:
        """Vectors (..., 3) in spinning axes turned back to the equator and equinox of date; shapes broadcast.

        The unit stays.
        """
        return turn_about_pole(vectors_of_earth, self.spin(time_s))

    def to_inertial(self, vectors_of_earth: FloatArray, time_s: npt.ArrayLike) -> FloatArray:
        """Vectors (..., 3) in spinning axes turned back to GCRS. The unit stays."""
        return turn_back(self.equator_at(time_s), self.from_earth(vectors_of_earth, time_s))

    def month(self, time_s: npt.ArrayLike) -> npt.NDArray[np.int64]:
        """Calendar month (UTC), 1 to 12, of each time, to the microsecond; times of any shape."""
        start = np.datetime64(self.start.astimezone(dt.UTC).replace(tzinfo=None), "us")
        elapsed = np.round(np.asarray(time_s, dtype=float) * 1e6).astype("timedelta64[us]")
        return (start + elapsed).astype("datetime64[M]").astype(np.int64) % 12 + 1

    def day(self, time_s: npt.ArrayLike) -> FloatArray:
        """Days since J2000.0 (TDB), good to a second: for slow angles only; times of any shape."""
        noon_2000 = dt.datetime(2000, 1, 1, 12, tzinfo=dt.UTC)
        # TDB runs 69.2 s ahead of UTC in the years of this program.
        since = (self.start - noon_2000).total_seconds() + 69.2
        return (since + np.asarray(time_s, dtype=float)) / 86400.0


def once_each(work: Callable[[FloatArray], tuple[FloatArray, ...]], time_s: npt.ArrayLike) -> tuple[FloatArray, ...]:
    """What `work` gives for times of any shape, s of the sky, done once for each: samples of pairs share many.

    `work` takes times (n,) and gives arrays (n, ...) of whatever unit, which come back in the shape of the times.
    """
    time = np.asarray(time_s, dtype=float)
    once, place = np.unique(time, return_inverse=True)
    return tuple(part[place.reshape(time.shape)] for part in work(once))


def turn(matrices: FloatArray, vectors: FloatArray) -> FloatArray:
    """Vectors (..., 3) turned by rotation matrices (..., 3, 3); shapes broadcast, the unit stays."""
    return np.einsum("...ij,...j->...i", matrices, vectors)


def turn_back(matrices: FloatArray, vectors: FloatArray) -> FloatArray:
    """The inverse of `turn`: by the transposed matrices. Vectors (..., 3), matrices (..., 3, 3); the unit stays."""
    return np.einsum("...ji,...j->...i", matrices, vectors)


def turn_about_pole(vectors: FloatArray, angle_rad: FloatArray) -> FloatArray:
    """Vectors (..., 3) turned about the third axis by the angle, eastward positive; shapes broadcast.

    The unit stays.
    """
    cosine, sine = np.cos(angle_rad), np.sin(angle_rad)
    x, y, z = vectors[..., 0], vectors[..., 1], vectors[..., 2]
    return np.stack(np.broadcast_arrays(cosine * x - sine * y, sine * x + cosine * y, z), axis=-1)


def node(time_s: FloatArray, count: int, stride: int = 1) -> tuple[npt.NDArray[np.int64], FloatArray]:
    """Index of the node before each time and the share of the step gone since; ValueError outside the nodes.

    Times are of any shape, s of the sky.
    """
    position = (time_s / NODE_STEP_S + MARGIN_NODES) / stride
    index = np.floor(position).astype(np.int64)
    if index.size and (index.min() < 0 or index.max() > count - 2):
        raise ValueError("a time outside the period of this sky")
    return index, position - index


# Nodes kept before and after the period, so that light times and the last step find their neighbours.
MARGIN_NODES = 2


def hermite(values: FloatArray, rates: FloatArray, time_s: FloatArray, stride: int = 1) -> FloatArray:
    """Cubic Hermite interpolation of (n, 3) vectors with their rates per second; returns (..., 3).

    Vectors keep their unit, times are s of the sky.
    """
    value, u, rate_0, square, cube = _cubic(values, rates, time_s, stride)
    return value + u * (rate_0 + u * (square + u * cube))


def hermite_motion(
    values: FloatArray, rates: FloatArray, time_s: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The same, its rate per second and how much that changes per second, all (..., 3); the unit stays."""
    value, u, rate_0, square, cube = _cubic(values, rates, time_s, 1)
    place = value + u * (rate_0 + u * (square + u * cube))
    rate = (rate_0 + u * (2.0 * square + 3.0 * u * cube)) / NODE_STEP_S
    return place, rate, (2.0 * square + 6.0 * u * cube) / NODE_STEP_S**2


def _cubic(
    values: FloatArray, rates: FloatArray, time_s: FloatArray, stride: int
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """The cubic between two nodes: its constant, the share of the step, and what stands with its three powers."""
    index, u = node(time_s, len(values), stride)
    step_s = NODE_STEP_S * stride
    rate_0, rate_1 = step_s * rates[index], step_s * rates[index + 1]
    step = values[index + 1] - values[index]
    # The form in differences keeps the rounding of 400,000 km out of the small terms.
    return values[index], u[..., None], rate_0, 3.0 * step - 2.0 * rate_0 - rate_1, rate_0 + rate_1 - 2.0 * step


def strided(last: int, stride: int) -> npt.NDArray[np.int64]:
    """Hours (n,), every stride-th, from which `between` gives all from the first to the last, and some more."""
    return (np.arange(-(-last // stride) + BESIDE) - (BESIDE // 2 - 1)) * stride


def between(values: FloatArray, parts: int) -> FloatArray:
    """Values at each of so many parts of the steps: (n, ...) at the steps to ((n - BESIDE) * parts + 1, ...).

    By the polynomial through the ten around each (Lagrange); of the first four and the last five none are given.
    The unit stays.
    """
    beside = np.lib.stride_tricks.sliding_window_view(values, BESIDE, axis=0)
    # No matrix product: its last bits are the processor's own.
    fine = np.einsum("pk,n...k->np...", _weights(parts), beside)
    return fine.reshape(-1, *values.shape[1:])[: (len(beside) - 1) * parts + 1]


@lru_cache(maxsize=8)
def _weights(parts: int) -> FloatArray:
    """What each of the places beside each other counts at each part of the step in their middle, (parts, BESIDE)."""
    offsets = np.arange(BESIDE) - (BESIDE // 2 - 1)
    apart = (np.arange(parts) / parts)[:, None] - offsets
    weights = np.ones((parts, BESIDE))
    for place in range(BESIDE):
        others = np.arange(BESIDE) != place
        weights[:, place] = np.prod(apart[:, others] / (offsets[place] - offsets[others]), axis=1)
    return weights


def make_sky(start: dt.datetime, end: dt.datetime, kernel_file: str | None = None) -> Sky:
    """Moon and Sun from `start` to `end` (aware instants).

    Raises EphemerisUnavailable where the kernel is missing or does not cover the period.
    """
    start, end = start.astimezone(dt.UTC), end.astimezone(dt.UTC)
    from skyfield.errors import EphemerisRangeError

    kernel, name = load_kernel(kernel_file)
    clock = load_clock()
    count = int(np.ceil((end - start).total_seconds() / NODE_STEP_S)) + 1 + 2 * MARGIN_NODES
    # A whole number of the Sun's steps, so that the last of them has a node at its end.
    days = -(-(count - 1) // SUN_STRIDE)
    turns = days * SUN_STRIDE // EQUATOR_STRIDE + 1
    # Nodes of all count from the first of the Moon's.
    hours = strided(count - 1, MOON_STRIDE), SUN_STRIDE * np.arange(days + 1), EQUATOR_STRIDE * np.arange(turns)
    moon_time, sun_time, turned = (_time(clock, start, nodes) for nodes in hours)
    nutated = _nutated(clock, start, days * SUN_STRIDE)
    try:
        moon = _moon_from_earth(kernel).at(moon_time)
        sun_position, sun_velocity = _retarded_sun(kernel, clock.timescale, sun_time)
    except EphemerisRangeError as error:
        raise EphemerisUnavailable(
            f"{name} does not cover {start:%B %Y} to {end:%B %Y}; DE421 runs from 1900 to 2053, "
            "another kernel can be named as ephemeris.file in the season"
        ) from error
    parts = NUTATION_STRIDE // EQUATOR_STRIDE
    equinoxes_h = between((np.asarray(nutated.gast) - np.asarray(nutated.gmst) + 12.0) % 24.0 - 12.0, parts)[:turns]
    middle = clock.timescale.tt_jd(float(_time(clock, start, np.array([count // 2])).tt[0]))
    years = (float(middle.tt) - 2451545.0) / 365.25
    moon_km, moon_km_per_s = (
        np.ascontiguousarray(between(vectors.T, MOON_STRIDE)[:count])
        for vectors in (moon.position.km, moon.velocity.km_per_s)
    )
    return Sky(
        start=start,
        duration_s=(end - start).total_seconds(),
        moon_km=moon_km,
        moon_km_per_s=moon_km_per_s,
        sun_km=sun_position,
        sun_km_per_s=sun_velocity,
        equator=between(np.moveaxis(nutated.M, -1, 0), parts)[:turns],
        spin_rad=np.unwrap((np.asarray(turned.gmst) + equinoxes_h) * (2 * np.pi / 24.0)),
        pole=np.asarray(middle.polar_motion_matrix()) if clock.timescale.polar_motion_table else np.eye(3),
        obliquity_deg=J2000_OBLIQUITY_DEG + OBLIQUITY_RATE_DEG_PER_YEAR * years,
        kernel=name,
        clock_note=clock.note_until(end),
    )


def _time(clock: Clock, start: dt.datetime, nodes: npt.NDArray[np.int64]) -> Any:
    """Skyfield's time at nodes (n,), hours from the first of the sky."""
    seconds = start.second + start.microsecond * 1e-6 + (nodes - MARGIN_NODES) * NODE_STEP_S
    return clock.timescale.utc(start.year, start.month, start.day, start.hour, start.minute, seconds)


def _nutated(clock: Clock, start: dt.datetime, last: int) -> Any:
    """Skyfield's time at the nodes of the nutation up to an hour, its angles in it by both parts of the series."""
    from skyfield.nutationlib import iau2000a_radians

    nodes = strided(last, NUTATION_STRIDE)
    time = _time(clock, start, nodes)
    wider = _time(clock, start, nodes[0] + strided(int(nodes[-1] - nodes[0]), PLANETS_STRIDE))
    by_planets = np.stack(iau2000a_radians(wider, lunisolar_terms=0), axis=-1)
    planets = between(by_planets, PLANETS_STRIDE // NUTATION_STRIDE)[: len(nodes)]
    angles = np.stack(iau2000a_radians(time, planetary_terms=0)) + planets.T
    time._nutation_angles_radians = tuple(angles)
    return time


def _moon_from_earth(kernel: Any) -> Any:
    """The Moon's vector from the Earth: from the centre that a kernel tells both from, where it has one."""
    near = [[one for one in kernel.segments if one.target == target] for target in (MOON_NUMBER, EARTH_NUMBER)]
    if [len(segments) for segments in near] == [1, 1] and near[0][0].center == near[1][0].center:
        return near[0][0] - near[1][0]
    return kernel[MOON_NUMBER] - kernel[EARTH_NUMBER]


def _retarded_sun(kernel: Any, timescale: Any, time: Any) -> tuple[FloatArray, FloatArray]:
    """The Sun one light time before each node, relative to the Earth at that epoch: km and km/s, (n, 3).

    Over the light time the Sun goes straight to 0.8 km, in which light needs no longer than that motion a decimetre.
    """
    pair = kernel["sun"] - kernel["earth"]
    now = pair.at(time)
    delay_s = np.linalg.norm(now.position.km, axis=0) / LIGHT_KM_PER_S
    delay_s = np.linalg.norm(now.position.km - delay_s * now.velocity.km_per_s, axis=0) / LIGHT_KM_PER_S
    seen = pair.at(timescale.tdb_jd(time.whole, time.tdb_fraction - delay_s / 86400.0))
    return np.ascontiguousarray(seen.position.km.T), np.ascontiguousarray(seen.velocity.km_per_s.T)


def covering(
    instants: Sequence[dt.datetime], margin: dt.timedelta, kernel_file: str | None = None
) -> list[tuple[list[int], Sky]]:
    """Skies without long gaps over all instants (aware): the indices that each serves, in order of time, and the sky.

    Raises EphemerisUnavailable where the kernel does not reach them.
    """
    order = sorted(range(len(instants)), key=lambda row: instants[row])
    groups: list[list[int]] = []
    for row in order:
        last = instants[groups[-1][-1]] if groups else None
        if (
            last is not None
            and instants[row] - last <= LONGEST_GAP
            and instants[row] - instants[groups[-1][0]] <= LONGEST_STRETCH
        ):
            groups[-1].append(row)
        else:
            groups.append([row])
    return [(rows, make_sky(instants[rows[0]] - margin, instants[rows[-1]] + margin, kernel_file)) for rows in groups]
