"""What elevation tiles leave open of a station's skyline, a note each: azimuths that no tile covers, holes in tiles."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.inputs.horizon import Terrain, UnknownArc
from pipeline.inputs.model import Station

MOST_ARCS, MOST_CORNERS = 4, 4
# Fewer holes than this are a river or a lake.
LEAST_HOLES = 0.005


def terrain_notes(station: Station) -> Iterator[str]:
    """Notes on the tiles of a station and of its sites; none where they tell everything."""
    yield from _notes(station.call, station.terrain)
    for site in station.sites:
        # Where the station stands was told.
        if site.name != station.title:
            yield from _notes(f"{station.call} at {site.name}", site.terrain)


def _notes(whose: str, terrain: Terrain | None) -> Iterator[str]:
    if terrain is None:
        return
    if terrain.unknown:
        yield _unknown(whose, terrain)
    for tile, share in terrain.holes:
        if share >= LEAST_HOLES:
            yield f"{whose}: {tile} has no height at {share * 100:.0f} % of its points; they hide nothing."


def _unknown(whose: str, terrain: Terrain) -> str:
    widest = sorted(terrain.unknown, key=lambda arc: -_width(arc))[:MOST_ARCS]
    arcs = ", ".join(_arc(arc) for arc in sorted(widest, key=lambda arc: arc.from_deg))
    more = f" and {len(terrain.unknown) - MOST_ARCS} narrower arcs" if len(terrain.unknown) > MOST_ARCS else ""
    corners = ", ".join(terrain.missing[:MOST_CORNERS])
    corners += f" and {len(terrain.missing) - MOST_CORNERS} more" if len(terrain.missing) > MOST_CORNERS else ""
    return (
        f"{whose}: no elevation tile covers azimuth {arcs}{more}; ground as high as the highest of the tiles, "
        f"{terrain.highest_m:.0f} m, would show there. Missing: {corners}. If it is sea, write missing_is_sea: true."
    )


def _width(arc: UnknownArc) -> float:
    return (arc.to_deg - arc.from_deg) % 360.0 or arc.to_deg - arc.from_deg


def _arc(arc: UnknownArc) -> str:
    if arc.to_deg - arc.from_deg == 360.0:
        return f"0 to 360 (from {arc.from_km:.0f} km on)"
    if arc.from_deg == arc.to_deg:
        return f"{arc.from_deg:.0f} (from {arc.from_km:.0f} km on)"
    return f"{arc.from_deg:.0f} to {arc.to_deg:.0f} (from {arc.from_km:.0f} km on)"
