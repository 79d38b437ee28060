"""What the sky gives as tables: one row a window, a sample, a night; columns named in DEVELOPERS.md.

From windows, samples and the sky. Instants are UTC timestamps; nothing is rounded here.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.ephemeris.sky import Sky
from pipeline.ephemeris.tracks import Sites, bodies_at, see_from_centre
from pipeline.windows.instants import utc
from pipeline.windows.moon_passes import MoonPasses
from pipeline.windows.nights import Nights
from pipeline.windows.samples import End, see_from
from pipeline.windows.scene import Scene
from pipeline.windows.windows import Windows

# Between three samples, five minutes apart, 1.5 seconds: a kink of both arcs is found to 0.003 degree.
FINE_STEPS = 401

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


def samples_table(
    scene: Scene,
    period: Nights,
    window_night: IntArray,
    calls: Sequence[str],
    bands: Sequence[str],
) -> pd.DataFrame:
    """A row for each step inside the windows. `window_night` (windows,) is the index of each window's night."""
    steps = scene.steps
    columns: dict[str, object] = {
        "time_utc": utc(scene.sky.start, steps.time_s),
        "partner": np.array(calls, dtype=object)[steps.pair],
        "band": np.array(bands, dtype=object)[steps.pair],
        "night": np.array(period.dates, dtype=object)[window_night[steps.window]],
    }
    columns |= _end_columns("home", scene.home) | _end_columns("partner", scene.partner)
    columns |= {
        "declination_deg": scene.centre.declination_deg,
        "distance_km": scene.centre.distance_km,
        "moon_lit_fraction": scene.centre.lit_fraction,
    }
    return pd.DataFrame(columns)


def _end_columns(end: str, seen: End) -> dict[str, object]:
    return {
        f"{end}_azimuth_deg": seen.moon.azimuth_deg,
        f"{end}_elevation_deg": seen.moon.elevation_deg,
        f"{end}_refraction_deg": seen.refraction_deg,
        f"{end}_range_km": seen.moon.range_km,
        f"{end}_sun_separation_deg": seen.sun_separation_deg,
        f"{end}_sun_azimuth_deg": seen.sun.azimuth_deg,
        f"{end}_sun_elevation_deg": seen.sun.elevation_deg,
    }


def windows_table(
    scene: Scene,
    pairs: Sequence[Windows],
    period: Nights,
    window_night: IntArray,
    calls: Sequence[str],
    bands: Sequence[str],
) -> pd.DataFrame:
    """A row for each mutual window, in the order of partners and time.

    `window_night` (windows,) is the index of each window's night.
    """
    counts = [w.start_s.size for w in pairs]
    start = np.concatenate([w.start_s for w in pairs]) if pairs else np.zeros(0)
    end = np.concatenate([w.end_s for w in pairs]) if pairs else np.zeros(0)
    first = np.flatnonzero(np.diff(scene.steps.window, prepend=-1))
    last = np.append(first[1:], scene.steps.window.size) - 1 if first.size else first
    columns: dict[str, object] = {
        "partner": np.repeat(np.array(calls, dtype=object), counts),
        "band": np.repeat(np.array(bands, dtype=object), counts),
        "night": np.array(period.dates, dtype=object)[window_night],
        "window_start_utc": utc(scene.sky.start, start),
        "window_end_utc": utc(scene.sky.start, end),
        "duration_min": (end - start) / 60.0,
    }
    for name, seen in (("home", scene.home), ("partner", scene.partner)):
        for edge, row in (("start", first), ("end", last)):
            columns[f"{name}_azimuth_{edge}_deg"] = seen.moon.azimuth_deg[row]
            columns[f"{name}_elevation_{edge}_deg"] = seen.moon.elevation_deg[row]
            columns[f"{name}_apparent_elevation_{edge}_deg"] = seen.apparent_elevation_deg[row]
    columns["maximum_lower_elevation_deg"] = _highest_lower_deg(scene, first, last)
    columns["opens_by"] = np.array([word for w in pairs for word in w.opens_by], dtype=object)
    columns["closes_by"] = np.array([word for w in pairs for word in w.closes_by], dtype=object)
    return pd.DataFrame(columns)


def _highest_lower_deg(scene: Scene, first: IntArray, last: IntArray) -> FloatArray:
    """Greatest of the lower of both geometric elevations in each window, degrees (windows,).

    `first` and `last` (windows,) are its rows. Each elevation is a parabola through the highest sample and its
    neighbours; their lower one may have its top at a kink, so a fine grid between the neighbours finds it.
    """
    ends = [end.moon.elevation_deg for end in (scene.home, scene.partner)]
    lower = np.minimum(*ends)
    if not first.size:
        return lower
    top = np.maximum.reduceat(lower, first)
    window = np.repeat(np.arange(first.size), last - first + 1)
    highest = np.flatnonzero(lower == top[window])
    best = highest[np.unique(window[highest], return_index=True)[1]]
    # A window of two samples is shorter than a step: the higher edge is its top.
    long = last - first >= 2
    rows = np.clip(best - 1, first, last - 2)[long, None] + np.arange(3)
    at, time = np.linspace(0.0, 1.0, FINE_STEPS), scene.steps.time_s[rows]
    grid = time[:, :1] + at * (time[:, 2:] - time[:, :1])
    fine = np.minimum(*(_parabola(time, elevation[rows], grid) for elevation in ends))
    top[long] = np.maximum(top[long], fine.max(axis=1))
    return top


def _parabola(time_s: FloatArray, values: FloatArray, grid_s: FloatArray) -> FloatArray:
    """Values at a grid (m, k) by the parabola through three points (m, 3)."""
    total = np.zeros(grid_s.shape)
    for point in range(3):
        others = [other for other in range(3) if other != point]
        weight = np.ones(grid_s.shape)
        for other in others:
            apart = time_s[:, point] - time_s[:, other]
            weight *= (grid_s - time_s[:, other, None]) / apart[:, None]
        total += weight * values[:, point, None]
    return total


def nights_table(
    sky: Sky,
    sites: Sites,
    period: Nights,
    windows: pd.DataFrame,
    home_pass: MoonPasses,
) -> pd.DataFrame:
    """A row for each night of the period, with or without windows; the Moon's figures are those at its highest."""
    instant_s = np.array([sky.seconds(instant) for instant in period.highest])
    bodies = bodies_at(sky, instant_s)
    centre = see_from_centre(bodies)
    home = see_from(bodies, sites.take(np.zeros(instant_s.size, dtype=np.int64)))
    edges = period.edges_s(sky.start)
    in_reach = windows.groupby("night")["partner"].nunique()
    return pd.DataFrame(
        {
            "night": period.dates,
            "partners_in_reach": [int(in_reach.get(date, 0)) for date in period.dates],
            "declination_deg": centre.declination_deg,
            "distance_km": centre.distance_km,
            "sun_separation_deg": home.sun_separation_deg,
            "moon_lit_fraction": centre.lit_fraction,
            "moon_elongation_deg": centre.elongation_deg,
            "moon_highest_utc": utc(sky.start, instant_s),
            "home_moonrise_utc": utc(sky.start, _first_within(home_pass.start_s, edges)),
            "home_moonset_utc": utc(sky.start, _first_within(home_pass.end_s, edges)),
        }
    )


def _first_within(instants: FloatArray, edges: FloatArray) -> FloatArray:
    """The first instant between each pair of edges; NaN where there is none."""
    place = np.searchsorted(instants, edges[:-1])
    padded = np.append(instants, np.inf)
    return np.where(padded[place] < edges[1:], padded[place], np.nan)
