"""Where people must not be while the station sends: distances on the axis, and the sector of the low beam.

Distances by `link.exposure` (FCC OET Bulletin 65, ICNIRP 2020); the sector from the Moon's path during the slots. A
caution for the crew, never a statement of compliance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import radians, sin, tan

import numpy as np
import numpy.typing as npt

from pipeline.inputs.model import Station
from pipeline.link.exposure import ExposureDistances, exposure_distances
from pipeline.pairs.equipment import radiator_of
from pipeline.sheets.energy import DUTY

# Below this a beam of a dish on the ground reaches roofs, slopes and roads near by (judgement).
LOW_DEG = 10.0


@dataclass(frozen=True)
class LowSector:
    """A stretch of sending with a low beam: minutes by index, azimuths as the Moon goes, and the lowest elevation."""

    first: int
    last: int
    azimuth_from_deg: float
    azimuth_to_deg: float
    lowest_deg: float


def distances(station: Station, band: str, frequency_mhz: float) -> ExposureDistances:
    """Metres on the axis for the public and for the crew, at full power and averaged over alternating periods.

    Raises ValueError below 30 MHz, where fields and not densities are limited.
    """
    return exposure_distances(radiator_of(station, band, frequency_mhz), DUTY)


def low_sectors(
    azimuth_deg: npt.NDArray[np.float64],
    elevation_deg: npt.NDArray[np.float64],
    sending: Sequence[tuple[int, int]],
    beamwidth_deg: float,
) -> tuple[LowSector, ...]:
    """The parts of each sending stretch (first and last minute) in which the axis is below ten degrees.

    Times are a minute wider, azimuths half a beamwidth to each side; the beam turns the way the Moon goes.
    """
    found: list[LowSector] = []
    for begin, end in sending:
        low = np.flatnonzero(elevation_deg[begin : end + 1] < LOW_DEG) + begin
        runs = np.split(low, np.flatnonzero(np.diff(low) > 1) + 1)
        # The axis crosses ten degrees up to a minute before the first low minute and after the last.
        ends = [(max(int(run[0]) - 1, begin), min(int(run[-1]) + 1, end)) for run in runs if run.size]
        found += [_sector(azimuth_deg, elevation_deg, edges, beamwidth_deg) for edges in ends]
    return tuple(found)


def _sector(
    azimuth_deg: npt.NDArray[np.float64],
    elevation_deg: npt.NDArray[np.float64],
    edges: tuple[int, int],
    beamwidth_deg: float,
) -> LowSector:
    first, last = edges
    path = np.degrees(np.unwrap(np.radians(azimuth_deg[first : last + 1])))
    half = beamwidth_deg / 2.0
    return LowSector(
        first,
        last,
        float(path.min() - half) % 360.0,
        float(path.max() + half) % 360.0,
        float(elevation_deg[first : last + 1].min()),
    )


def lower_edge_m(elevation_deg: float, distance_m: float, beamwidth_deg: float, dish_diameter_m: float | None) -> float:
    """Height of the main beam's lower edge over the dish's centre at a distance, metres; negative below it.

    Near the dish the beam is a tube of its width; farther out the edge lies a beamwidth (12 dB) below the axis.
    """
    half_width = max((dish_diameter_m or 0.0) / 2.0, distance_m * tan(radians(min(beamwidth_deg, 80.0))))
    return distance_m * sin(radians(elevation_deg)) - half_width
