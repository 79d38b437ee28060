"""A skyline as keys of a station or a site: a survey in a file read in, elevation tiles worked out; hashes noted."""

from __future__ import annotations

import csv
import dataclasses
import hashlib
from typing import Any

from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.horizon import Horizon, HorizonKeys, HorizonPoint, Terrain
from pipeline.inputs.messages import read, shown
from pipeline.inputs.model import Position
from pipeline.inputs.survey_table import SURVEY_COLUMNS, read_survey
from pipeline.inputs.yaml_tree import Place, Tree, decode, dotted, read_bytes

HORIZON = "horizon"


@dataclasses.dataclass(frozen=True)
class Skyline:
    """The points that count, what tiles say beside them, and the place on the ground that they tell."""

    horizon: Horizon
    terrain: Terrain | None
    position: Position
    height_told: bool


def keys_apart(
    tree: Tree, data: dict[str, Any], place: Place, files: dict[str, str]
) -> tuple[HorizonKeys | None, dict[str, Any], list[Fault]]:
    """The horizon where it stands as keys, the data without it, and its faults; `place` is that of the data."""
    if not isinstance(data.get(HORIZON), dict):
        return None, data, []
    stated, faults = survey(tree, data[HORIZON], (*place, HORIZON), files)
    return stated, {key: entry for key, entry in data.items() if key != HORIZON}, faults


def skyline_at(
    tree: Tree, place: Place, stated: HorizonKeys, position: Position, files: dict[str, str]
) -> tuple[Skyline | None, list[Fault]]:
    """The skyline that keys state at a position; `place` is that of what holds them.

    Where the file leaves the height out, it is that of the ground by the tiles.
    """
    if stated.terrain is None:
        return Skyline(stated.points, None, position, False), []
    # Most skylines rest on no tiles, and what reads those is large.
    from pipeline.inputs.terrain_horizon import terrain_horizon

    horizon, terrain, faults = terrain_horizon(tree, (*place, HORIZON, "terrain"), stated, position, files)
    if terrain is None:
        return None, faults
    holder: Any = tree.data
    for key in place:
        holder = holder[key]
    height_told = isinstance(holder["position"], dict) and holder["position"].get("height_m", "") == ""
    if height_told:
        position = dataclasses.replace(position, height_m=round(terrain.ground_m))
    return Skyline(horizon, terrain, position, height_told), []


def survey(
    tree: Tree, value: dict[str, Any], place: Place, files: dict[str, str]
) -> tuple[HorizonKeys | None, list[Fault]]:
    """The keys of a horizon; a survey in a file is read into their points, and its hash is noted."""
    stated, faults = read(HorizonKeys, tree, value, place)
    if stated is not None and not faults and stated.terrain is None and stated.file is None and not stated.points:
        message = f"{dotted(place)} is empty; a list of points, {{file: survey.csv}} or {{terrain: FOLDER}} is meant."
        return None, [tree.fault(place, message)]
    if stated is None or faults or stated.file is None:
        return stated, faults
    points, faults = survey_points(tree, stated.file, (*place, "file"), files)
    return (None if points is None else dataclasses.replace(stated, points=points)), faults


def survey_points(
    tree: Tree, name: str, place: Place, files: dict[str, str]
) -> tuple[tuple[HorizonPoint, ...] | None, list[Fault]]:
    """The points of `{file: survey.csv}` with the columns azimuth_deg and elevation_deg."""
    try:
        raw = read_bytes(tree.folder / name)
        found = read_survey(decode(raw, name), name)
    except InputFaults as wrong:
        # One is told: a file that is no table has the same fault in every line.
        return None, [tree.fault(place, f"{dotted(place)} is {shown(name)}; {wrong.faults[0].message}")]
    except csv.Error:
        return None, [tree.fault(place, f"{dotted(place)} is {shown(name)}; the file is no CSV table.")]
    files[name] = hashlib.sha256(raw).hexdigest()
    if found.faults and not found.rows:
        return None, found.faults
    points = survey_tree(name, found.rows)
    made, faults = read(Horizon, points, points.data["survey"], ("survey",))
    turned = any("each other's place" in fault.message for fault in found.faults)
    return (None if found.faults else made), [*found.faults, *(() if turned else faults)]


def survey_tree(name: str, rows: list[tuple[int, list[str]]]) -> Tree:
    """The rows of a survey as a list of points; a row that is too short has a missing key."""
    points: list[dict[str, str]] = []
    lines: dict[Place, int] = {(): 1}
    for number, row in rows:
        lines["survey", len(points)] = number
        points.append(dict(zip(SURVEY_COLUMNS, row, strict=False)))
    return Tree(name, {"survey": points}, lines)
