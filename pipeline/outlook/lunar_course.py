"""How far north and south the Moon comes, year by year: its course of 18.6 years, in which the orbit's node goes round.

From the Moon's place in the JPL kernel, turned to the mean equator of date by the IAU precession. Nutation (at most
0.003 degree here) and light time (0.0002 degree) are left out. Check: Meeus, Astronomical Algorithms, chapter 52.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.timescale import load_clock, load_kernel

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# Half a course and two years to each side: the next turning of the course is always among them.
YEARS_BEFORE, YEARS_AFTER = 9, 11
# A quarter of a day: near its extreme the declination is a parabola to 0.0001 degree over three such steps.
STEP_DAYS = 0.25
EARTH, MOON, BARYCENTRE = 399, 301, 3


@dataclass(frozen=True)
class Course:
    """For each calendar year, (n,): the most northern and the most southern geocentric declination, degrees."""

    years: IntArray
    north_deg: FloatArray
    south_deg: FloatArray

    def of(self, year: int) -> tuple[float, float]:
        """(north, south) of a year; KeyError where the kernel does not cover it."""
        if year not in self.years:
            raise KeyError(year)
        row = int(np.searchsorted(self.years, year))
        return float(self.north_deg[row]), float(self.south_deg[row])

    def next_turning(self, year: int) -> tuple[int, float] | None:
        """The next year whose northern limit is the least or the greatest of its course; None beyond the kernel."""
        after = np.flatnonzero(self.years >= year)
        if after.size < 3:
            return None
        steps = np.sign(np.diff(self.north_deg[after]))
        turns = np.flatnonzero(steps != steps[0])
        if not turns.size:
            return None
        row = after[turns[0]]
        return int(self.years[row]), float(self.north_deg[row])


def lunar_course(year: int, kernel_file: str | None = None) -> Course:
    """The years around one, as far as the kernel covers them whole.

    Raises EphemerisUnavailable where the kernel is missing.
    """
    return _course(year - YEARS_BEFORE, year + YEARS_AFTER, kernel_file)


@lru_cache(maxsize=8)
def _course(first: int, last: int, kernel_file: str | None) -> Course:
    kernel, _ = load_kernel(kernel_file)
    timescale = load_clock().timescale
    spans = [
        (segment.start_jd, segment.end_jd)
        for segment in kernel.spk.segments
        if (segment.center, segment.target) in ((BARYCENTRE, EARTH), (BARYCENTRE, MOON))
    ]
    begin = max(start for start, _ in spans)
    end = min(stop for _, stop in spans)
    edges = {year: float(timescale.tdb(year, 1, 1).tdb) for year in range(first, last + 2)}
    years = [year for year in range(first, last + 1) if edges[year] >= begin + 1 and edges[year + 1] <= end - 1]
    if not years:
        return Course(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0))
    day = np.arange(edges[years[0]], edges[years[-1] + 1], STEP_DAYS)
    time = timescale.tdb_jd(day)
    moon = (kernel["moon"] - kernel["earth"]).at(time).position.km
    of_date = np.einsum("ijn,jn->in", time.P, moon)
    declination = np.degrees(np.arcsin(of_date[2] / np.linalg.norm(of_date, axis=0)))
    limits = [_limits(declination[(day >= edges[year]) & (day < edges[year + 1])]) for year in years]
    north, south = np.array(limits).T
    return Course(np.array(years, dtype=np.int64), north, south)


def _limits(declination_deg: FloatArray) -> tuple[float, float]:
    return _peak(declination_deg), -_peak(-declination_deg)


def _peak(values: FloatArray) -> float:
    """The greatest value, each hilltop by the parabola through its three samples: two may be nearly of one height."""
    before, at, after = values[:-2], values[1:-1], values[2:]
    top = np.flatnonzero((at >= before) & (at > after))
    bend = before[top] - 2.0 * at[top] + after[top]
    tops = at[top] - (after[top] - before[top]) ** 2 / (8.0 * bend)
    return float(max(values[0], values[-1], tops.max(initial=-np.inf)))
