"""Coordinates settled by the zone of the station's clock: a decimal point that a spreadsheet ate, east or west.

The point is put back where it leaves a place on the Earth; of several such places those are meant whose clock is that
of the file's zone.
"""

from __future__ import annotations

import re

from pipeline.inputs import angles_said, scalars
from pipeline.inputs.yaml_tree import Tree
from pipeline.inputs.zone_of_place import clock, zones_near

BOUNDS_DEG = {"latitude_deg": 90.0, "longitude_deg": 180.0}
# What is left behind the point makes half a kilometre or less, and at most two readings are told.
FEWEST_DECIMALS, MOST_TOLD = 2, 2


def advice(tree: Tree, key: str, text: str) -> str | None:
    """What to write for a coordinate beyond its bounds; None where no point or too many can be meant."""
    axes = {axis: readings(axis, written(tree, axis)) for axis in BOUNDS_DEG}
    mine = readings(key, text) if is_lost(key, text) else []
    axes[key] = mine
    zone = tree.data.get("time_zone")
    known = isinstance(zone, str) and zone in scalars.zone_names()
    if known:
        mine = [one for one in mine if any(clock(str(zone)) == seen for seen in clocks_of(key, one, axes))]
    if not 1 <= len(mine) <= MOST_TOLD:
        return None
    by_zone = f"by {zone} " if known and len(axes[key]) > len(mine) else ""
    return f"it has lost its decimal point; {by_zone}write {' or '.join(mine)}."


def side_by_zone(tree: Tree, told: str) -> str | None:
    """What to write where east and west were left open, `write 70.8 for east, -70.8 for west`; None without a zone."""
    both = re.search(r"write ([\d.]+) for east, (-[\d.]+) for west", told)
    zone = tree.data.get("time_zone")
    if not both or not isinstance(zone, str) or zone not in scalars.zone_names():
        return None
    axes = {"latitude_deg": latitudes(written(tree, "latitude_deg")), "longitude_deg": list(both.groups())}
    meant = [one for one in both.groups() if clock(zone) in clocks_of("longitude_deg", one, axes)]
    return f"by {zone} write {meant[0]}; south and west are negative." if len(meant) == 1 else None


def latitudes(text: str) -> list[str]:
    """What a latitude says in degrees, as it may be written as well."""
    said = re.search(r"write (-?[\d.]+\d)", angles_said.advice(angles_said.LATITUDE, text) or "")
    return [said[1]] if said else readings("latitude_deg", text)


def written(tree: Tree, key: str) -> str:
    """What stands for a coordinate in the file; empty where it holds none."""
    position = tree.data.get("position")
    value = position.get(key) if isinstance(position, dict) else None
    return value if isinstance(value, str) else ""


def is_lost(key: str, text: str) -> bool:
    """Whether a text is a whole number of four or more figures beyond the bounds of its axis."""
    return bool(re.fullmatch(r"[+-]?[1-9]\d{3,9}", text)) and abs(int(text)) > BOUNDS_DEG[key]


def readings(key: str, text: str) -> list[str]:
    """A coordinate as it stands where it keeps to its bounds, else with a point at each place that brings it there."""
    if not is_lost(key, text):
        plain = scalars.NUMBER.fullmatch(text)
        return [text] if plain and abs(float(text)) <= BOUNDS_DEG[key] else []
    sign, digits = ("-" if text[0] == "-" else ""), text.lstrip("+-")
    points = [f"{sign}{digits[:at]}.{digits[at:]}" for at in range(1, len(digits) - FEWEST_DECIMALS + 1)]
    return [one for one in points if abs(float(one)) <= BOUNDS_DEG[key]]


def clocks_of(key: str, value: str, axes: dict[str, list[str]]) -> list[tuple[object, ...]]:
    """The clocks at the places that a coordinate makes with each reading of the other one."""
    other = next(axis for axis in axes if axis != key)
    places = [(value, one) if key == "latitude_deg" else (one, value) for one in axes[other]]
    return [clock(zone) for north, east in places for zone in zones_near(float(north), float(east))]
