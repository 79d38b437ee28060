"""A station's tree to a `Station`: a survey of its horizon read in, and the keys named whose figures are assumed."""

from __future__ import annotations

import csv
import dataclasses
import hashlib
import io
from functools import cache
from typing import Any

from pipeline.inputs import rules, scalars
from pipeline.inputs.bands import band_table
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.kinds import Words
from pipeline.inputs.messages import read, shown
from pipeline.inputs.model import BandEquipment, Horizon, HorizonPoint, Station
from pipeline.inputs.yaml_tree import Place, Tree, decode, dotted, read_bytes

SURVEY_COLUMNS = ["azimuth_deg", "elevation_deg"]
HORIZON: Place = ("horizon",)


@dataclasses.dataclass
class StationRead:
    """What came of one station file: the station where it is whole, the faults, and the hashes of its survey files."""

    tree: Tree
    station: Station | None
    faults: list[Fault]
    files: dict[str, str]


def read_station(tree: Tree) -> StationRead:
    """One station from its tree; every fault is gathered."""
    data, files = tree.data, dict[str, str]()
    surveyed: tuple[HorizonPoint, ...] | None = None
    faults: list[Fault] = []
    if isinstance(data.get("horizon"), dict):
        surveyed, faults = survey(tree, data["horizon"], files)
        data = {key: entry for key, entry in data.items() if key != "horizon"}
    station, found = read(Station, tree, data)
    faults += found
    if station is None or faults:
        return StationRead(tree, None, faults, files)
    horizon = station.horizon if surveyed is None else surveyed
    station = dataclasses.replace(station, horizon=horizon, assumed=assumed_of(tree.data), file=tree.file)
    return StationRead(tree, station, [], files)


def assumed_of(data: dict[str, Any]) -> tuple[str, ...]:
    """The dotted keys of a sound station that its file leaves to the program, in the order of the file."""
    found = [key for key in ("time_zone", "available", "horizon") if data.get(key, "") == ""]
    for key, value in data.items():
        if key == "position" and value.get("height_m", "") == "":
            found.append("position.height_m")
        elif key == "bands" and value:
            for name, entry in value.items():
                place = (key, name)
                figures = entry or {}
                antenna = figures.get("antenna") or {}
                if antenna.get("dish_diameter_m") and not antenna.get("aperture_efficiency"):
                    found.append(dotted((*place, "antenna", "aperture_efficiency")))
                usual = band_table()[scalars.band_name(name)].equipment
                found += [dotted((*place, figure)) for figure in usual if not figures.get(figure)]
    return tuple(found)


@cache
def usual_equipment(band: str) -> BandEquipment:
    """A band's equipment as the band table has it."""
    tree = Tree("bands.yaml", rules.usual_figures(band), {})
    equipment, faults = read(BandEquipment, tree, tree.data)
    if equipment is None:
        raise InputFaults(faults)
    return equipment


def with_band(station: Station, band: str) -> Station:
    """The station with that band's equipment; all of it assumed where the file knows none."""
    if band in station.bands:
        return station
    assumed = (*station.assumed, f"bands.{band}")
    return dataclasses.replace(station, bands=station.bands | {band: usual_equipment(band)}, assumed=assumed)


def survey(
    tree: Tree, value: dict[str, Any], files: dict[str, str]
) -> tuple[tuple[HorizonPoint, ...] | None, list[Fault]]:
    """A surveyed horizon, `{file: survey.csv}` with the columns azimuth_deg and elevation_deg; its hash is noted."""
    if set(value) != {"file"} or not value["file"]:
        return None, [tree.fault(HORIZON, "horizon is a mapping; a list of points or {file: survey.csv} is meant.")]
    place = (*HORIZON, "file")
    name, faults = read(Words, tree, value["file"], place)
    if name is None:
        return None, faults
    try:
        raw = read_bytes(tree.folder / name)
        rows = list(csv.reader(io.StringIO(decode(raw, name), newline="")))
    except InputFaults as found:
        # One is told: a file that is no table has the same fault in every line.
        return None, [tree.fault(place, f"horizon.file is {shown(name)}; {found.faults[0].message}")]
    except csv.Error:
        return None, [tree.fault(place, f"horizon.file is {shown(name)}; the file is no CSV table.")]
    files[name] = hashlib.sha256(raw).hexdigest()
    if [cell.strip() for cell in rows[0]] != SURVEY_COLUMNS:
        message = f"the first line is '{','.join(rows[0])[:60]}'; write azimuth_deg,elevation_deg."
        return None, [Fault(name, 1, "", message)]
    points = survey_tree(name, rows)
    return read(Horizon, points, points.data["survey"], ("survey",))


def survey_tree(name: str, rows: list[list[str]]) -> Tree:
    """The rows of a survey as a list of points; a row that is too long or too short has an unknown or missing key."""
    points: list[dict[str, str]] = []
    lines: dict[Place, int] = {(): 1}
    for number, row in enumerate(rows[1:], 2):
        if any(cell.strip() for cell in row):
            lines["survey", len(points)] = number
            cells = {key: cell.strip() for key, cell in zip(SURVEY_COLUMNS, row, strict=False)}
            points.append(cells | {f"column {index + 1}": "" for index in range(2, len(row))})
    return Tree(name, {"survey": points}, lines)
