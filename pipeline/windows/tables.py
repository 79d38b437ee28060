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
    lower = np.minimum(scene.home.moon.elevation_deg, scene.partner.moon.elevation_deg)
    columns["maximum_lower_elevation_deg"] = np.maximum.reduceat(lower, first) if first.size else lower
    columns["opens_by"] = np.array([word for w in pairs for word in w.opens_by], dtype=object)
    columns["closes_by"] = np.array([word for w in pairs for word in w.closes_by], dtype=object)
    return pd.DataFrame(columns)


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
