"""Where inside the windows the path is worked out, and what one end sees there: a row for each step and both edges.

From the windows of all pairs at once, and Moon and Sun at the steps; elevations are geometric, ranges each end's own.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.refraction import refraction_deg
from pipeline.ephemeris.sky import Sky
from pipeline.ephemeris.tracks import Bearing, Bodies, Sites, bearings, moon_direction_icrs, separation_deg

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Steps:
    """Where the link is computed: time (n,) in s of the sky, its pair and its window, sorted by window and time."""

    time_s: FloatArray
    pair: IntArray
    window: IntArray

    def months(self, sky: Sky) -> IntArray:
        """The month (UTC, 1 to 12) whose air counts at each step, (n,): that in which its window begins."""
        return sky.month(self.time_s)[np.searchsorted(self.window, self.window)]

    def take(self, rows: IntArray) -> Steps:
        """Some of the steps, by index (m,)."""
        return Steps(self.time_s[rows], self.pair[rows], self.window[rows])


@dataclass(frozen=True)
class End:
    """What one end sees at each step, all (n,).

    `right_ascension_deg` and `declination_deg` are those of its own Moon in axes of J2000, for maps of the sky.
    """

    moon: Bearing
    refraction_deg: FloatArray
    sun: Bearing
    sun_separation_deg: FloatArray
    right_ascension_deg: FloatArray
    declination_deg: FloatArray

    @property
    def apparent_elevation_deg(self) -> FloatArray:
        """Where the antenna points: geometric elevation plus refraction, (n,)."""
        return self.moon.elevation_deg + self.refraction_deg

    def take(self, rows: IntArray) -> End:
        """The same end at some of its steps, by index (m,)."""
        return End(
            self.moon.take(rows),
            self.refraction_deg[rows],
            self.sun.take(rows),
            self.sun_separation_deg[rows],
            self.right_ascension_deg[rows],
            self.declination_deg[rows],
        )


def make_steps(start_s: FloatArray, end_s: FloatArray, pair: IntArray, origin: dt.datetime, step_minutes: int) -> Steps:
    """Both edges of every window and the UTC multiples of the step between them.

    Edges and pair are each window's, (windows,); seconds of the sky.
    """
    step = step_minutes * 60.0
    # Seconds from the sky's start to the UTC midnight before it: multiples count from there.
    midnight = -(origin - origin.replace(hour=0, minute=0, second=0, microsecond=0)).total_seconds()
    first = np.floor((start_s - midnight) / step) + 1
    last = np.ceil((end_s - midnight) / step) - 1
    inner = np.maximum(last - first + 1, 0).astype(np.int64)
    window = np.repeat(np.arange(start_s.size), inner + 2)
    begin = np.concatenate([[0], np.cumsum(inner + 2)])[:-1].astype(np.int64)
    place = np.arange(window.size) - begin[window]
    time = midnight + (first[window] + place - 1) * step
    time = np.where(place == 0, start_s[window], np.where(place == inner[window] + 1, end_s[window], time))
    return Steps(time, pair[window], window)


def see_from(bodies: Bodies, sites: Sites) -> End:
    """Moon and Sun from these stations, one station a time (or broadcast)."""
    moon, sun = bearings(bodies, sites)
    right_ascension, declination = moon_direction_icrs(bodies, sites)
    return End(
        moon=moon,
        refraction_deg=refraction_deg(moon.elevation_deg, sites.height_m),
        sun=sun,
        sun_separation_deg=separation_deg(moon, sun),
        right_ascension_deg=right_ascension,
        declination_deg=declination,
    )
