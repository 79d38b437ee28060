"""What pages say of a skyline from elevation tiles: on what it rests, and what is not in it."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.inputs.horizon import Terrain
from pipeline.inputs.model import Station
from pipeline.pairs.assumed import skyline_is_assumed
from pipeline.wording import formats

NOT_IN_IT = "trees and buildings are not in it"
NOT_IN_FILE = "Skyline not in the station file: look before you set up."
ON_SHEET = f"The skyline is the terrain's: {NOT_IN_IT}."
ON_SHEET_BESIDE_SURVEY = f"Where you did not survey it, the skyline is the terrain's: {NOT_IN_IT}."


def terrain_words(stations: Sequence[Station], by_site: bool = False) -> str:
    """`skyline from terrain for QM7TOR: trees and buildings are not in it`; empty where no station has one.

    Sites of one station are told by their names.
    """
    calls = [one.title if by_site else one.call for one in stations if one.terrain is not None]
    return f"skyline from terrain for {formats.listed(calls)}: {NOT_IN_IT}" if calls else ""


def home_skyline_words(home: Station, name: str = "Home") -> str:
    """By what skyline home is planned, one sentence; `name` is its place's where it has several."""
    if home.terrain is None:
        return f"{name} is planned {'with' if home.horizon else 'without'} a surveyed horizon."
    beside = " where no survey says otherwise" if home.terrain.surveyed else ""
    return f"{name} is planned with a skyline from terrain{beside}: {tiles_words(home.terrain)}."


def tiles_words(terrain: Terrain) -> str:
    """From what a skyline was worked out, and what is not in it."""
    count = formats.count(len(terrain.tiles), "elevation tile")
    return (
        f"{count}, antenna {formats.plain(terrain.antenna_height_m)} m above the ground at {terrain.ground_m:.0f} m, "
        f"ground within {formats.plain(terrain.ignored_within_m)} m left aside, standard refraction; {NOT_IN_IT}"
    )


def skyline_unknown_words(home: Station) -> tuple[str, ...]:
    """The caution for the sheets where nobody has stated home's skyline; none elsewhere."""
    return (NOT_IN_FILE,) if skyline_is_assumed(home) else ()


def sheet_words(home: Station) -> str:
    """The caution for the dish sheet; empty for a surveyed skyline."""
    if home.terrain is None:
        return ""
    return ON_SHEET_BESIDE_SURVEY if home.terrain.surveyed else ON_SHEET
