"""The skyline of a place by azimuth, from elevation tiles, the Earth's curvature and standard refraction.

Rays over an Earth of 4/3 its radius (ITU-R P.834: effective radius for the standard gradient of refractivity; from
memory): the elevation at which the ray from each point of ground arrives at the antenna. That is an apparent elevation.
The Moon's, too, is one where it arrives (`ephemeris.refraction`), so both are compared at the antenna and the air in
between counts once in each. Tiles are taken one by one, the nearest first, and rays only as far as their highest point
could still rise above what is known.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.terrain.directions import EARTH_RADIUS_M, Frame, great_circle_m
from pipeline.terrain.grids import HIGHEST_M, Box, Grid
from pipeline.terrain.tiles import Tile, TileFault, TileFaults, load

Array = npt.NDArray[np.float64]

EFFECTIVE_RADIUS_M = 4.0 / 3.0 * EARTH_RADIUS_M
AZIMUTH_STEP_DEG = 0.25
# A ray is looked at every posting of the tile, from afar every 500th of the distance: a crest missed by half of that
# on a slope of one in three is 0.02 degree lower.
STEPS_A_DISTANCE = 500.0
CHUNK = 64
# Steps at which is asked whether any tile covers the ground.
LOOK_STEP_M, LOOK_STEP_DEG = 1000.0, 1.0
# Rounding of borders: tiles that are this near are taken to touch.
SLACK_M = 500.0


@dataclass(frozen=True)
class Spot:
    """Where the antenna stands: degrees, metres above the ground, and within how many metres ground is left aside."""

    latitude_deg: float
    longitude_deg: float
    antenna_height_m: float
    ignored_within_m: float


@dataclass(frozen=True)
class TerrainSkyline:
    """The skyline at azimuths (n,), 0 to below 360, degrees; how far off what makes it stands, km, NaN for the sea.

    `unknown_from_km` (looks,) tells by whole degrees of azimuth from where on no tile covers ground that might show,
    infinity where all is known; `missing` the south-west corners of the degrees that would be needed, the nearest
    first. `digests` are those of the tiles that were read, by name, `holes` the share of points without a height.
    """

    azimuth_deg: Array
    elevation_deg: Array
    distance_km: Array
    ground_m: float
    highest_m: float
    unknown_from_km: Array
    missing: tuple[str, ...]
    digests: dict[str, str]
    holes: dict[str, float]


def skyline_of(spot: Spot, tiles: Sequence[Tile], radius_m: float = EFFECTIVE_RADIUS_M) -> TerrainSkyline:
    """The skyline of a place.

    Raises TileFaults with every broken tile that was needed, and where no tile holds the place itself.
    """
    frame = Frame.at(spot.latitude_deg, spot.longitude_deg)
    near = sorted(((_nearest_m(spot, tile.box), tile) for tile in tiles), key=lambda one: (one[0], one[1].name))
    digests: dict[str, str] = {}
    holes: dict[str, float] = {}
    faults: list[TileFault] = []
    march: _March | None = None
    for distance_m, tile in near:
        if march is None and distance_m > 0.0:
            break
        if march is not None and not march.could_matter(tile.box, distance_m):
            continue
        try:
            loaded = load(tile)
        except TileFault as fault:
            faults.append(fault)
            continue
        digests[tile.name] = loaded.digest
        if (share := loaded.grid.hole_share) > 0.0:
            holes[tile.name] = share
        if march is None:
            place = np.array([spot.latitude_deg]), np.array([spot.longitude_deg])
            ground = float(loaded.grid.at(*place)[0])
            if not np.isfinite(ground):
                continue
            march = _March(frame, spot, ground, radius_m)
        march.over(loaded.grid, tile.box, distance_m)
    if faults:
        raise TileFaults(faults)
    if march is None:
        corner = corner_name(spot.latitude_deg, spot.longitude_deg)
        raise TileFaults([TileFault("", f"no tile has the height of the station's own place; {corner} is needed.")])
    unknown, missing = march.unknown([tile.box for tile in tiles])
    return TerrainSkyline(
        march.azimuth_deg,
        np.degrees(np.arctan(march.best)),
        march.distance_m / 1000.0,
        march.ground_m,
        march.highest_m,
        unknown,
        missing,
        digests,
        holes,
    )


def corner_name(latitude_deg: float, longitude_deg: float) -> str:
    """`N34W056`: the south-west corner of the square degree around a place."""
    south, west = int(np.floor(latitude_deg)), int(np.floor((longitude_deg + 180.0) % 360.0 - 180.0))
    return f"{'N' if south >= 0 else 'S'}{abs(south):02d}{'E' if west >= 0 else 'W'}{abs(west):03d}"


def _nearest_m(spot: Spot, box: Box) -> float:
    """How far the nearest place of a tile is, m; 0 where the station stands on it."""
    here = np.array(spot.latitude_deg), np.array(spot.longitude_deg)
    if box.holds(*here).item():
        return 0.0
    return float(great_circle_m(*here, *_border(box)).min())


def _border(box: Box) -> tuple[Array, Array]:
    """Places round the edge of a tile, degrees, (n,) each."""
    along = np.linspace(0.0, 1.0, 65)
    north_south, east_west = box.south + along * (box.north - box.south), box.west + along * (box.east - box.west)
    ends = np.ones(along.size)
    latitude = np.concatenate([north_south, north_south, box.south * ends, box.north * ends])
    return latitude, np.concatenate([box.west * ends, box.east * ends, east_west, east_west])


class _March:
    """The skyline as far as it is known: tangents of elevations by azimuth, risen tile by tile."""

    def __init__(self, frame: Frame, spot: Spot, ground_m: float, radius_m: float) -> None:
        self.frame, self.spot, self.ground_m, self.radius_m = frame, spot, ground_m, radius_m
        self.antenna_m = ground_m + spot.antenna_height_m
        self.azimuth_deg: Array = np.arange(0.0, 360.0, AZIMUTH_STEP_DEG)
        # Where ground ends unknown, the sea's horizon is the least.
        above_sea = max(self.antenna_m, 0.0)
        sea = -np.sqrt(2.0 * above_sea / radius_m)
        self.best = np.full(self.azimuth_deg.size, sea)
        self.distance_m = np.full(self.azimuth_deg.size, np.nan)
        self.highest_m = -np.inf

    def tangents(self, height_m: Array | float, distance_m: Array | float) -> Array:
        """Tangent of the elevation at which ground of these heights at these distances is seen; shapes broadcast."""
        turn = distance_m / self.radius_m
        fallen = 2.0 * np.sin(turn / 2.0) ** 2
        beyond = self.radius_m + height_m
        return np.asarray((height_m - self.antenna_m - beyond * fallen) / (beyond * np.sin(turn)))

    def could_show(self, height_m: float, from_m: Array | float) -> npt.NDArray[np.bool_]:
        """Whether ground so high, from a distance on, could rise above what is known at each azimuth.

        Ground below the antenna is seen highest where the sight just touches it, farther away.
        """
        touching = np.sqrt(2.0 * self.radius_m * max(self.antenna_m - height_m, 0.0))
        return np.asarray(self.tangents(height_m, np.maximum(from_m, touching)) > self.best)

    def could_matter(self, box: Box, nearest_m: float) -> bool:
        """Whether the highest summit on Earth, on this tile, could rise above what is known."""
        might = self.could_show(HIGHEST_M, max(nearest_m - SLACK_M, 1.0))
        return bool((might & self._towards(box, nearest_m)).any())

    def over(self, grid: Grid, box: Box, nearest_m: float) -> None:
        """Rays over one tile."""
        highest = grid.highest_m
        self.highest_m = max(self.highest_m, highest)
        edge_m = great_circle_m(np.array(self.spot.latitude_deg), np.array(self.spot.longitude_deg), *_border(box))
        begin = max(nearest_m - SLACK_M, self.spot.ignored_within_m, 1.0)
        towards = self._towards(box, nearest_m)
        for distance in _chunks(begin, float(edge_m.max()) + SLACK_M, grid.posting_m):
            rows = np.flatnonzero(towards & self.could_show(highest, float(distance[0])))
            if not rows.size:
                break
            self._look(grid, rows, distance)

    def _look(self, grid: Grid, rows: npt.NDArray[np.int64], distance_m: Array) -> None:
        """One stretch of some rays, distances (k,): straight in latitude and longitude from its begin to its end."""
        ends = self.frame.places(self.azimuth_deg[rows][:, None], distance_m[[0, -1]][None, :])
        part = (distance_m - distance_m[0]) / (distance_m[-1] - distance_m[0])
        latitude, longitude = (one[:, :1] + (one[:, 1:] - one[:, :1]) * part for one in ends)
        with np.errstate(invalid="ignore"):
            seen = self.tangents(grid.at(latitude, longitude), distance_m)
        seen = np.where(np.isnan(seen), -np.inf, seen)
        place = np.argmax(seen, axis=1)
        top = seen[np.arange(rows.size), place]
        higher = top > self.best[rows]
        self.best[rows[higher]] = top[higher]
        self.distance_m[rows[higher]] = distance_m[place[higher]]

    def _towards(self, box: Box, nearest_m: float) -> npt.NDArray[np.bool_]:
        """Which azimuths may cross a tile, a degree to spare."""
        if nearest_m < 20_000.0:
            return np.ones(self.azimuth_deg.size, dtype=bool)
        azimuth = self.frame.azimuths(*_border(box))
        middle = np.degrees(np.angle(np.exp(1j * np.radians(azimuth)).mean()))
        half = np.abs((azimuth - middle + 180.0) % 360.0 - 180.0).max() + 1.0
        return np.asarray(np.abs((self.azimuth_deg - middle + 180.0) % 360.0 - 180.0) <= half)

    def unknown(self, boxes: Sequence[Box]) -> tuple[Array, tuple[str, ...]]:
        """From what distance on, km, ground that might show is covered by no tile, (looks,); and the corners it needs.

        Might show: if it were as high as the highest point of the tiles that were read.
        """
        azimuth: Array = np.arange(0.0, 360.0, LOOK_STEP_DEG)
        best = self.best[:: round(LOOK_STEP_DEG / AZIMUTH_STEP_DEG)]
        first = np.full(azimuth.size, np.inf)
        names: dict[str, None] = {}
        distance: Array = np.arange(1.0, 600.0) * LOOK_STEP_M
        touching = np.sqrt(2.0 * self.radius_m * max(self.antenna_m - self.highest_m, 0.0))
        might = self.tangents(self.highest_m, np.maximum(distance, touching))[None, :] > best[:, None]
        latitude, longitude = self.frame.places(azimuth[:, None], distance[None, :])
        bare = might.copy()
        for box in boxes:
            bare &= ~box.holds(latitude, longitude)
        some = bare.any(axis=1)
        first[some] = distance[np.argmax(bare[some], axis=1)] / 1000.0
        order = np.argsort(distance[np.nonzero(bare)[1]], kind="stable")
        south, west = np.floor(latitude[bare][order]), np.floor((longitude[bare][order] + 180.0) % 360.0 - 180.0)
        for place in dict.fromkeys(zip(south.tolist(), west.tolist(), strict=True)):
            names[corner_name(*place)] = None
        return first, tuple(names)


def _chunks(begin_m: float, end_m: float, posting_m: float) -> Iterator[Array]:
    """Distances of looks along a ray, some at a time, each chunk beginning where the one before ended."""
    while begin_m < end_m:
        step = max(posting_m / 4, begin_m / STEPS_A_DISTANCE)
        distance: Array = begin_m + step * np.arange(CHUNK + 1.0)
        yield distance
        begin_m = float(distance[-1])
