"""An antenna's whole pattern in three parts that integrate to the sphere: main beam, side lobes, what lies behind.

The main beam is the Gaussian of `antenna`, the side lobes the average ones of ITU-R F.1245 (for an array those of
`antenna`) from where they meet it to 90 degrees, and the declared spill-over is spread evenly behind the aperture.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from pipeline.link.antenna import Beam, main_beam_share, side_lobes_dbi

Array = npt.NDArray[np.float64]

# Rings about the axis, and points on a ring: T_sys within 0.02 dB of an integration that is twenty times finer.
SIDE_RINGS, BACK_RINGS, RING_POINTS = 16, 8, 32
# Steps at which the side lobes' power is summed up outwards.
CUMULATED = 2000


@dataclass(frozen=True)
class PartShares:
    """Shares of all that the antenna takes in, 0 to 1, together 1."""

    main: float
    side: float
    back: float


@dataclass(frozen=True)
class Rings:
    """Directions that stand for a part of the pattern: angle off the axis (k,), each ring's share of the part (k,).

    The points of a ring, `around_deg` (l,), count alike; they run from the upward direction to both sides.
    """

    off_axis_deg: Array
    share: Array
    around_deg: Array


def part_shares(beam: Beam, spillover_fraction: float) -> PartShares:
    """Main beam's solid angle times gain, the declared spill-over, and the side lobes as the rest."""
    if meets_side_lobes_deg(beam) >= 90.0:
        return PartShares(1.0 - spillover_fraction, 0.0, spillover_fraction)
    main = float(main_beam_share(beam.beamwidth_deg, beam.gain_dbi, spillover_fraction))
    return PartShares(main, 1.0 - main - spillover_fraction, spillover_fraction)


@lru_cache(maxsize=256)
def meets_side_lobes_deg(beam: Beam) -> float:
    """Where the Gaussian main beam falls to the side lobes, degrees off the axis; 90 where it does not before."""
    if beam.array:
        return min(beam.beamwidth_deg * float(np.sqrt(20.0 / 12.0)), 90.0)
    theta = np.linspace(0.0, min(5.0 * beam.beamwidth_deg, 90.0), 20_001)[1:]
    main_dbi = beam.gain_dbi - 12.0 * (theta / beam.beamwidth_deg) ** 2
    met = np.flatnonzero(main_dbi <= side_lobes_dbi(theta, beam))
    return float(theta[met[0]]) if met.size else 90.0


@lru_cache(maxsize=256)
def side_rings(beam: Beam, rings: int = SIDE_RINGS, points: int = RING_POINTS) -> Rings:
    """Rings of the side lobes, closest where most of their power is: Gauss nodes over the power summed up outwards."""
    first = min(meets_side_lobes_deg(beam), 89.9)
    theta = np.geomspace(first, 90.0, CUMULATED)
    density = 10.0 ** (side_lobes_dbi(theta, beam) / 10.0) * np.sin(np.radians(theta))
    power = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2.0 * np.diff(theta))])
    nodes, weights = np.polynomial.legendre.leggauss(rings)
    return Rings(np.interp((nodes + 1.0) / 2.0, power / power[-1], theta), weights / 2.0, _around(points))


@lru_cache(maxsize=4)
def back_rings(rings: int = BACK_RINGS, points: int = RING_POINTS) -> Rings:
    """Rings of the half sphere behind the aperture, lit evenly."""
    nodes, weights = np.polynomial.legendre.leggauss(rings)
    return Rings(90.0 + np.degrees(np.arcsin((nodes + 1.0) / 2.0)), weights / 2.0, _around(points))


def main_rings(beam: Beam, rings: int = 6, points: int = 16) -> Rings:
    """Rings of the Gaussian main beam: Gauss nodes over the power that lies outside each."""
    nodes, weights = np.polynomial.legendre.leggauss(rings)
    outside = (nodes + 1.0) / 2.0
    theta = beam.beamwidth_deg * np.sqrt(-np.log(outside) / (4.0 * np.log(2.0)))
    return Rings(np.minimum(theta, 90.0), weights / 2.0, _around(points))


def directions(rings: Rings, around_deg: Array, elevation_deg: npt.ArrayLike) -> tuple[Array, Array]:
    """Elevation, and azimuth less the aim's, degrees, of points (l,) of the rings about aims (...): (..., k, l)."""
    aim = np.radians(np.asarray(elevation_deg, dtype=float))[..., None, None]
    off, around = np.radians(rings.off_axis_deg)[:, None], np.radians(around_deg)
    up, ahead = np.sin(off) * np.cos(around), np.cos(off)
    elevation = np.arcsin(np.clip(np.sin(aim) * ahead + np.cos(aim) * up, -1.0, 1.0))
    azimuth = np.arctan2(np.sin(off) * np.sin(around), np.cos(aim) * ahead - np.sin(aim) * up)
    return np.degrees(elevation), np.degrees(azimuth)


def _around(points: int) -> Array:
    return 360.0 * (np.arange(points) + 0.5) / points
