"""One answer a line of a roster: its head and each row as they should stand, in the marks of its own spreadsheet.

Where a fault of the line tells no value to write, all of them stay as they are.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

from pipeline.inputs import scalars
from pipeline.inputs.advice_read import right_in
from pipeline.inputs.faults import Fault
from pipeline.inputs.roster_columns import OPEN, Column
from pipeline.inputs.tables import Table
from pipeline.inputs.yaml_tree import Place, printable

LONGEST_LINE, MOST_RENAMED = 300, 30
# What a first line of cells without names most likely holds, by the form of each.
NUMBERS = ("dish_diameter_m", "power_w")


def told_by_line(faults: Sequence[Fault], table: Table, head: int, columns: Sequence[Column]) -> list[Fault]:
    """The faults, those of one line in one answer where each says what to write; `head` is the names' line."""
    cells = dict(table.rows)
    told: list[Fault] = []
    lines: dict[int | None, list[Fault]] = {}
    for fault in faults:
        lines.setdefault(fault.line, []).append(fault)
    for line, mine in lines.items():
        told += (
            of_the_head(mine, table, columns)
            if line == head
            else of_a_row(mine, table, columns, cells.get(line or 0, []))
        )
    return told


def of_the_head(faults: Sequence[Fault], table: Table, columns: Sequence[Column]) -> list[Fault]:
    """The names that stand for keys in one answer, with the whole line; other faults of the head as they are."""
    renamed = [fault for fault in faults if "did you mean" in fault.message]
    names = {column.name: name_of(column.place) for column in columns if column.place}
    meant = [fault for fault in renamed if fault.field in names]
    if not 2 <= len(meant) <= MOST_RENAMED:
        return list(faults)
    told = ", ".join(f"{printable(fault.field, 30)} is called {names[fault.field]}" for fault in meant)
    heads = [names.get(column.name, column.name) for column in columns]
    text = line_text(heads, table.delimiter)
    if len(text) > LONGEST_LINE or len(set(heads)) < len(heads):
        return list(faults)
    one = Fault(meant[0].file, meant[0].line, meant[0].field, f"{told}; write the line as `{text}`.")
    return [one, *(fault for fault in faults if fault not in meant)]


def name_of(place: Place) -> str:
    """A column's name: the key alone, or its whole place where a band of its own is meant."""
    whole = place[0] == "bands" and OPEN not in place
    return ".".join(map(str, place)) if whole else str(place[-1])


def of_a_row(faults: Sequence[Fault], table: Table, columns: Sequence[Column], cells: Sequence[str]) -> list[Fault]:
    """The cells that are not taken in one answer, with the whole row."""
    if not 2 <= len(faults) <= MOST_RENAMED or not cells:
        return list(faults)
    mended, told = list(cells), []
    for fault in faults:
        at = next((at for at, one in enumerate(columns) if one.place and is_at(one.place, fault.field)), None)
        right = right_in(fault.message)
        is_unknown = "leave the cell empty" in fault.message
        if at is None or at >= len(mended) or not (right or is_unknown):
            return list(faults)
        if is_unknown:
            told.append(f"{mended[at]} stays empty where nobody knows it")
            mended[at] = ""
            continue
        told.append(f"{mended[at]} is written {right}")
        mended[at] = right
    text = line_text(mended, table.delimiter)
    if len(text) > LONGEST_LINE:
        return list(faults)
    return [Fault(faults[0].file, faults[0].line, faults[0].field, f"{', '.join(told)}; write the row as `{text}`.")]


def is_at(place: Place, field: str) -> bool:
    """Whether a column's place is that of a dotted field, whatever the band."""
    steps = [r"[^.]+(?:\.25cm)?" if step == OPEN else re.escape(str(step)) for step in place]
    return bool(re.fullmatch(r"\.".join(steps) + r"(?:\.\d+)?", field))


def line_text(cells: Iterable[str], delimiter: str) -> str:
    """Cells as a line of their table."""
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="").writerow(list(cells))
    return out.getvalue()


def names_for(cells: Sequence[str], delimiter: str) -> str:
    """The names that a row of a station most likely stands under; empty where it is no such row."""
    names: list[str] = []
    if len(cells) > MOST_RENAMED:
        return ""
    for cell in cells:
        names.append(name_for(cell, names))
    return line_text(names, delimiter) if "call" in names and "locator" in names else ""


def name_for(cell: str, taken: Sequence[str]) -> str:
    """The key that a cell's form shows; `...` where it shows none."""
    for key, read in (
        ("locator", scalars.locator),
        ("call", scalars.call_sign),
        ("time_zone", scalars.time_zone),
        ("email", scalars.mail_address),
    ):
        try:
            read(cell)
        except scalars.Refusal:
            continue
        if key not in taken:
            return key
    number = re.fullmatch(r"\d+(?:[.,]\d+)?\s*\w{0,2}", cell)
    return next((key for key in NUMBERS if number and key not in taken), "...")
