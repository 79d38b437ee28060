"""The table of a skyline, azimuth_deg and elevation_deg, to points as text, and what its lines hold instead of figures.

Cells may be parted by semicolons or tabs, and then figures have a decimal comma. What is told is put right for the
reader behind, so that every other fault comes in the same go.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from pipeline.inputs import bounds, scalars
from pipeline.inputs.entries_said import COMPASS
from pipeline.inputs.faults import Fault
from pipeline.inputs.odd_characters import plain
from pipeline.inputs.tables import with_decimal_point
from pipeline.inputs.yaml_tree import printable

SURVEY_COLUMNS = ["azimuth_deg", "elevation_deg"]
MARKS = (";", "\t", ",")
# A title or two may stand above the names of the columns.
HEAD_WITHIN = 5
PERCENT = re.compile(
    r"([+-]?\d+(?:[.,]\d+)?)\s*(?:%|percent|prozent|pct\.?|per cento|por ?ciento|por cento|pour ?cent)$", re.I
)
UNIT = re.compile(
    r"[\[(]?(?:°|deg(?:rees?|\.)?|grad|gradi|grados|graus|degrés|m|w|db|dbi|mhz|ghz|hz|utc|km|%)[\])]?", re.I
)
HIGHEST_DEG = 90.0
# A skyline that stands higher is none, where the other column goes round.
LOW_DEG = 45.0

Row = tuple[int, list[str]]


@dataclass(frozen=True)
class SurveyRead:
    """The rows below the head, each with its line, and what is to be told of the table."""

    rows: list[Row]
    faults: list[Fault]


def mark_of(text: str) -> str:
    """What parts the cells of the first line."""
    return next((mark for mark in MARKS if mark in text.partition("\n")[0]), ",")


def read_survey(text: str, name: str) -> SurveyRead:
    """The rows of a survey's table. Raises csv.Error where it is none."""
    mark = mark_of(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
    raw = [(reader.line_num, cells) for cells in reader]
    if len(raw) - 1 > bounds.LONGEST_LIST:
        message = f"the survey has {len(raw) - 1} rows; at most {bounds.LONGEST_LIST} are taken."
        return SurveyRead([], [Fault(name, None, "", message)])
    wide = next(((line, cells) for line, cells in raw if len(cells) > bounds.MOST_COLUMNS), None)
    if wide is not None:
        return SurveyRead([], [Fault(name, wide[0], "", _too_many(wide[1], mark))])
    every = [(line, [cell.strip() for cell in cells]) for line, cells in raw]
    rows, faults = _below_head(every, mark, name)
    width = len(SURVEY_COLUMNS)
    filled = [(line, cells) for line, cells in rows if any(cells)]
    units = [line for line, cells in filled[:1] if is_of_units(cells)]
    faults += [Fault(name, line, "", "the row holds units, not a point; take it out.") for line in units]
    kept = []
    for line, cells in filled[len(units) :]:
        if len(cells) > width:
            faults.append(Fault(name, line, "", _too_many(cells, mark)))
        else:
            kept.append((line, [bare_figure(cell, mark) for cell in cells]))
    for column, said, meant in (
        (0, "points of the compass; from true north in degrees", _by_compass),
        (1, "slopes in percent; in degrees", slope_deg),
    ):
        kept, told = _put_right(kept, column, said, meant, name)
        faults += told
    return SurveyRead(kept, faults or _turned(kept, name))


def bare_figure(cell: str, mark: str) -> str:
    """A cell of degrees without its sign, and with a decimal point."""
    return with_decimal_point(cell.strip().removesuffix("°").strip(), mark)


def is_of_units(cells: Iterable[str]) -> bool:
    """Whether a row says in which units the columns are, and nothing else."""
    filled = [cell for cell in cells if cell]
    return bool(filled) and all(UNIT.fullmatch(cell) for cell in filled)


def slope_deg(cell: str) -> str | None:
    """A slope in percent as an angle: its arctangent, in tenths of a degree; None for any other text."""
    found = PERCENT.fullmatch(plain(cell).strip())
    return f"{math.degrees(math.atan(float(found[1].replace(',', '.')) / 100.0)):.1f}" if found else None


def _by_compass(cell: str) -> str | None:
    word = plain(cell).upper()
    return f"{22.5 * COMPASS.index(word):g}" if word in COMPASS else None


def _below_head(every: Sequence[Row], mark: str, name: str) -> tuple[list[Row], list[Fault]]:
    """The rows that hold points, and what is wrong with those above them."""
    head = next((at for at, (_, cells) in enumerate(every[:HEAD_WITHIN]) if cells == SURVEY_COLUMNS), None)
    names = mark.join(SURVEY_COLUMNS)
    if head == 0:
        return list(every[1:]), []
    line, first = every[0]
    shown = mark.join(first)[:60]
    if head is not None:
        above = "this line stands" if head == 1 else f"lines 1 to {every[head][0] - 1} stand"
        message = f"{above} above {names}, the first being '{shown}'; the names are the first line of a survey."
        return list(every[head + 1 :]), [Fault(name, line, "", message)]
    at = [first.index(column) for column in SURVEY_COLUMNS if column in first]
    if len(at) == len(SURVEY_COLUMNS):
        others = [cell for cell in first if cell and cell not in SURVEY_COLUMNS]
        order = "the azimuth stands first" if at[0] > at[1] else "it has two columns"
        out = f"; take out {', '.join(printable(cell, 30) for cell in others)}" if others else ""
        message = f"the first line of a survey is {names}: {order}{out}, and so in each line."
        rows = [(line, [cells[place] for place in at if place < len(cells)]) for line, cells in every[1:]]
        return rows, [Fault(name, line, "", message)]
    if _is_point(first):
        message = f"the table begins with a point, '{shown}'; put a line {names} above it."
        return list(every), [Fault(name, line, "", message)]
    return list(every[1:]), [Fault(name, line, "", f"the first line is '{shown}'; write {names}.")]


def _is_point(cells: Sequence[str]) -> bool:
    """Whether a row holds figures, or a point of the compass and a figure."""
    figures = [bool(scalars.NUMBER.fullmatch(with_decimal_point(cell, ";"))) for cell in cells if cell]
    return len(figures) > 1 and all(figures[1:]) and (figures[0] or _by_compass(cells[0]) is not None)


def _too_many(cells: Sequence[str], mark: str) -> str:
    told = f"the row has {len(cells)} cells; {','.join(SURVEY_COLUMNS)} are meant."
    if mark != "," or len(cells) > 4 or not all(cell.lstrip("+-").isdecimal() for cell in cells):
        return told
    whole = [cells[0], ".".join(cells[1:])] if len(cells) == 3 else [".".join(cells[:2]), ".".join(cells[2:])]
    return f"the row has {len(cells)} cells, for a decimal comma parts a number in two; write {','.join(whole)}."


def _put_right(
    rows: Sequence[Row], column: int, said: str, meant: Callable[[str], str | None], name: str
) -> tuple[list[Row], list[Fault]]:
    """The rows with what another habit wrote in one column as the file takes it, and one fault for all of them."""
    changed = {line: cells[column] for line, cells in rows if len(cells) > column and meant(cells[column]) is not None}
    if not changed:
        return list(rows), []
    right = [
        (line, [meant(cell) or cell if line in changed and at == column else cell for at, cell in enumerate(cells)])
        for line, cells in rows
    ]
    lines = sorted(changed)
    where = "this line" if len(lines) == 1 else f"lines {', '.join(map(str, lines[:-1]))} and {lines[-1]}"
    where = f"lines {lines[0]} to {lines[-1]}" if len(lines) > 2 and lines[-1] - lines[0] == len(lines) - 1 else where
    stand = ", ".join(printable(changed[line], 20) for line in lines)
    values = ", ".join(cells[column] for line, cells in right if line in changed)
    told = f"{SURVEY_COLUMNS[column]} of {where}, {stand}, as {said}: {values}."
    return right, [Fault(name, lines[0], SURVEY_COLUMNS[column], told)]


def _turned(rows: Sequence[Row], name: str) -> list[Fault]:
    """Columns in each other's place: the second goes round, and the first stays low."""
    try:
        pairs = [(float(cells[0]), float(cells[1])) for _, cells in rows if len(cells) > 1]
    except ValueError:
        return []
    if len(pairs) < 2 or max(low for low, _ in pairs) > LOW_DEG or max(high for _, high in pairs) <= HIGHEST_DEG:
        return []
    first = ",".join(f"{one:g}" for one in reversed(pairs[0]))
    message = f"the columns stand in each other's place; write the azimuth first: {first}, and so in each line."
    return [Fault(name, rows[0][0], "", message)]
