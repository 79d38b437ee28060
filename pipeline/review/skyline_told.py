"""What the remarks of a log say of the skyline: "lost behind trees at 304, 6.0" is a point that the file may lack.

From the remarks and the Moon's own path about that time; a point is only ever proposed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.refraction import refraction_deg
from pipeline.ephemeris.tracks import see_moon
from pipeline.record.inputs import Inputs
from pipeline.record.log_entry import LogEntry
from pipeline.record.skyline_points import SkylinePoint, height_at
from pipeline.review.moments import stretches
from pipeline.windows.standing import standing_at

FloatArray = npt.NDArray[np.float64]

HINDERS = (
    r"behind|hidden|blocked|obstructed|obstruction|skyline|horizon|trees?|woods?|ridge|hill|roof|house|building|wall"
)
DEGREES = r"\s*(?:°|deg(?:rees)?\b)?"
POINT = re.compile(
    rf"\b(?:{HINDERS})\b.*?\b(?:at|azimuth)\s+(?:azimuth\s+)?(\d{{1,3}}(?:\.\d+)?){DEGREES}"
    rf"\s*[,;/ ]\s*(?:elevation\s+|height\s+)?(\d{{1,2}}(?:\.\d+)?){DEGREES}(?![\d:.])",
    re.IGNORECASE,
)
HIGHEST_DEG, TURN_DEG = 45.0, 360.0
# A skyline known as well as this needs no point more.
KNOWN_WITHIN_DEG = 0.3
# The Moon is looked for so long before and after the time of the line, each minute.
AROUND_S, STEP_S = 5400.0, 60.0


@dataclass(frozen=True)
class ToldPoint:
    """A point that a remark tells, degrees; what the file has there, and how far the Moon passed it about that time."""

    entry: LogEntry
    azimuth_deg: float
    elevation_deg: float
    stands_deg: float
    moon_apart_deg: float


def point_in(remarks: str) -> tuple[float, float] | None:
    """Azimuth and elevation that a remark tells of a skyline, degrees; None where it tells none."""
    found = POINT.search(remarks)
    if found is None:
        return None
    azimuth, elevation = float(found[1]), float(found[2])
    return (azimuth % TURN_DEG, elevation) if azimuth <= TURN_DEG and elevation <= HIGHEST_DEG else None


def told_points(entries: Sequence[LogEntry], inputs: Inputs) -> tuple[ToldPoint, ...]:
    """The points that home's file does not have yet, in the order of the log, each place once.

    Raises EphemerisUnavailable for dates beyond the kernel.
    """
    places = standing_at(inputs, [entry.time_utc for entry in entries])
    # What is told of another site belongs to that site's skyline.
    entries = [entry for entry, one in zip(entries, places, strict=True) if one.home.title == inputs.home.title]
    standing = [SkylinePoint(one.azimuth_deg, one.elevation_deg) for one in inputs.home.horizon]
    said: dict[tuple[float, float], tuple[LogEntry, float]] = {}
    for entry in entries:
        point = point_in(entry.remarks)
        if point is None:
            continue
        stands = height_at(standing, point[0], 0.0)
        if not standing or abs(stands - point[1]) > KNOWN_WITHIN_DEG:
            said.setdefault(point, (entry, stands))
    if not said:
        return ()
    apart = moon_apart_deg(inputs, [entry for entry, _ in said.values()], np.array(list(said)))
    return tuple(
        ToldPoint(entry, *point, stands, float(far))
        for (point, (entry, stands)), far in zip(said.items(), apart, strict=True)
    )


def moon_apart_deg(inputs: Inputs, entries: Sequence[LogEntry], points: FloatArray) -> FloatArray:
    """How near home's Moon came to each point (n, 2) about the time of its line, (n,), degrees."""
    shifts = np.arange(-AROUND_S, AROUND_S + STEP_S, STEP_S)
    apart = np.full(len(entries), np.inf)
    for stretch in stretches(inputs, [entry.time_utc for entry in entries]):
        home = stretch.standpoints.sites.take(np.zeros(stretch.rows.size, dtype=np.int64)).against_times()
        moon = see_moon(stretch.sky, home, stretch.time_s[:, None] + shifts)
        up = moon.elevation_deg + refraction_deg(moon.elevation_deg, home.height_m)
        azimuth, elevation = points[stretch.rows].T[:, :, None]
        aside = (moon.azimuth_deg - azimuth + TURN_DEG / 2) % TURN_DEG - TURN_DEG / 2
        apart[stretch.rows] = np.hypot(aside * np.cos(np.radians(elevation)), up - elevation).min(axis=1)
    return apart
