"""What stands around an antenna, and which share of its pattern meets ground, air and open sky at an aim.

Skyline (straight lines between points, cyclic) and the air's transmission over elevation; the shares are integrals of
the pattern over the sphere: the main beam at each aim, side lobes and back once, as a table by azimuth and clearance.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from pipeline.link.antenna import HALF_POWER_IN_SIGMAS, Beam
from pipeline.link.pattern import PartShares, Rings, back_rings, directions, side_rings

Array = npt.NDArray[np.float64]

AZIMUTH_STEP_DEG = 5.0
# Nodes of the clearance: close in beamwidths where the beam leaves the ground, then wide apart in degrees.
NODES_IN_BEAMWIDTHS = (-4.0, -2.5, -2.0, -1.5, -1.0, -0.75, -0.5, -0.25, 0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.5)
NODES_DEG = (1.0, 2.0, 3.5, 5.0, 7.5, 10.0, 14.0, 20.0, 28.0, 36.0, 45.0, 55.0, 65.0, 77.0, 90.0, 120.0)
BACK_NODES_DEG = (0.0, 8.0, 20.0, 35.0, 50.0, 65.0, 80.0, 90.0, 120.0)
ACROSS, ALONG = 9, 24
# The skyline that rings are held against, to a quarter of a degree.
SKYLINE_STEPS = 1440
# Azimuths worked out together: what they touch then stays in the processor's own cache.
ROWS_AT_ONCE = 6
# A main beam this many standard deviations above skyline and horizon meets no ground, and air that bends little.
CLEAR_SIGMAS = 5.0


@dataclass(frozen=True)
class Surroundings:
    """Skyline: azimuths (m,), sorted in 0 to 360, and elevations (m,); air: transmissions (k,) at elevations (k,).

    Degrees; the air's elevations rise, transmissions are 0 to 1.
    """

    azimuth_deg: Array
    elevation_deg: Array
    air_elevation_deg: Array
    transmission: Array

    @property
    def flat(self) -> bool:
        """Whether the skyline stands equally high all round."""
        return bool(np.ptp(self.elevation_deg) == 0.0)

    def skyline_deg(self, azimuth_deg: Array) -> Array:
        """The skyline at azimuths of any shape, degrees."""
        return np.asarray(np.interp(azimuth_deg, self.azimuth_deg, self.elevation_deg, period=360.0))

    def passed(self, elevation_deg: Array) -> Array:
        """What the air lets through at apparent elevations of any shape, 0 to 1; below the horizon as at it."""
        return np.asarray(np.interp(elevation_deg, self.air_elevation_deg, self.transmission))


class GroundAndAir(NamedTuple):
    """Shares of one part of the pattern that meet ground, and air (one less its transmission, above the skyline)."""

    ground: Array
    air: Array


@dataclass(frozen=True)
class Shares:
    """Shares of the whole pattern at some aims, arrays of one shape, together 1.

    Ground, air, and open sky apart for the main beam and for side lobes with back.
    """

    ground: Array
    air: Array
    main_open: Array
    rest_open: Array
    main_ground: Array  # of the main beam alone, 0 to 1

    def take(self, rows: npt.NDArray[np.int64]) -> Shares:
        """The same at some of the aims, by index (m,)."""
        return Shares(
            self.ground[rows], self.air[rows], self.main_open[rows], self.rest_open[rows], self.main_ground[rows]
        )


def main_beam_met(around: Surroundings, beamwidth_deg: float, azimuth_deg: Array, elevation_deg: Array) -> GroundAndAir:
    """The Gaussian main beam at aims (n,): Gauss-Hermite nodes across, the normal integral along each.

    A beam that stands clear of everything meets no ground; three nodes along are enough for its air.
    """
    sigma = beamwidth_deg / HALF_POWER_IN_SIGMAS
    highest = float(around.elevation_deg.max())
    air = _clear_air(around, sigma, elevation_deg)
    ground = np.zeros_like(air)
    near = np.flatnonzero(elevation_deg < max(highest, 0.0) + CLEAR_SIGMAS * sigma)
    if near.size:
        ground[near], air[near] = _cut_beam(around, sigma, azimuth_deg[near], elevation_deg[near])
    return GroundAndAir(ground, air)


@lru_cache(maxsize=4)
def _across(count: int) -> tuple[Array, Array]:
    """Nodes and weights of Gauss and Hermite, (n,) each."""
    return np.polynomial.hermite_e.hermegauss(count)


@lru_cache(maxsize=1)
def _along() -> tuple[Array, Array]:
    """Nodes and weights of Gauss and Legendre, (n,) each."""
    return np.polynomial.legendre.leggauss(ALONG)


def _clear_air(around: Surroundings, sigma: float, elevation_deg: Array) -> Array:
    nodes, weights = _across(3)
    passed = around.passed(np.minimum(elevation_deg[:, None] + sigma * nodes, 90.0))
    return np.asarray(1.0 - passed @ weights / weights.sum())


def _cut_beam(around: Surroundings, sigma: float, azimuth_deg: Array, elevation_deg: Array) -> tuple[Array, Array]:
    """Ground and air of beams near the skyline, both (n,)."""
    nodes, weights = _across(ACROSS)
    weights = weights / weights.sum()
    aim, across = np.radians(elevation_deg)[:, None], np.radians(np.clip(sigma * nodes, -89.0, 89.0))
    turned = np.degrees(np.arctan2(np.sin(across), np.cos(aim) * np.cos(across)))
    middle = np.degrees(np.arcsin(np.sin(aim) * np.cos(across)))
    edge = (around.skyline_deg(azimuth_deg[:, None] + turned) - middle) / sigma
    ground = ndtr(edge)
    # Along: Gauss-Legendre from the skyline, or five sigma below, to five sigma above.
    low = np.clip(edge, -CLEAR_SIGMAS, CLEAR_SIGMAS)
    places, steps = _along()
    half = (CLEAR_SIGMAS - low) / 2.0
    along = low[..., None] + half[..., None] * (places + 1.0)
    density = np.exp(-0.5 * along**2) / np.sqrt(2.0 * np.pi)
    lost = 1.0 - around.passed(np.minimum(middle[..., None] + sigma * along, 90.0))
    air = half * ((density * lost) @ steps)
    return ground @ weights, air @ weights


@dataclass(frozen=True)
class RestTable:
    """Side lobes and back over azimuth (a,) and clearance (c,): ground and air, each (a, c).

    Of what the two take in together, the side lobes by their share. A row is worked out when an aim asks for it, and
    NaN until then: a partner that is met over a part of the sky needs a fifth to a half of them.
    """

    around: Surroundings
    beam: Beam
    shares: PartShares
    azimuths: int
    clearance_deg: Array
    ground: Array
    air: Array

    def met(self, azimuth_deg: Array, elevation_deg: Array) -> GroundAndAir:
        """Ground and air at aims (n,): linear between the nodes."""
        clearance = elevation_deg - self.around.skyline_deg(azimuth_deg)
        row = (azimuth_deg % 360.0) * self.azimuths / 360.0
        west = np.floor(row).astype(int)
        east_part = row - west
        west, east = west % self.azimuths, (west + 1) % self.azimuths
        self._work_out(np.unique([west, east]))
        place = np.interp(clearance, self.clearance_deg, np.arange(self.clearance_deg.size))
        low = np.minimum(place.astype(int), self.clearance_deg.size - 2)
        upper_part = place - low

        def at(values: Array) -> Array:
            rows = [
                values[side, low] * (1.0 - upper_part) + values[side, low + 1] * upper_part for side in (west, east)
            ]
            return np.asarray(rows[0] * (1.0 - east_part) + rows[1] * east_part)

        return GroundAndAir(at(self.ground), at(self.air))

    def _work_out(self, rows: npt.NDArray[np.int64]) -> None:
        """Those of some rows (k,) that nobody has asked for before."""
        rows = rows[np.isnan(self.ground[rows, 0])]
        if not rows.size:
            return
        around, shares, clearance = self.around, self.shares, self.clearance_deg
        azimuth, rest = rows * 360.0 / self.azimuths, shares.side + shares.back
        ground, air = np.zeros((2, rows.size, clearance.size))
        # What lies behind is spread over half a sphere: few nodes tell it.
        few = np.concatenate([clearance[:1], np.array(BACK_NODES_DEG)])
        for rings, share, nodes in ((side_rings(self.beam), shares.side, clearance), (back_rings(), shares.back, few)):
            if share > 0.0:
                aims = np.minimum(around.skyline_deg(azimuth)[:, None] + nodes, 90.0)
                met = _rings_met(around, rings, azimuth, aims)
                ground += _at_nodes(clearance, nodes, met.ground) * share / rest
                air += _at_nodes(clearance, nodes, met.air) * share / rest
        self.ground[rows], self.air[rows] = ground, air


def rest_table(around: Surroundings, beam: Beam, shares: PartShares) -> RestTable:
    """The table of side lobes and back for one antenna at one place."""
    count = 1 if around.flat else round(360.0 / AZIMUTH_STEP_DEG)
    near = np.array(NODES_IN_BEAMWIDTHS) * beam.beamwidth_deg
    clearance = np.unique(
        np.concatenate([near[near < 90.0], np.array(NODES_DEG)[np.array(NODES_DEG) > near[-1]], [120.0]])
    )
    unknown = np.full((2, count, clearance.size), np.nan)
    return RestTable(around, beam, shares, count, clearance, *unknown)


def _at_nodes(wanted: Array, nodes: Array, values: Array) -> Array:
    """Values (a, k) at other nodes (c,) of the clearance, linear: (a, c)."""
    if nodes is wanted:
        return values
    return np.stack([np.interp(wanted, nodes, row) for row in values])


def _rings_met(around: Surroundings, rings: Rings, azimuth_deg: Array, aims_deg: Array) -> GroundAndAir:
    """Ground and air of rings about aims (a, c), each row at its azimuth: both (a, c).

    A point of a ring stands for its arc, which climbs half way to both neighbours: it counts by the part of it that
    lies below the skyline.
    """
    ground, air = np.empty(aims_deg.shape), np.empty(aims_deg.shape)
    skyline = around.skyline_deg(np.arange(SKYLINE_STEPS) * 360.0 / SKYLINE_STEPS)
    for first in range(0, azimuth_deg.size, ROWS_AT_ONCE):
        some = slice(first, first + ROWS_AT_ONCE)
        ground[some], air[some] = _some_rings_met(around, skyline, rings, azimuth_deg[some], aims_deg[some])
    return GroundAndAir(ground, air)


def _some_rings_met(
    around: Surroundings, skyline_deg: Array, rings: Rings, azimuth_deg: Array, aims_deg: Array
) -> tuple[Array, Array]:
    """The same for a few rows; `skyline_deg` by steps of a quarter of a degree."""
    # Both sides of a ring stand equally high, so that one of them is worked out.
    half = rings.around_deg.size // 2
    elevation, turned = directions(rings, rings.around_deg[:half], aims_deg)
    climb = np.maximum(np.abs(np.gradient(elevation, axis=-1)), 1e-6)
    aim = azimuth_deg[:, None, None, None]
    below = np.zeros(elevation.shape)
    for side in (turned, -turned):
        place = np.rint((aim + side) * SKYLINE_STEPS / 360.0).astype(np.int64) % SKYLINE_STEPS
        below += np.clip(0.5 + (skyline_deg[place] - elevation) / climb, 0.0, 1.0) / 2.0
    lost = (1.0 - below) * (1.0 - around.passed(elevation))
    return below.mean(axis=-1) @ rings.share, lost.mean(axis=-1) @ rings.share


def shares_at(rest: RestTable, beam: Beam, parts: PartShares, azimuth_deg: Array, elevation_deg: Array) -> Shares:
    """Shares of the whole pattern at aims (n,), degrees: azimuth and apparent elevation."""
    main = main_beam_met(rest.around, beam.beamwidth_deg, azimuth_deg, elevation_deg)
    beside = rest.met(azimuth_deg, elevation_deg)
    share = parts.side + parts.back
    return Shares(
        ground=parts.main * main.ground + share * beside.ground,
        air=parts.main * main.air + share * beside.air,
        main_open=parts.main * (1.0 - main.ground - main.air),
        rest_open=share * (1.0 - beside.ground - beside.air),
        main_ground=main.ground,
    )
