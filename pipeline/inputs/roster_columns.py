"""The columns of a roster to places in a station file: dotted keys in any case, the short names of `add`, and misfits.

A short name of a band's equipment belongs to the band of the row's column `band`, or to that of the folder's season.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from pipeline.inputs import keys_said, scalars
from pipeline.inputs.bands import band_table, bands_meant
from pipeline.inputs.faults import Fault
from pipeline.inputs.model import Station
from pipeline.inputs.odd_characters import plain
from pipeline.inputs.quantities import LENGTHS
from pipeline.inputs.yaml_tree import Place, printable

BAND_COLUMN: Place = ("band",)
# In place of a band's name, until the row's is known.
OPEN = "\0band"


@dataclass(frozen=True)
class Column:
    """One column: its name as written, where its cells go (None: nowhere), and a unit to put behind bare numbers."""

    name: str
    place: Place | None
    unit: str = ""


def columns_of(file: str, line: int, names: list[str], rows: list[list[str]]) -> tuple[list[Column], list[Fault]]:
    """All columns and every fault of the head; `rows` are the cells below it."""
    columns: list[Column] = []
    faults: list[Fault] = []
    first: dict[Place, str] = {}
    for index, name in enumerate(names):
        cells = [row[index] for row in rows if index < len(row) and row[index]]
        if not name and not cells:
            columns.append(Column(name, None))
            continue
        column, message = column_of(name, index)
        key = key_of_cells(cells) if message and name and "." not in name else None
        if key and (column.place is None or column.place[-1] != key):
            place = opened(keys_said.places(Station)[key][0])
            column, message = Column(name, place), f"unknown key '{printable(name)}'; did you mean '{key}'?"
        if not message and column.place is not None and column.place in first:
            message = f"the column {printable(name)} stands there twice; keep one."
            column = Column(name, None)
        if message:
            faults.append(Fault(file, line, name, message))
        if column.place is not None:
            first.setdefault(column.place, name)
        columns.append(column)
    for place, name in first.items():
        if any(other[: len(place)] == place and other != place for other in first):
            message = f"the column {printable(name)} stands beside columns that begin with it; keep one kind."
            faults.append(Fault(file, line, name, message))
            columns = [Column(name, None) if one.place == place else one for one in columns]
    if ("call",) not in first:
        told = printable(", ".join(name for name in names if name))
        faults.append(
            Fault(file, line, "call", f"there is no column call (found: {told}); the first line names columns.")
        )
    return columns, faults


def key_of_cells(cells: list[str]) -> str | None:
    """The key that all cells of a column show by their form; None where they show none."""
    for key, read in (("locator", scalars.locator), ("time_zone", scalars.time_zone), ("email", scalars.mail_address)):
        try:
            if cells and all(bool(read(cell)) for cell in cells):
                return key
        except scalars.Refusal:
            continue
    return None


def column_of(name: str, index: int) -> tuple[Column, str]:
    """A column, and what is wrong with its name; one that is clear for all that goes where it is meant to."""
    parts = parts_of(name)
    if not name or not all(parts):
        return Column(name, None), f"column {index + 1} has no whole name; write one like position.locator."
    place = place_of(parts)
    if place is not None:
        return Column(name, place), ""
    key = parts[-1]
    bare = re.sub(r"\s*[\[(].*?[\])]\s*$", "", key)
    known = keys_said.places(Station)
    inside = {one: places[0] for one, places in known.items() if len(parts) == 1 or within(places[0], parts[0])}
    bands = band_before(bare) if len(parts) == 1 else None
    if bands:
        band, bare = bands
        inside = {one: place for one, place in inside.items() if place.startswith("bands.")}
    meant = by_unit(key, [one for one in keys_said.keys_meant(bare) or keys_said.keys_meant(key) if one in inside])
    further = (one for one in (*keys_said.keys_near(bare), *keys_said.keys_begun(bare)) if one in inside)
    meant = meant or scalars.nearest(bare, inside, 0.8) or next(further, None)
    if meant is None:
        message = f"unknown key '{printable(name)}'; take the column out, or name it like a station's key."
        return Column(name, None), message
    if bands:
        dotted = inside[meant].replace(keys_said.BAND, band)
        column = Column(name, tuple(band if part == OPEN else part for part in opened(inside[meant])))
        return column, f"unknown key '{printable(name)}'; did you mean '{dotted}'?"
    around = f" in {printable('.'.join(parts[:-1]))}" if len(parts) > 1 else ""
    message = f"unknown key '{printable(key)}'{around}; did you mean '{meant}'?"
    return Column(name, opened(inside[meant]), keys_said.unit_in(key, meant)), message


def band_before(name: str) -> tuple[str, str] | None:
    """The band that a name begins or ends with, by its frequency or wavelength, and the rest of it."""
    for form in (
        r"(\d+(?:[.,]\d+)?\s*(?:ghz|mhz|cm|mm|g))[\s_-]+(\D.*)$",
        r"(.*[^\d\s_-])[\s_-]+(\d+(?:[.,]\d+)?\s*(?:ghz|mhz|g|cm))$",
    ):
        found = re.match(form, name.strip(), re.IGNORECASE)
        if found:
            said, rest = (found[1], found[2]) if found[1][0].isdigit() else (found[2], found[1])
            compact = said.replace(" ", "").casefold()
            bands = [compact] if compact in band_table() else bands_meant(compact)
            if len(bands) == 1 and not (compact.endswith("cm") and keys_said.keys_meant(rest) == ()):
                return bands[0], rest
    return None


def by_unit(name: str, meant: list[str]) -> str | None:
    """The first of the keys that a name can stand for, or that which its unit fits."""
    unit = re.search(r"[\[(]\s*([^\])]+?)\s*[\])]\s*$", name)
    if unit and unit[1].casefold() in LENGTHS and "elev" in name.casefold():
        return "height_m"
    return next(iter(meant), None)


def within(place: str, group: str) -> bool:
    """Whether a dotted place lies in a group of the station, letter case aside."""
    return place.startswith(f"{group.casefold()}.")


def place_of(parts: list[str]) -> Place | None:
    """The place of a column whose name is a dotted key or a short name, in any case; None where it is neither."""
    known = keys_said.places(Station)
    words = [plain(part).casefold().replace(" ", "_") for part in parts]
    if words == ["band"]:
        return BAND_COLUMN
    if len(words) == 1:
        return opened(known[words[0]][0]) if words[0] in known else None
    band = words[1] if words[0] == "bands" and len(words) > 2 else ""
    if band:
        dotted = ".".join(["bands", keys_said.BAND, *words[2:]])
        names = [name for name in band_table() if name.casefold() == re.sub(r"[\s_]", "", band)]
        ours = dotted in known.get(words[-1], ())
        return ("bands", names[0] if names else parts[1], *words[2:]) if ours else None
    return tuple(words) if ".".join(words) in known.get(words[-1], ()) else None


def opened(dotted: str) -> Place:
    """A dotted place with its band left open."""
    return tuple(OPEN if part == keys_said.BAND else part for part in dotted.split("."))


def parts_of(name: str) -> list[str]:
    """`bands.1.25cm.power_w` in its parts; a band's name may hold a dot itself, and so may words in brackets."""
    parts = re.sub(r"\b1\.25\s*(c?m)\b", "1\0\\1", name).split(".")
    return [part.replace("1\0", "1.25").strip() for part in parts]
