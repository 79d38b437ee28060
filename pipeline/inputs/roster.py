"""A roster (CSV, one row a station, columns named like the keys with dots for nesting) to station files."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pipeline.inputs import scalars
from pipeline.inputs.bounds import MOST_COLUMNS
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.numbers_said import LEAVE_OUT
from pipeline.inputs.roster_answers import names_for, told_by_line
from pipeline.inputs.roster_columns import BAND_COLUMN, OPEN, Column, column_of, columns_of
from pipeline.inputs.station import read_station
from pipeline.inputs.survey_table import is_of_units
from pipeline.inputs.tables import Table, read_table, with_decimal_point
from pipeline.inputs.writing import (
    call_in,
    checked_station,
    need_folder,
    season_band,
    with_zone_marked,
    write_stations,
    zones_at_place,
)
from pipeline.inputs.yaml_tree import Place, Tree, printable, read_bytes
from pipeline.inputs.zone_of_place import is_plain

# Columns whose cell holds a list, and what parts its entries.
LISTS = {"modes": r"[;|\s]+", "unavailable_dates": r"[;|\s]+", "checklist": r"\s*\|\s*"}
MOST_ROWS = 2000
# A title or two may stand above the names of the columns.
HEAD_WITHIN = 5
# No field behind a decimal comma is longer; people write two figures there, and hardly a lone zero.
MOST_DECIMALS, USUAL_DECIMALS = 9, 2
# Ends of the keys whose figures may have decimals.
UNITS = ("m", "w", "db", "dbi", "deg")
MARKS = {",": "a comma", ";": "a semicolon", "\t": "a tab", "|": "a bar"}


def import_roster(roster: Path, folder: Path) -> list[Path]:
    """Turn every row of a roster into a station file, all or none. Returns the files written, in the roster's order.

    A row without a time zone gets that of its place, marked so, where the place leaves no doubt of the clock.
    Raises InputFaults with every fault of every row.
    """
    roster, folder = Path(roster), Path(folder)
    need_folder(folder)
    texts: dict[str, str] = {}
    calls: dict[str, str] = {}
    lines: dict[str, int] = {}
    for tree in checked_rows(roster, folder):
        zones = () if tree.data.get("time_zone") else zones_at_place(tree.data.get("position"))
        data = {**tree.data, "time_zone": zones[0]} if is_plain(zones) else tree.data
        name, text = checked_station(data, roster.name, roster.parent)
        texts[name] = with_zone_marked(text, zones[0]) if is_plain(zones) else text
        calls[name], lines[name] = call_in(text), tree.line(("call",)) or 1
    return write_stations(folder, texts, calls, roster.name, lines)


def notes_of(roster: Path, folder: Path) -> tuple[str, ...]:
    """What is to be said of how a roster was read: its encoding. Raises InputFaults where it is no table."""
    return tuple(read_rows(Path(roster), Path(folder)).table.notes)


def checked_rows(roster: Path, folder: Path) -> list[Tree]:
    """The rows as trees without fault, each call once."""
    read = read_rows(roster, folder)
    trees, faults = read.trees, list(read.faults)
    first: dict[str, int] = {}
    for tree in trees:
        found = read_station(tree).faults
        no_station = [fault for fault in found if fault.field == "call"]
        faults += [told_apart(fault) for fault in no_station or found]
        if "horizon" in tree.data:
            note = "a roster takes no horizon; add it to the station's file afterwards."
            faults.append(tree.fault(("horizon",), note))
        call = str(tree.data.get("call", "")).upper()
        line = tree.line(("call",)) or 1
        if call and first.setdefault(call, line) != line:
            message = f"the call {printable(call)} stands in line {first[call]} as well; keep one of the rows."
            faults.append(Fault(tree.file, line, "call", message))
    if faults:
        raise InputFaults(told_by_line(faults, read.table, read.head, read.columns))
    return trees


def told_apart(fault: Fault) -> Fault:
    """A fault of a row: what is no call may be no station at all, and hours stand in no cell."""
    if fault.field == "call" and fault.message.startswith("call and position are missing"):
        return replace(fault, message="call and position are missing; where the row is no station, take it out.")
    if fault.field == "call" and "call is '" in fault.message and "did you mean" not in fault.message:
        return replace(fault, message=f"{fault.message[:-1]}; where the row is no station, take it out.")
    place = re.search(r"write \{(latitude_deg|locator): (.*)\}", fault.message) if fault.field == "position" else None
    if place:
        told = f"{place[1]}: {place[2]}".removesuffix(", height_m: ...")
        return replace(fault, message=f"a place has columns of its own, one a key: {told}.")
    if LEAVE_OUT in fault.message:
        return replace(fault, message=fault.message.replace(LEAVE_OUT, "leave the cell empty where nobody knows it."))
    if fault.field == "available":
        hours = re.search(r"write (\{.*\}|\[.*\])", fault.message)
        told = f"`available: {hours[1]}`" if hours else "`available:`"
        return replace(fault, message=f"a roster takes no hours; add {told} to the station's file afterwards.")
    return fault


@dataclass
class RosterRead:
    """The rows as trees, every fault of the table, the line of its names, and the columns."""

    trees: list[Tree]
    faults: list[Fault]
    table: Table
    head: int
    columns: list[Column]


def read_rows(roster: Path, folder: Path) -> RosterRead:
    """The rows as trees with every fault of the table.

    Lines of the trees are those of the CSV file, and those of the keys the line of the names.
    """
    table = read_table(read_bytes(roster), roster.name)
    for number, cells in table.rows:
        if len(cells) > MOST_COLUMNS:
            message = f"the row has {len(cells)} cells; at most {MOST_COLUMNS} are taken."
            raise InputFaults([Fault(roster.name, number, "", message)])
    head = next((at for at, (_, cells) in enumerate(table.rows[:HEAD_WITHIN]) if names_calls(cells)), 0)
    if not table.rows:
        raise InputFaults(table.faults)
    (line, names), rows = table.rows[head], table.rows[head + 1 :]
    if on_its_side(names, [cells for _, cells in rows]):
        message = "the keys stand in the first column; a row a station is meant: turn the table."
        raise InputFaults([Fault(roster.name, line, "", message)])
    if len(rows) > MOST_ROWS:
        raise InputFaults([Fault(roster.name, rows[MOST_ROWS][0], "", f"at most {MOST_ROWS} rows are taken.")])
    above = "" if names_calls(names) else names_for(names, table.delimiter)
    if above:
        message = f"the first line is a station already; write names of the columns above it, such as `{above}`."
        raise InputFaults([Fault(roster.name, line, "call", message)])
    columns, faults = columns_of(roster.name, line, names, [cells for _, cells in rows])
    faults = [*table.faults, *faults]
    band = ""
    if any(OPEN in (column.place or ()) for column in columns) and not has_band(columns):
        try:
            band = season_band(folder)
        except InputFaults:
            message = "the band of the equipment is not known; add a column band, such as 3cm."
            faults.append(Fault(roster.name, line, "band", message))
    trees = []
    for number, cells in rows:
        if is_of_units(cells):
            message = f"the row holds units ({', '.join(filter(None, cells))}), not a station; take it out."
            faults.append(Fault(roster.name, number, "", message))
            continue
        if len(cells) > len(names):
            told = f"the row has {len(cells)} cells for {len(names)} columns"
            commas = decimal_commas(cells, columns) if table.delimiter == "," else []
            if commas:
                message = f"{told}; a decimal comma parts a number in two: write {' or '.join(commas)}."
            elif table.delimiter == "," and any(name.rsplit("_", 1)[-1] in UNITS for name in names):
                message = f"{told}; write numbers with a decimal point, and text with a comma in quotes."
            else:
                message = f"{told}; put text with {MARKS[table.delimiter]} in quotes."
            faults.append(Fault(roster.name, number, "", message))
            continue
        trees.append(
            row_tree(roster, columns, [with_decimal_point(cell, table.delimiter) for cell in cells], number, line, band)
        )
    if not rows and not faults:
        faults.append(
            Fault(roster.name, line, "", "the roster has names of columns but no row; write one row a station.")
        )
    return RosterRead(trees, faults, table, line, columns)


def decimal_commas(cells: list[str], columns: list[Column]) -> list[str]:
    """Numbers that decimal commas parted, with their keys, where joining them fills the columns in one or two ways.

    Whole watts and metres above the sea are usual; they have a decimal at most, unless nothing else can be joined.
    """
    keys = [str((column.place or ("",))[-1]) for column in columns]
    broken = {key for key in keys if key.rsplit("_", 1)[-1] in UNITS}
    if len(cells) - len(columns) > 4 or sum(key in broken for key in keys) > 12:
        return []  # no row of a few stray commas
    usual, decimals = (dict.fromkeys(broken, most) for most in (USUAL_DECIMALS, MOST_DECIMALS))
    whole = dict.fromkeys(broken & {"height_m", "power_w"}, 1)
    for parted in (usual | whole, decimals | whole, decimals):
        ways = joinings(cells, keys, parted)
        if ways:
            return [", ".join(way) for way in ways] if len(ways) <= 2 else []
    return []


def joinings(cells: list[str], keys: list[str], parted: dict[str, int]) -> list[list[str]]:
    """Every way to fill the columns by joining cells of digits in some of them, each as the joined numbers.

    `parted` holds how many decimals each may have.
    """
    if not keys or len(cells) <= len(keys):
        return [[]] if len(cells) == len(keys) else []
    ways = joinings(cells[1:], keys[1:], parted)
    if keys[0] in parted and re.fullmatch(r"[+-]?\d+", cells[0]) and _decimals(cells[1], parted[keys[0]]):
        told = f"{keys[0]} {cells[0]}.{cells[1]}"
        ways = [[told, *others] for others in joinings(cells[2:], keys[1:], parted)] + ways
    return ways


def _decimals(cell: str, most: int) -> bool:
    """Whether a cell can be what stood behind a decimal comma."""
    return cell.isdecimal() and len(cell) <= most and (most > USUAL_DECIMALS or cell.strip("0") != "")


def names_calls(cells: list[str]) -> bool:
    """Whether a row is the head: one of its cells names the column of calls."""
    return any(column_of(cell, 0)[0].place == ("call",) for cell in cells)


def on_its_side(names: list[str], rows: list[list[str]]) -> bool:
    """Whether the keys of a table stand in its first column: those below the head, and none in the head beside it."""
    down = [cells[0] for cells in rows if cells and cells[0]]
    return len(down) > 1 and all(is_column(cell) for cell in down) and not any(map(is_column, names[1:]))


def is_column(cell: str) -> bool:
    """Whether a cell names a place in a station's file."""
    return bool(cell) and column_of(cell, 0)[0].place is not None


def has_band(columns: list[Column]) -> bool:
    """Whether the roster names the band of each row."""
    return any(column.place == BAND_COLUMN for column in columns)


def row_tree(roster: Path, columns: list[Column], cells: list[str], line: int, head: int, band: str) -> Tree:
    """One row as a tree; empty cells are absent keys."""
    data: dict[str, Any] = {}
    lines: dict[Place, int] = {(): line}
    key_lines: dict[Place, int] = {}
    given = {column.place: cell for column, cell in zip(columns, cells, strict=False) if column.place and cell}
    band = band_in(given.pop(BAND_COLUMN, "")) or band or "3cm"
    units = {column.place: column.unit for column in columns if column.unit}
    for place, cell in given.items():
        place_here: Place = tuple(band if part == OPEN else part for part in place)
        inner = data
        for key in place_here[:-1]:
            inner = inner.setdefault(str(key), {})
        last = str(place_here[-1])
        text = f"{cell} {units[place]}" if place in units and scalars.NUMBER.fullmatch(cell) else cell
        inner[last] = re.split(LISTS[last], text) if last in LISTS else text
        for depth in range(1, len(place_here) + 1):
            lines[place_here[:depth]] = line
            key_lines[place_here[:depth]] = head
    return Tree(roster.name, data, lines, key_lines, roster.parent)


def band_in(cell: str) -> str:
    """The band of a cell: its name, or that which a frequency or other spelling stands for."""
    try:
        return scalars.band_name(cell) if cell else ""
    except scalars.Refusal as refusal:
        near = re.search(r"did you mean '(.+)'", refusal.advice)
        return near[1] if near else cell
