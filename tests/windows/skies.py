"""Stations and skies for the tests of this room: real ones, and invented curves that stay within the Moon's pace."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.sky import Sky, make_sky
from pipeline.inputs.model import HorizonPoint, Mount, Position, Station
from pipeline.windows.moon_passes import Look, MoonPasses, find_passes, look_at_moon
from pipeline.windows.rules import FASTEST_MOON_DEG_PER_S, Rules, make_rules
from pipeline.windows.scene import sites_of

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


def station(
    call: str = "QA1",
    latitude_deg: float = 48.0,
    longitude_deg: float = 11.0,
    *,
    height_m: float = 0.0,
    minimum_elevation_deg: float = 0.0,
    horizon: Sequence[tuple[float, float]] = (),
    maximum_elevation_deg: float = 90.0,
    stops: tuple[float, float] | None = None,
) -> Station:
    """A station with only what the rules ask for; `stops` is the mount's azimuth range, clockwise."""
    return Station(
        call=call,
        position=Position(latitude_deg, longitude_deg, height_m),
        minimum_elevation_deg=minimum_elevation_deg,
        horizon=tuple(HorizonPoint(azimuth, elevation) for azimuth, elevation in horizon),
        mount=Mount(
            maximum_elevation_deg=maximum_elevation_deg,
            azimuth_from_deg=stops[0] if stops else None,
            azimuth_to_deg=stops[1] if stops else None,
        ),
    )


def utc(year: int, month: int, day: int, hour: int = 0) -> dt.datetime:
    """An instant."""
    return dt.datetime(year, month, day, hour, tzinfo=dt.UTC)


@lru_cache(maxsize=8)
def sky_between(start: dt.datetime, end: dt.datetime) -> Sky:
    """The sky of a stretch, made once a process."""
    return make_sky(start, end)


def passes_between(
    start: dt.datetime, end: dt.datetime, stations: Sequence[Station], *, refraction: bool = True
) -> tuple[Sky, list[MoonPasses]]:
    """Passes of all stations over a stretch, as the plan computes them."""
    sky = sky_between(start, end)
    look = look_at_moon(sky, sites_of(sky, stations), refraction)
    return sky, find_passes(look, make_rules(stations), len(stations), 0.0, sky.duration_s)


def invented_pass(latitude_deg: float, declination_deg: float, start_deg: float, drift_deg_per_h: float) -> Look:
    """A point that circles the pole at the pace of the Moon; where declination meets latitude it passes the zenith."""
    turn_deg_per_s = 0.97 * FASTEST_MOON_DEG_PER_S
    sin_latitude, cos_latitude = np.sin(np.radians(latitude_deg)), np.cos(np.radians(latitude_deg))

    def look(owner: IntArray, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        angle = np.radians(start_deg + turn_deg_per_s * time_s) + 0.0 * owner
        declination = np.radians(declination_deg + drift_deg_per_h * time_s / 3600.0) + 0.0 * owner
        east = -np.cos(declination) * np.sin(angle)
        north = cos_latitude * np.sin(declination) - sin_latitude * np.cos(declination) * np.cos(angle)
        up = sin_latitude * np.sin(declination) + cos_latitude * np.cos(declination) * np.cos(angle)
        return np.degrees(np.arctan2(east, north)) % 360.0, np.degrees(np.arctan2(up, np.hypot(east, north)))

    return look


def invented_wobble(
    azimuth_deg: float, elevation_deg: float, turn_share: float, rise_share: float, beat_s: float, phase: float
) -> Look:
    """A point that drifts and trembles: many touches of the horizon, some for seconds only.

    The shares divide the pace between going round and going up; the tremble takes what is left, so that the whole
    stays within FASTEST_MOON_DEG_PER_S.
    """
    pace = 0.98 * FASTEST_MOON_DEG_PER_S
    rise = rise_share * pace
    tremble = 0.3 * pace
    around = turn_share * np.sqrt(max(pace**2 - (abs(rise) + tremble) ** 2, 0.0))
    pulse = 2 * np.pi / beat_s

    def look(owner: IntArray, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        time = time_s + 0.0 * owner
        elevation = elevation_deg + rise * time + tremble / pulse * np.sin(pulse * time + phase)
        return (azimuth_deg + around * time) % 360.0, elevation

    return look


def open_on_grid(
    one: Station, azimuth_deg: FloatArray, elevation_deg: FloatArray
) -> tuple[npt.NDArray[np.bool_], FloatArray]:
    """Whether the station may see the Moon, written out plainly and apart from `Rules`; and the mask."""
    if one.horizon:
        skyline = sorted((point.azimuth_deg % 360.0, point.elevation_deg) for point in one.horizon)
        mask = np.interp(azimuth_deg, [a for a, _ in skyline], [e for _, e in skyline], period=360.0)
    else:
        mask = np.zeros_like(azimuth_deg)
    mount = one.mount
    fine = (elevation_deg >= mask) & (elevation_deg >= one.minimum_elevation_deg)
    if mount.maximum_elevation_deg < 90.0:
        fine &= elevation_deg <= mount.maximum_elevation_deg
    if mount.azimuth_from_deg is not None and mount.azimuth_to_deg is not None:
        first, last = mount.azimuth_from_deg, mount.azimuth_to_deg
        fine &= (
            (first <= azimuth_deg) & (azimuth_deg <= last)
            if first < last
            else ((azimuth_deg >= first) | (azimuth_deg <= last))
        )
    return fine, mask


def stretches(fine: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of every run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], fine, [False]]).astype(np.int8)))
    return [(int(first), int(last) - 1) for first, last in zip(edges[::2], edges[1::2], strict=True)]


def rules_of(*stations: Station) -> Rules:
    """Short for the tests."""
    return make_rules(stations)
