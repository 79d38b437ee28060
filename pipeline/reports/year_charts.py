"""Charts of the year as inline SVG: a row a month with a bar a night, and the Moon's course of 18.6 years.

One path per colour over the whole chart, since the PDF engine pays per element. Heights and outlines tell everything;
colour only repeats it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from pipeline.outlook.facts import NEAR_SUN_DEG
from pipeline.reports.charts import runs_of
from pipeline.reports.svg import AMBER, AMBER_TINT, GREY, HAIR, INK, PALE, TEAL, TEAL_TINT, path, rectangle, svg, text

# The hanging bars are full at this many decibels at least, and at what this share of the nights does not pass.
LEAST_SCALE_DB, SCALE_SHARE = 3.0, 0.9
STEEPEST_DEG = 29.0
LEFT, RIGHT, HEAD = 54.0, 50.0, 11.0
SIZE = 7.0
# Shares of a row: numbers of the weekends, bars up, bars down, declination; the rest is air.
NUMBERS, UP, DOWN, DECLINATION = 0.20, 0.31, 0.20, 0.21
DAYS = 31
DAYS_TOLD = (1, 5, 10, 15, 20, 25, 30)


@dataclass(frozen=True)
class Cell:
    """One night: `loss_db` may be NaN; `rank` is that of its weekend among those told, if any."""

    day: int
    contacts: float
    loss_db: float
    declination_deg: float
    near_sun: bool
    weekend: bool
    away: bool
    rank: int | None


@dataclass(frozen=True)
class MonthRow:
    """One calendar month of nights; a day may be without one. `left` and `right` are two short lines each."""

    left: tuple[str, str]
    right: tuple[str, str]
    days: int
    cells: Sequence[Cell]


@dataclass(frozen=True)
class Scales:
    """Contacts of the tallest bar and decibels from which a hanging one is full."""

    contacts: float
    loss_db: float


def scales_of(rows: Sequence[MonthRow]) -> Scales:
    """One scale for all months."""
    most = max((cell.contacts for row in rows for cell in row.cells), default=0.0)
    lost = sorted(cell.loss_db for row in rows for cell in row.cells if not math.isnan(cell.loss_db))
    usual = lost[int(SCALE_SHARE * (len(lost) - 1))] if lost else 0.0
    return Scales(most, max(float(math.ceil(usual)), LEAST_SCALE_DB))


def months_chart(rows: Sequence[MonthRow], scales: Scales, width: float, pitch: float, title: str) -> Markup:
    """A row a month, `pitch` points high."""
    cell = (width - LEFT - RIGHT) / DAYS
    drawing = _Drawing(cell, pitch, scales)
    for index, row in enumerate(rows):
        drawing.row(row, HEAD + index * pitch)
    texts = [text(LEFT + (day - 0.5) * cell, HEAD - 3.5, str(day), SIZE, GREY, "middle") for day in DAYS_TOLD]
    return svg(width, HEAD + len(rows) * pitch, title, [*drawing.parts(), *texts], "strip")


class _Drawing:
    """Gathers the commands of one path per colour while the rows are walked."""

    def __init__(self, cell: float, pitch: float, scales: Scales) -> None:
        self.cell, self.pitch, self.scales = cell, pitch, scales
        self.tint = self.sun = self.weekend = self.other = self.losses = self.lines = self.zero = ""
        self.declination = self.away = ""
        self.texts: list[str] = []

    def row(self, row: MonthRow, top: float) -> None:
        """One month from its upper edge down."""
        base = top + (NUMBERS + UP) * self.pitch
        foot = base + DOWN * self.pitch
        middle = foot + (0.03 + DECLINATION / 2) * self.pitch
        low = middle + DECLINATION / 2 * self.pitch
        end = LEFT + row.days * self.cell
        self.lines += f"M0 {top + self.pitch:.2f}H{LEFT + DAYS * self.cell + RIGHT:.2f}M{LEFT:.2f} {base:.2f}H{end:.2f}"
        self.zero += f"M{LEFT:.2f} {middle:.2f}H{end:.2f}"
        for cell in row.cells:
            self._cell(cell, LEFT + (cell.day - 1) * self.cell, base)
        for first, last in runs_of(np.array([cell.near_sun for cell in row.cells])):
            x0, x1 = self._across(row.cells[first], row.cells[last])
            self.sun += rectangle(x0 + 0.4, top + NUMBERS * self.pitch, x1 - x0 - 0.8, low - top - NUMBERS * self.pitch)
        self._weekends(row.cells, top + NUMBERS * self.pitch, foot)
        half = DECLINATION / 2 * self.pitch
        points = (
            f"{LEFT + (cell.day - 0.5) * self.cell:.1f} {middle - cell.declination_deg / STEEPEST_DEG * half:.1f}"
            for cell in row.cells
        )
        self.declination += "M" + "L".join(points)
        self._words(row, base, foot)

    def _cell(self, cell: Cell, x: float, base: float) -> None:
        if cell.contacts > 0.0:
            high = cell.contacts / self.scales.contacts * UP * self.pitch
            if cell.weekend:
                self.weekend += f"M{x + self.cell / 2:.1f} {base:.1f}v{-high:.2f}"
            else:
                self.other += f"M{x + 1.6:.1f} {base:.1f}v{-high:.2f}h{self.cell - 3.2:.1f}v{high:.2f}"
        if not math.isnan(cell.loss_db):
            deep = min(max(cell.loss_db / self.scales.loss_db, 0.03), 1.0) * DOWN * self.pitch
            self.losses += f"M{x + self.cell / 2:.1f} {base + 0.6:.1f}v{max(deep - 0.6, 0.6):.2f}"
        if cell.away:
            self.away += f"M{x:.2f} {base:.2f}h{self.cell:.2f}"

    def _weekends(self, cells: Sequence[Cell], top: float, foot: float) -> None:
        """A tint behind the nights of each weekend that is told, with its number above."""
        first = 0
        while first < len(cells):
            rank, last = cells[first].rank, first
            if rank is None:
                first += 1
                continue
            while last + 1 < len(cells) and cells[last + 1].rank == rank:
                last += 1
            x0, x1 = self._across(cells[first], cells[last])
            self.tint += rectangle(x0, top, x1 - x0, foot - top)
            self.texts.append(text((x0 + x1) / 2, top - 1.2, f"{rank}.", SIZE, INK, "middle", 600))
            first = last + 1

    def _across(self, first: Cell, last: Cell) -> tuple[float, float]:
        """Left edge of one night and right edge of another."""
        return LEFT + (first.day - 1) * self.cell, LEFT + last.day * self.cell

    def _words(self, row: MonthRow, base: float, foot: float) -> None:
        edge = LEFT + DAYS * self.cell + 4
        self.texts.append(text(0, base - 5.0, row.left[0], 8.0, INK, weight=600))
        self.texts.append(text(0, foot + 3.0, row.left[1], SIZE, INK))
        self.texts.append(text(edge, base - 5.0, row.right[0], SIZE, GREY))
        self.texts.append(text(edge, foot + 3.0, row.right[1], SIZE, GREY))

    def parts(self) -> list[str]:
        """The paths, lowest first, then the words."""
        return [
            path(self.tint, fill=TEAL_TINT),
            path(self.sun, fill=AMBER_TINT, stroke=AMBER, width=0.8),
            path(self.lines, stroke=HAIR, width=0.5),
            path(self.zero, stroke=PALE, width=0.4, more=' stroke-dasharray="2 2"'),
            path(self.weekend, stroke=TEAL, width=self.cell - 2.4),
            path(self.other, fill="#ffffff", stroke=TEAL, width=0.7),
            path(self.losses, stroke=PALE, width=self.cell - 4.8),
            path(self.away, stroke=INK, width=1.6),
            path(self.declination, stroke=TEAL, width=1.0, more=' stroke-linejoin="round"'),
            *self.texts,
        ]


def course_chart(
    years: Sequence[int], limits_deg: Sequence[float], mark: int, width: float, height: float, title: str
) -> Markup:
    """A bar a year from 0 to 30 degrees, its figure above it; the marked year in ink."""
    head, foot = 10.0, 11.0
    step = width / max(len(years), 1)
    scale = (height - head - foot) / 30.0
    base = height - foot
    bars = {TEAL: "", INK: ""}
    texts: list[str] = []
    for place, (year, limit) in enumerate(zip(years, limits_deg, strict=True)):
        colour, weight = (INK, 600) if year == mark else (TEAL, 400)
        middle = (place + 0.5) * step
        bars[colour] += rectangle(place * step + step * 0.28, base - limit * scale, step * 0.44, limit * scale)
        texts.append(text(middle, base - limit * scale - 2.5, f"{limit:.1f}", SIZE, INK, "middle", weight))
        # Every second year is named: the engine pays per word.
        if (year - mark) % 2 == 0:
            texts.append(text(middle, height - 2.0, str(year), SIZE, INK if weight == 600 else GREY, "middle", weight))
    line = path(f"M0 {base:.2f}H{width:g}", stroke=HAIR, width=0.5)
    return svg(width, height, title, [*(path(commands, fill=c) for c, commands in bars.items()), line, *texts], "strip")


def near_sun(separation_deg: float) -> bool:
    """Whether a night is drawn as near the Sun."""
    return separation_deg < NEAR_SUN_DEG
