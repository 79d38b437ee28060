"""The alignment table's words: each landmark with true and compass bearing, distance, elevation, and its use.

From the station's landmarks by `landmarks` and `compass`.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

import numpy as np

from pipeline.inputs.model import Landmark, Station
from pipeline.sheets.compass import Declination
from pipeline.sheets.landmarks import Place, Sight, place_by_digits, sight
from pipeline.windows.rules import HORIZON, MOUNT_AZIMUTH, MOUNT_ELEVATION, make_rules
from pipeline.wording import formats, safe_side

# A landmark known worse than this share of the beam finds the direction and does not set the dial.
SETS_DIAL_SHARE = 0.25
REFUSED = "refused: give the station's coordinates"
TO_FIND = "to find only, not to set the dial"
# A bearing that may be off by more than this finds nothing either.
FINDS_WITHIN_DEG = 30.0
TOO_NEAR = "no bearing: too near for the digits of its place"
# The air seldom lets one sight farther than this (judgement).
FARTHEST_M = 40_000.0
BEHIND, OUT_OF_REACH, TOO_FAR = "behind your own skyline", "outside the mount's reach", "too far to be seen"


@dataclass(frozen=True)
class LandmarkLine:
    """A printed line; empty words where a figure is not known."""

    name: str
    azimuth: str
    compass: str
    distance: str
    elevation: str
    elevation_range: str
    note: str


@dataclass(frozen=True)
class Alignment:
    """Landmarks that can be sighted, the name of the best one that sets the dial, and those of no use with why."""

    lines: tuple[LandmarkLine, ...]
    best: str
    of_no_use: tuple[tuple[str, str], ...] = ()


def align(station: Station, beamwidth_deg: float, declination: Declination) -> Alignment:
    """Landmarks in the order of the station file. A station known by its locator alone gets no computed bearing."""
    lines, best, of_no_use = [], ("", math.inf), []
    for landmark in station.landmarks:
        seen = _seen(station, landmark)
        hindrance = _hindrance(station, landmark, seen)
        if hindrance:
            of_no_use.append((landmark.name, hindrance))
            continue
        lines.append(_line(landmark, seen, beamwidth_deg, declination))
        off = seen.bearing_uncertainty_deg if seen else SETS_DIAL_SHARE * beamwidth_deg
        usable = seen is not None or landmark.azimuth_deg is not None
        if usable and off <= SETS_DIAL_SHARE * beamwidth_deg and off < best[1]:
            best = (landmark.name, off)
    return Alignment(tuple(lines), best[0], tuple(of_no_use))


def _hindrance(station: Station, landmark: Landmark, seen: Sight | None) -> str:
    """Why a landmark cannot be sighted from the dish; nothing where it can, or where nothing is known of it."""
    if seen is not None and seen.distance_m > FARTHEST_M:
        return TOO_FAR
    bearing = landmark.azimuth_deg if seen is None else seen.bearing_deg
    if bearing is None or (seen is not None and seen.bearing_uncertainty_deg > FINDS_WITHIN_DEG):
        return ""
    elevation = None if seen is None else seen.elevation_deg
    # Without a height it counts as level, where a mount always reaches and no skyline is asked.
    highest = (elevation or 0.0) + ((seen.elevation_uncertainty_deg or 0.0) if seen else 0.0)
    clear = make_rules([station]).clearances(np.zeros(1, dtype=np.int64), np.array([bearing]), np.array([highest]))
    if clear[MOUNT_AZIMUTH].item() < 0.0 or clear[MOUNT_ELEVATION].item() < 0.0:
        return OUT_OF_REACH
    return BEHIND if station.horizon and elevation is not None and clear[HORIZON].item() < 0.0 else ""


def ring_words(station: Station, beamwidth_deg: float, declination: Declination, night: dt.date) -> str:
    """The trick that leaves no offset on a dial whose ring can be turned, and what to type where it cannot."""
    found = align(station, beamwidth_deg, declination)
    best = next((line for line in found.lines if line.name == found.best), None)
    on = f"on {best.name} turn the ring to {best.azimuth}" if best else "turn the ring to a known bearing"
    return f"For no offset {on}; else type night {night.isoformat()} --dial-offset."


def of_no_use_words(alignment: Alignment) -> str:
    """`Not usable tonight: church (behind your own skyline).`"""
    if not alignment.of_no_use:
        return ""
    named = formats.listed([f"{name} ({why})" for name, why in alignment.of_no_use])
    return f"Not usable tonight: {named}."


def _seen(station: Station, landmark: Landmark) -> Sight | None:
    place = station.position
    if landmark.latitude_deg is None or landmark.longitude_deg is None or place.locator:
        return None
    here = place_by_digits(place.latitude_deg, place.longitude_deg, _height(station))
    return sight(here, place_by_digits(landmark.latitude_deg, landmark.longitude_deg, landmark.height_m))


def _height(station: Station) -> float | None:
    """The station's height where its file gives one."""
    return None if "position.height_m" in station.assumed else station.position.height_m


def _line(landmark: Landmark, seen: Sight | None, beamwidth_deg: float, declination: Declination) -> LandmarkLine:
    if seen is None:
        if landmark.azimuth_deg is None:
            return LandmarkLine(landmark.name, "", "", "", "", "", REFUSED)
        bearing = formats.azimuth(landmark.azimuth_deg)
        return LandmarkLine(landmark.name, bearing, _compass(declination, landmark.azimuth_deg), "", "", "", "as given")
    off = seen.bearing_uncertainty_deg
    if off > FINDS_WITHIN_DEG:
        return LandmarkLine(landmark.name, "", "", distance_words(seen.distance_m), "", "", TOO_NEAR)
    sure = f"within {_up(off)}°"
    digits = 1 if off < 0.5 else 0
    return LandmarkLine(
        name=landmark.name,
        azimuth=f"{round(seen.bearing_deg, digits) % 360:.{digits}f}°",
        compass=_compass(declination, seen.bearing_deg),
        distance=distance_words(seen.distance_m),
        elevation="" if seen.elevation_deg is None else formats.elevation(seen.elevation_deg),
        elevation_range=_elevation_range(seen),
        note=sure if off <= SETS_DIAL_SHARE * beamwidth_deg else f"{sure}: {TO_FIND}",
    )


def _compass(declination: Declination, true_deg: float) -> str:
    return f"{round(declination.magnetic_deg(true_deg)) % 360}°" if declination.compass_is_reliable else ""


def _elevation_range(seen: Sight) -> str:
    """`±1.3°` where it is worth telling."""
    off = seen.elevation_uncertainty_deg
    return "" if off is None or off < 0.1 else f"±{_up(off)}°"


def _up(value: float) -> str:
    """Rounded up to a tenth: an uncertainty is never told smaller than it is."""
    return safe_side.up(value, 1 if value < 10 else 0)


def distance_words(distance_m: float) -> str:
    """`840 m`, `4.2 km`, `15 km`."""
    if distance_m < 1000.0:
        return f"{round(distance_m, -1):.0f} m"
    return f"{distance_m / 1000.0:.1f} km" if distance_m < 100_000.0 else f"{distance_m / 1000.0:.0f} km"


def here(station: Station) -> Place:
    """The station's own place as its digits give it."""
    return place_by_digits(station.position.latitude_deg, station.position.longitude_deg, _height(station))


def compass_words(declination: Declination, year: int) -> str:
    """Which model says what about the compass here, and how far it can be believed."""
    if not declination.compass_is_reliable:
        return "A compass is of no use here: the magnetic pole is near."
    side = "east" if declination.east_deg >= 0 else "west"
    words = (
        f"Compass: points {abs(declination.east_deg):.1f}° {side} of true north ({declination.model}, epoch "
        f"{declination.valid_from}.0), good to {_up(declination.uncertainty_deg)}° away from steel."
    )
    if declination.date_is_covered:
        return words
    until = f"{declination.valid_from} to {declination.valid_until - 1}"
    return f"{words} The model is made for {until}; in {year} it is less sure."
