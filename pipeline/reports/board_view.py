"""Whom else to invite: a board of locator fields a night of the agenda, darker where the Moon is shared longer.

From the plan's boards, its partners and slots, and the stations of the folder that the season leaves out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from string import ascii_uppercase
from typing import TYPE_CHECKING

from markupsafe import Markup

from pipeline.inputs.reading import field_of
from pipeline.outlook.board import Board, BoardField, land_fields
from pipeline.reports.svg import GREY, HAIR, INK, path, rectangle, svg, text
from pipeline.reports.views import BoardNight, BoardPage, Boards, Paper
from pipeline.wording import formats
from pipeline.wording.board import board_key, board_lead, board_words, legend_words, others_words, tone_words

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

# Tints of teal from light to dark; ink on the darkest stands at 4.9 to 1.
TONES = ("#eaf3f4", "#c9dfe2", "#97c2c9", "#5f9eaa")
COLUMNS = 18
BOARDS_ACROSS, MOST_DOWN = 2, 4
# Points: between two boards, around all of them, above and below each; the height of a field.
GUTTER, AROUND_BOARDS, AROUND_BOARD = 14.0, 128.0, 42.0
LEAST_FIELD, LARGEST_FIELD = 8.6, 13.0
GAP, EDGE = 0.5, 1.6
CORNER = 3.4


@dataclass(frozen=True)
class Grid:
    """Where fields stand on paper: rows from `top` (a letter's place) southwards, each so many points."""

    top: int
    rows: int
    width: float
    height: float

    def corner(self, name: str) -> tuple[float, float]:
        """The upper left corner of a field, points."""
        column, row = (ascii_uppercase.index(letter) for letter in name)
        return EDGE + column * self.width, EDGE + (self.top - row) * self.height

    def boxes(self, names: Sequence[str], grow: float = 0.0) -> str:
        """Path commands of the fields' boxes, a hair apart; `grow` makes them larger all round."""
        size = self.width - 2 * GAP + 2 * grow, self.height - 2 * GAP + 2 * grow
        corners = (self.corner(name) for name in names)
        return "".join(rectangle(x + GAP - grow, y + GAP - grow, *size) for x, y in corners)


@dataclass(frozen=True)
class Marks:
    """What stands out on a board: home's field, the partners' fields, and those with a slot that night."""

    home: str
    partners: tuple[str, ...]
    slots: tuple[str, ...]


def boards_view(plan: Plan, paper: Paper) -> Boards | None:
    """The pages; None where no night is set up for."""
    boards = [board for board in plan.boards if board.free is not None]
    if not boards:
        return None
    down = math.ceil(len(boards) / BOARDS_ACROSS)
    pages = math.ceil(down / MOST_DOWN)
    each = math.ceil(down / pages)
    grid = _grid(plan, paper, each)
    nights = [_night(plan, board, grid) for board in boards]
    per_page = each * BOARDS_ACROSS
    return Boards(
        period=formats.period_title(plan.first_night, plan.last_night),
        lead=board_lead(),
        pages=tuple(
            BoardPage(
                tuple(
                    tuple(nights[start : start + BOARDS_ACROSS])
                    for start in range(first, min(first + per_page, len(nights)), BOARDS_ACROSS)
                )
            )
            for first in range(0, len(nights), per_page)
        ),
        legend=legend(paper.text_width),
        key=board_key(),
    )


def _grid(plan: Plan, paper: Paper, down: int) -> Grid:
    """Rows from the northernmost to the southernmost field that counts on any board."""
    shown = {one.name for board in plan.boards for one in board.fields if one.tone}
    shown |= {field_of(one) for one in (*plan.inputs.homes, *plan.inputs.partners)}
    rows = [ascii_uppercase.index(name[1]) for name in shown]
    count = max(rows) - min(rows) + 1
    room = (paper.text_height - AROUND_BOARDS) / down - AROUND_BOARD
    width = ((paper.text_width - GUTTER) / BOARDS_ACROSS - 2 * EDGE) / COLUMNS
    height = min(max(room / count, LEAST_FIELD), LARGEST_FIELD)
    return Grid(max(rows), count, width, math.floor(height * 10) / 10)


def _night(plan: Plan, board: Board, grid: Grid) -> BoardNight:
    slots = [slot for slot in plan.slots if slot.night == board.night]
    marks = Marks(
        home=field_of(plan.inputs.home_on(board.night)),
        partners=tuple(dict.fromkeys(field_of(one) for one in plan.inputs.partners)),
        slots=tuple(dict.fromkeys(field_of(slot.partner) for slot in slots)),
    )
    assert board.free is not None, "boards without free hours are left out before"
    first, last = (moment.astimezone(plan.zone) for moment in board.free)
    return BoardNight(
        date=formats.day_and_month(board.night),
        hours=f"{formats.clock(first)} to {formats.clock(last)}",
        slots=" · ".join(f"{slot.start.astimezone(plan.zone):%H:%M} {slot.call}" for slot in slots),
        picture=board_picture(board, marks, grid),
        others=others_words(others_in_darkest(plan, board)),
    )


def others_in_darkest(plan: Plan, board: Board) -> list[tuple[str, str]]:
    """Stations that the season leaves out in the fields of the board's darkest tone: call and field, longest first."""
    darkest = board.darkest
    dark = {one.name: one.shared_minutes for one in board.fields if one.tone == darkest > 0}
    found = [
        (call, field)
        for call, field in zip(plan.inputs.left_out, plan.inputs.left_out_fields, strict=True)
        if field in dark
    ]
    return sorted(found, key=lambda one: (-dark[one[1]], one[0]))


def board_picture(board: Board, marks: Marks, grid: Grid) -> Markup:
    """One board as SVG: a path a tone, a folded corner where people sleep, letters in every field that counts."""
    shared = {one.name: one for one in board.fields if one.tone}
    size = 2 * EDGE + COLUMNS * grid.width, 2 * EDGE + grid.rows * grid.height
    rows = [ascii_uppercase[grid.top - row] for row in range(grid.rows)]
    empty = [name for name in land_fields() if name not in shared and name[1] in rows]
    body = [path(grid.boxes(empty), stroke=HAIR, width=0.5)]
    body += [
        path(grid.boxes([name for name, one in shared.items() if one.tone == tone + 1]), fill=colour)
        for tone, colour in enumerate(TONES)
    ]
    body.append(path("".join(_folded(grid, one) for one in shared.values() if one.asleep), fill=INK))
    outlined = [name for name in (*marks.partners, marks.home) if name not in marks.slots]
    body.append(path(grid.boxes(outlined), stroke=INK, width=0.7))
    body.append(path(grid.boxes(list(marks.slots), 0.3), stroke=INK, width=1.9))
    x, y = grid.corner(marks.home)
    body.append(path(rectangle(x + grid.width - 4.6, y + 1.6, 3.0, 3.0), fill=INK))
    for name in dict.fromkeys([*shared, *marks.partners, marks.home]):
        x, y = grid.corner(name)
        weight = 600 if name in (*marks.slots, *marks.partners, marks.home) else 400
        middle = x + grid.width / 2, y + grid.height / 2 + 2.5
        body.append(text(*middle, name, 7.0, INK if name in shared else GREY, "middle", weight))
    return svg(size[0], size[1], board_words(board, marks.slots), body, "board")


def _folded(grid: Grid, field: BoardField) -> str:
    """Path commands of the lower left corner folded over: asleep."""
    x, y = grid.corner(field.name)
    return f"M{x + GAP:.2f} {y + grid.height - GAP:.2f}h{CORNER:g}l{-CORNER:g} {-CORNER:g}z"


def legend(width: float) -> Markup:
    """What tones and marks mean, in one line."""
    body, x, box = [text(0, 9.0, "shared Moon", 7.8, INK, weight=600)], 52.0, (14.0, 9.6)
    for colour, words in zip(TONES, tone_words(), strict=True):
        body += [path(rectangle(x, 1.2, *box), fill=colour), text(x + 17, 9.0, words, 7.8, GREY)]
        x += 66.0
    x += 4.0
    fold = f"M{x:.1f} 10.8h{CORNER:g}l{-CORNER:g} {-CORNER:g}z"
    body += [path(rectangle(x, 1.2, *box), fill=TONES[1]), path(fold, fill=INK), text(x + 17, 9.0, "asleep", 7.8, GREY)]
    x += 44.0
    body += [path(rectangle(x, 1.2, *box), stroke=INK, width=1.9), text(x + 18, 9.0, "slot", 7.8, GREY)]
    x += 36.0
    body += [path(rectangle(x, 1.2, *box), stroke=INK, width=0.7), text(x + 17, 9.0, "partner", 7.8, GREY)]
    x += 46.0
    body += [path(rectangle(x, 4.5, 3.0, 3.0), fill=INK), text(x + 6, 9.0, "home", 7.8, GREY)]
    return svg(width, 13.0, legend_words(), body, "board-legend")
