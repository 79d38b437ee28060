"""Text of a log.csv to named cells with their lines, whatever spreadsheet wrote it: delimiter, quotes, spare cells.

Nothing that somebody typed is dropped: what fits no column goes to the last one or gets a column of its own.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

from pipeline.inputs.odd_characters import LINE_BREAK
from pipeline.record.log_text import Oddity

# Countries with a decimal comma part cells with semicolons; what is pasted has tabs.
DELIMITERS = (",", ";", "\t")


@dataclass(frozen=True)
class TableRow:
    """The cells of one row by column, without blanks about them; `line` is where it begins."""

    line: int
    cells: Mapping[str, str]
    oddities: tuple[Oddity, ...]


@dataclass(frozen=True)
class LogTable:
    """All rows in which anything stands, and what is odd about the file as a whole."""

    names: tuple[str, ...]
    rows: tuple[TableRow, ...]
    oddities: tuple[Oddity, ...]


def read_table(text: str, known: Mapping[str, str]) -> LogTable:
    """The table. `known` gives the column for each name, in small letters, that a head may use for it.

    Cells are parted by that mark by which the head names most of the known columns.
    """
    delimiter = _delimiter(text, known)
    lines, open_quote = _lines(text, delimiter)
    filled = [(line, cells) for line, cells in lines if _used(cells)]
    odd = [] if open_quote is None else [open_quote]
    if not filled:
        return LogTable((), (), tuple(odd))
    head_line, head = filled[0][0], [name.strip() for name in filled[0][1]]
    # Spreadsheets leave empty cells at the ends of rows; in the head they are columns where something stands below.
    width = max(_used(head), min(len(head), max((_used(cells) for _, cells in filled[1:]), default=0)))
    names = _names(head[:width], known)
    for name, written in zip(names, head, strict=False):
        usual = known.get(written.casefold())
        if usual is not None and usual != name:
            odd.append(Oddity(head_line, f"the column {usual} stands twice", f"the second is kept as '{name}'"))
    rows = tuple(_row(line, cells, names, delimiter) for line, cells in filled[1:])
    return LogTable(names, rows, tuple(odd))


def head_names(text: str, known: Mapping[str, str]) -> tuple[str, ...]:
    """The columns that the first line names, without a look at the others."""
    return _names(_head(text, _delimiter(text, known)), known)


def _delimiter(text: str, known: Mapping[str, str]) -> str:
    """The mark by which the head names most of the known columns; the comma where none does better."""
    return max(DELIMITERS, key=lambda mark: sum(name.casefold() in known for name in _head(text, mark)))


def _used(cells: Sequence[str]) -> int:
    """How many cells there are up to the last that is filled in."""
    return max((number for number, cell in enumerate(cells, 1) if cell.strip()), default=0)


def _head(text: str, delimiter: str) -> list[str]:
    """The cells of the first line in which anything stands."""
    # Whether quotes match matters below.
    reader = csv.reader(io.StringIO(text.lstrip(), newline=""), delimiter=delimiter)
    try:
        return [cell.strip() for cell in next(reader, [])]
    except csv.Error:
        return []


def _lines(text: str, delimiter: str) -> tuple[list[tuple[int, list[str]]], Oddity | None]:
    """Rows with their first lines; where quotes do not match, every line is a row, which is told."""
    rows: list[tuple[int, list[str]]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    begin = 1
    try:
        for cells in reader:
            rows.append((begin, cells))
            begin = reader.line_num + 1
    except csv.Error:
        told = Oddity(begin, "a quotation mark is left open", "each line is taken as a row")
        return list(_line_by_line(text, delimiter)), told
    return rows, None


def _line_by_line(text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    for number, line in enumerate(LINE_BREAK.split(text), 1):
        try:
            yield number, next(csv.reader([line], delimiter=delimiter), [])
        except csv.Error:
            yield number, line.split(delimiter)


def _names(head: Sequence[str], known: Mapping[str, str]) -> tuple[str, ...]:
    """The columns: known ones by their usual name, others as they are written; no two alike and none without a name."""
    names: list[str] = []
    for number, written in enumerate(head, 1):
        wanted = known.get(written.casefold(), written or f"column {number}")
        names.append(_unlike(wanted, names))
    return tuple(names)


def _unlike(name: str, taken: Collection[str]) -> str:
    """The name itself, or with the first number that makes it another."""
    return next(one for one in (name, *(f"{name} {more}" for more in range(2, len(taken) + 3))) if one not in taken)


def _row(line: int, cells: Sequence[str], names: Sequence[str], delimiter: str) -> TableRow:
    """A row; what stands beyond the head's columns is text in which somebody typed the delimiter."""
    count = len(names)
    odd: tuple[Oddity, ...] = ()
    if _used(cells) > count:
        what = f"the row has {len(cells)} cells for {count} columns"
        advice = f"what stands beyond is taken as part of {names[-1]}; put text with '{delimiter}' in quotes"
        odd = (Oddity(line, what, advice.replace("\t", "a tab")),)
        cells = [*cells[: count - 1], delimiter.join(cells[count - 1 :]).rstrip(f"{delimiter} ")]
    padded = [*(cell.strip() for cell in cells[:count]), *[""] * (count - len(cells))]
    return TableRow(line, dict(zip(names, padded, strict=True)), odd)
