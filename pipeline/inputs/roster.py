"""A roster (CSV, one row a station, columns named like the keys with dots for nesting) to station files."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from typing import Any

from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.station import read_station
from pipeline.inputs.writing import call_in, checked_station, need_folder, write_stations
from pipeline.inputs.yaml_tree import Place, Tree, decode, printable, read_bytes

# Columns whose cell holds a list, and what parts its entries.
LISTS = {"modes": r"[;|\s]+", "unavailable_dates": r"[;|\s]+", "checklist": r"\s*\|\s*"}
MOST_ROWS = 2000


def import_roster(roster: Path, folder: Path) -> list[Path]:
    """Turn every row of a roster into a station file, all or none. Returns the files written, in the roster's order.

    Raises InputFaults with every fault of every row.
    """
    roster, folder = Path(roster), Path(folder)
    need_folder(folder)
    texts: dict[str, str] = {}
    calls: dict[str, str] = {}
    for tree in checked_rows(roster):
        name, text = checked_station(tree.data, roster.name, roster.parent)
        texts[name], calls[name] = text, call_in(text)
    return write_stations(folder, texts, calls, roster.name)


def checked_rows(roster: Path) -> list[Tree]:
    """The rows as trees without fault, each call once."""
    trees = read_rows(roster)
    faults: list[Fault] = []
    first: dict[str, int] = {}
    for tree in trees:
        faults += read_station(tree).faults
        if "horizon" in tree.data:
            note = "a roster takes no horizon; add it to the station's file afterwards."
            faults.append(tree.fault(("horizon",), note))
        call = str(tree.data.get("call", "")).upper()
        line = tree.line(("call",)) or 1
        if call and first.setdefault(call, line) != line:
            message = f"the call {printable(call)} stands in line {first[call]} as well; keep one of the rows."
            faults.append(Fault(tree.file, line, "call", message))
    if faults:
        raise InputFaults(faults)
    return trees


def read_rows(roster: Path) -> list[Tree]:
    """The rows as trees; their lines are those of the CSV file, and those of the keys the line of the names."""
    text = decode(read_bytes(roster), roster.name)
    # Spreadsheets of countries with a decimal comma part their cells with semicolons.
    first_line = text.split("\n", 1)[0]
    delimiter = ";" if ";" in first_line and "," not in first_line else ","
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    trees: list[Tree] = []
    faults: list[Fault] = []
    names: list[str] = []
    try:
        for cells in rows:
            if not any(cell.strip() for cell in cells):
                continue
            if not names:
                names = [cell.strip() for cell in cells]
                faults += column_faults(roster.name, names, rows.line_num)
                if faults:
                    break  # cells under names that do not fit each other cannot be placed
            elif len(cells) > len(names):
                message = f"the row has {len(cells)} cells for {len(names)} columns; put text with a comma in quotes."
                faults.append(Fault(roster.name, rows.line_num, "", message))
            elif len(trees) >= MOST_ROWS:
                raise InputFaults([Fault(roster.name, rows.line_num, "", f"at most {MOST_ROWS} rows are taken.")])
            else:
                trees.append(row_tree(roster, names, cells, rows.line_num))
    except csv.Error:
        message = "the row is no CSV; a quotation mark may be left open."
        raise InputFaults([*faults, Fault(roster.name, rows.line_num, "", message)]) from None
    if not trees and not faults:
        faults.append(Fault(roster.name, 1, "", "the roster has names of columns but no row; write one row a station."))
    if faults:
        raise InputFaults(faults)
    return trees


def column_faults(file: str, names: list[str], line: int) -> list[Fault]:
    """Columns without a name, named twice, or both a value and a group; `call` must be there."""
    faults = []
    for index, name in enumerate(names):
        if not name or any(not part for part in name.split(".")):
            faults.append(
                Fault(file, line, name, f"column {index + 1} has no whole name; write one like position.locator.")
            )
        elif name in names[:index]:
            faults.append(Fault(file, line, name, f"the column {printable(name)} stands there twice; keep one."))
        elif any(other.startswith(name + ".") for other in names):
            message = f"the column {printable(name)} stands beside columns that begin with it; keep one kind."
            faults.append(Fault(file, line, name, message))
    if "call" not in names:
        shown = printable(", ".join(names))
        faults.append(
            Fault(file, line, "call", f"there is no column call (found: {shown}); the first line names columns.")
        )
    return faults


def row_tree(roster: Path, names: list[str], cells: list[str], line: int) -> Tree:
    """One row as a tree; empty cells are absent keys."""
    data: dict[str, Any] = {}
    lines: dict[Place, int] = {(): line}
    key_lines: dict[Place, int] = {}
    for name, cell in zip(names, cells, strict=False):
        if not cell.strip():
            continue
        place = column_place(name)
        inner = data
        for key in place[:-1]:
            inner = inner.setdefault(str(key), {})
        last = str(place[-1])
        inner[last] = re.split(LISTS[last], cell.strip()) if last in LISTS else cell.strip()
        for depth in range(1, len(place) + 1):
            lines[place[:depth]] = line
            key_lines[place[:depth]] = 1
    return Tree(roster.name, data, lines, key_lines, roster.parent)


def column_place(name: str) -> Place:
    """`bands.1.25cm.power_w` to its place; a band's name may hold a dot itself."""
    parts = re.sub(r"\b1\.25(c?m)\b", "1\0\\1", name).split(".")
    return tuple(part.replace("1\0", "1.25") for part in parts)
