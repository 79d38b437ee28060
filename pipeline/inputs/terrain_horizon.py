"""A station's skyline from elevation tiles: points for the mask, what is known of them, and what the tiles leave open.

A survey wins: over the degree of each point, and between neighbours of it that stand no more than 15 degrees apart.
Tiles that were read count among the input files by their hashes.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from pipeline.inputs.faults import Fault
from pipeline.inputs.horizon import HorizonKeys, HorizonPoint, Terrain, UnknownArc
from pipeline.inputs.messages import shown
from pipeline.inputs.model import Position
from pipeline.inputs.yaml_tree import Place, Tree, dotted
from pipeline.terrain.skyline import LOOK_STEP_DEG, Spot, TerrainSkyline, skyline_of
from pipeline.terrain.thinning import thinned
from pipeline.terrain.tiles import TileFault, TileFaults, find_tiles

Array = npt.NDArray[np.float64]

# A subsquare's middle is 4 km off at most; a square's a hundred: no skyline follows from that.
LEAST_KNOWN_KM = 10.0
# Neighbours of a survey so near together are one stretch of it (judgement).
SURVEYED_ARC_DEG = 15.0
# A point that stands alone counts for its own degree.
OWN_DEGREE_DEG = 1.0


def terrain_horizon(
    tree: Tree, here: Place, keys: HorizonKeys, position: Position, files: dict[str, str]
) -> tuple[tuple[HorizonPoint, ...], Terrain | None, list[Fault]]:
    """The mask of a place from its tiles, what they say, and faults; the tiles' hashes are noted in `files`.

    `here` is where the tiles are named.
    """
    assert keys.terrain is not None
    if position.uncertainty_km > LEAST_KNOWN_KM:
        known = f"the place is known to {position.uncertainty_km:.0f} km only (locator {position.locator})"
        return (), None, [tree.fault(here, f"{known}; a skyline from terrain needs six characters or coordinates.")]
    spot = Spot(position.latitude_deg, position.longitude_deg, keys.antenna_height_m, keys.ignored_within_m)
    place = tree.folder / keys.terrain
    try:
        found = skyline_of(spot, find_tiles(place))
    except TileFaults as broken:
        return (), None, [tree.fault(here, _sentence(here, keys.terrain, fault)) for fault in broken.faults]
    files |= {f"{keys.terrain}: {name}": digest for name, digest in found.digests.items()}
    return _mask(found, keys.points), _facts(keys, found), []


def _sentence(here: Place, said: str, fault: TileFault) -> str:
    name = "" if fault.name in ("", said.rstrip("/\\").replace("\\", "/").rpartition("/")[2]) else f"{fault.name}: "
    return f"{dotted(here)} is {shown(said)}; {name}{fault.message}"


def _mask(found: TerrainSkyline, survey: Sequence[HorizonPoint]) -> tuple[HorizonPoint, ...]:
    """The skyline as points, those of the survey in their places."""
    azimuth, elevation = found.azimuth_deg, found.elevation_deg
    if survey:
        azimuth, elevation = _surveyed(azimuth, elevation, survey)
    azimuth, elevation = thinned(azimuth, elevation)
    return tuple(
        HorizonPoint(round(float(one), 2), round(float(high), 3)) for one, high in zip(azimuth, elevation, strict=True)
    )


def _surveyed(azimuth_deg: Array, elevation_deg: Array, survey: Sequence[HorizonPoint]) -> tuple[Array, Array]:
    """The skyline at its own azimuths and those of the survey, which wins where it stands."""
    points = np.array(sorted((one.azimuth_deg % 360.0, one.elevation_deg) for one in survey))
    every = np.unique(np.concatenate([azimuth_deg, points[:, 0]]))
    high = np.interp(every, azimuth_deg, elevation_deg, period=360.0)
    told = np.interp(every, points[:, 0], points[:, 1], period=360.0)
    after = np.searchsorted(points[:, 0], every, side="left")
    ahead, behind = points[after % len(points)], points[after - 1]
    gap = (ahead[:, 0] - behind[:, 0]) % 360.0 if len(points) > 1 else np.full(every.size, 360.0)
    inside = np.isin(every, points[:, 0]) | (gap <= SURVEYED_ARC_DEG)
    before, past = (ahead[:, 0] - every) % 360.0, (every - behind[:, 0]) % 360.0
    near = np.where(before < past, ahead[:, 1], behind[:, 1])
    high = np.where(np.minimum(before, past) <= OWN_DEGREE_DEG / 2.0, near, high)
    return every, np.where(inside, told, high)


def _facts(keys: HorizonKeys, found: TerrainSkyline) -> Terrain:
    top = int(np.argmax(found.elevation_deg))
    away = float(found.distance_km[top])
    return Terrain(
        place=keys.terrain or "",
        tiles=tuple(found.digests),
        ground_m=found.ground_m,
        antenna_height_m=keys.antenna_height_m,
        ignored_within_m=keys.ignored_within_m,
        highest_m=found.highest_m,
        top=HorizonPoint(float(found.azimuth_deg[top]), float(found.elevation_deg[top])),
        top_km=away if np.isfinite(away) else None,
        surveyed=bool(keys.points),
        missing_is_sea=keys.missing_is_sea,
        unknown=() if keys.missing_is_sea else _arcs(found.unknown_from_km),
        missing=() if keys.missing_is_sea else found.missing,
        holes=tuple(found.holes.items()),
    )


def _arcs(unknown_from_km: Array) -> tuple[UnknownArc, ...]:
    """Whole degrees without a cover, (looks,) km, as arcs round through north; each from its nearest gap on."""
    bare = np.isfinite(unknown_from_km)
    if bare.all():
        return (UnknownArc(0.0, 360.0, float(unknown_from_km.min())),)
    arcs = []
    for first in np.flatnonzero(bare & ~np.roll(bare, 1)):
        turned = np.roll(bare, -first)
        count = int(np.argmin(turned))
        nearest = float(np.roll(unknown_from_km, -first)[:count].min())
        arcs.append(UnknownArc(first * LOOK_STEP_DEG, ((first + count - 1) * LOOK_STEP_DEG) % 360.0, nearest))
    return tuple(arcs)
