"""Measured heights of a skyline merged with the points that stand there: pure, from points to points.

A measured height counts for its own degree. Measured azimuths near each other are joined by the straight line that a
skyline is; beside them a point keeps the line as it stood, so that one tree lifts no whole ridge.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.inputs.model import Station

# A height is measured for its degree: a point nearer than this is the same place.
SAME_DEG = 0.5
# So far beside a measured azimuth the line stands as it did.
BESIDE_DEG = 1.0
# Points nearer than this to each other follow one ridge (judgement).
ONE_RIDGE_DEG = 5.0
TURN_DEG = 360.0
DIGITS = 2


@dataclass(frozen=True)
class SkylinePoint:
    """A point, degrees; `kept` is one that nobody measured: it keeps the line as it stood beside a measured one."""

    azimuth_deg: float
    elevation_deg: float
    kept: bool = False


def horizon_points(station: Station) -> list[SkylinePoint]:
    """The points that count at a station, wherever they come from."""
    return [SkylinePoint(one.azimuth_deg, one.elevation_deg) for one in station.horizon]


def height_at(points: Sequence[SkylinePoint], azimuth_deg: float, elsewhere_deg: float) -> float:
    """The line through the points at an azimuth, round through north; `elsewhere_deg` where there is no point."""
    if not points:
        return elsewhere_deg
    ordered = sorted((one.azimuth_deg % TURN_DEG, one.elevation_deg) for one in points)
    azimuth, elevation = zip(*ordered, strict=True)
    return float(np.interp(azimuth_deg % TURN_DEG, azimuth, elevation, period=TURN_DEG))


def apart_deg(first: float, second: float) -> float:
    """How far two azimuths are apart, 0 to 180."""
    return abs((first - second + TURN_DEG / 2) % TURN_DEG - TURN_DEG / 2)


def merged(
    standing: Sequence[SkylinePoint], measured: Mapping[float, float], elsewhere_deg: float, over_terrain: bool = False
) -> list[SkylinePoint]:
    """The skyline with these heights by azimuth, by azimuth; `elsewhere_deg` counts where no point stood at all.

    Over terrain nothing is kept beside them: there a point wins over its own degree, and the tiles tell the rest.
    """
    stay = [one for one in standing if not any(_gives_way(one, azimuth) for azimuth in measured)]
    fresh = [SkylinePoint(azimuth % TURN_DEG, height) for azimuth, height in measured.items()]
    real = [*(one for one in stay if not one.kept), *fresh]
    beside = list[SkylinePoint]()
    for one in fresh if not over_terrain else ():
        for side in (-BESIDE_DEG, BESIDE_DEG):
            if any(_follows(other.azimuth_deg, one.azimuth_deg, side) for other in real if other is not one):
                continue
            azimuth = (one.azimuth_deg + side) % TURN_DEG
            if not any(apart_deg(other.azimuth_deg, azimuth) < SAME_DEG for other in (*stay, *beside)):
                height = round(height_at(standing, azimuth, elsewhere_deg), DIGITS)
                beside.append(SkylinePoint(azimuth, height, kept=True))
    return sorted((*stay, *fresh, *beside), key=lambda one: one.azimuth_deg % TURN_DEG)


def _gives_way(one: SkylinePoint, azimuth_deg: float) -> bool:
    """To a height measured in its place; a kept point also to one measured beside it."""
    apart = apart_deg(one.azimuth_deg, azimuth_deg)
    return apart < SAME_DEG or (one.kept and apart <= BESIDE_DEG + 1e-9)


def _follows(other_deg: float, azimuth_deg: float, side: float) -> bool:
    """Whether another point stands on this side of an azimuth and near enough to be of one ridge with it."""
    on_side = ((other_deg - azimuth_deg) * math.copysign(1.0, side)) % TURN_DEG
    return 0.0 < on_side <= ONE_RIDGE_DEG
