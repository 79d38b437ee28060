"""A station's tree to a `Station`: its skyline and sites read in, and the keys named whose figures are assumed."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.inputs import rules, scalars
from pipeline.inputs.bands import band_table
from pipeline.inputs.busy import BusyFile, read_busy
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.messages import read, shown
from pipeline.inputs.model import BandEquipment, Station
from pipeline.inputs.sites import own_site, read_sites, sites_apart
from pipeline.inputs.skyline_reading import Skyline, keys_apart, skyline_at
from pipeline.inputs.yaml_tree import Place, Tree, dotted, load_tree


@dataclasses.dataclass
class StationRead:
    """What came of one station file: the station where it is whole, the faults, and the hashes of its survey files."""

    tree: Tree
    station: Station | None
    faults: list[Fault]
    files: dict[str, str]


def station_in(text: str, path: Path) -> Station | None:
    """The station that a text says, read as the file of that path; None where it says none."""
    try:
        return read_station(load_tree(text.encode(), path.name, path.parent)).station
    except InputFaults:
        return None


def read_station(tree: Tree) -> StationRead:
    """One station from its tree; every fault is gathered."""
    files: dict[str, str] = {}
    stated, data, faults = keys_apart(tree, tree.data, (), files)
    named, data = sites_apart(data)
    station, found = read(Station, tree, data)
    sites, wrong = read_sites(tree, named, files)
    faults += [*found, *wrong]
    if station is None or faults:
        return StationRead(tree, None, faults, files)
    taken, hashes, found = busy_of(tree, station.busy)
    files |= hashes
    if found:
        return StationRead(tree, None, found, files)
    station = dataclasses.replace(station, assumed=assumed_of(tree.data), file=tree.file, busy_files=taken)
    if stated is not None:
        skyline, faults = skyline_at(tree, (), stated, station.position, files)
        if skyline is None:
            return StationRead(tree, None, faults, files)
        station = under(station, skyline)
    if sites:
        station = dataclasses.replace(station, sites=(own_site(station), *sites))
    return StationRead(tree, station, [], files)


def under(station: Station, skyline: Skyline) -> Station:
    """The station under a skyline, at the height that its tiles may have told."""
    assumed = tuple(key for key in station.assumed if not (skyline.height_told and key == "position.height_m"))
    return dataclasses.replace(
        station, horizon=skyline.horizon, terrain=skyline.terrain, position=skyline.position, assumed=assumed
    )


def busy_of(
    tree: Tree, names: Sequence[str], place: Place = ()
) -> tuple[tuple[BusyFile, ...], dict[str, str], list[Fault]]:
    """The calendars at `busy` below a place of a tree, the hash of each, and the fault of each that fails."""
    taken, hashes, wrong = read_busy(tree.folder, names)
    faults = [
        tree.fault((*place, "busy"), f"{dotted((*place, 'busy'))} names {shown(names[number])}; {message}")
        for number, message in wrong
    ]
    return taken, hashes, faults


def assumed_of(data: dict[str, Any]) -> tuple[str, ...]:
    """The dotted keys of a sound station that its file leaves to the program, in the order of the file."""
    found = [key for key in ("time_zone", "available", "horizon") if data.get(key, "") == ""]
    for key, value in data.items():
        if key == "position" and value.get("height_m", "") == "":
            found.append("position.height_m")
        elif key == "bands" and value:
            for name, entry in value.items():
                place = (key, scalars.band_name(name))
                figures = entry or {}
                antenna = figures.get("antenna") or {}
                if antenna.get("dish_diameter_m") and not antenna.get("aperture_efficiency"):
                    found.append(dotted((*place, "antenna", "aperture_efficiency")))
                usual = band_table()[place[1]].equipment
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
