"""Charts of the year as inline SVG: a row a month with a cell a night, and the Moon's course of 18.6 years.

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
from pipeline.wording import formats

# A night at the best case fills its cell; from this many decibels on the cell is empty.
WORST_DB = 3.0
# Bars of nights at most this short are teal, others pale: dark and light in grey print.
GOOD_DB = 1.0
STEEPEST_DEG = 29.0
NEAREST_KM, FARTHEST_KM = 356_400.0, 406_700.0
LEFT, RIGHT, HEAD = 56.0, 34.0, 11.0
# Shares of a row: numbers of the weekends, bars, declination, distance; the rest is air.
NUMBERS, BARS, DECLINATION, DISTANCE = 0.27, 0.32, 0.22, 0.10
DAYS = 31


@dataclass(frozen=True)
class Cell:
    """One night: figures may be NaN; `rank` is that of its weekend among those told, if any."""

    day: int
    degradation_db: float
    declination_deg: float
    distance_km: float
    near_sun: bool
    weekend: bool
    possible: bool
    rank: int | None


@dataclass(frozen=True)
class MonthRow:
    """One calendar month of nights; a day may be without one."""

    label: str
    days: int
    cells: Sequence[Cell]


def months_chart(rows: Sequence[MonthRow], width: float, height: float, most: float = 62.0) -> Markup:
    """A row a month; no row is higher than `most` points."""
    pitch = min((height - HEAD) / len(rows), most)
    cell = (width - LEFT - RIGHT) / DAYS
    drawing = _Drawing(cell, pitch)
    for index, row in enumerate(rows):
        drawing.row(row, HEAD + index * pitch)
    texts = [text(LEFT + (day - 0.5) * cell, HEAD - 3.5, str(day), 6.4, GREY, "middle") for day in range(1, DAYS + 1)]
    title = (
        f"{formats.count(len(rows), 'month')} of nights from {rows[0].label} on, a row a month: quietness at home, "
        "declination and distance of the Moon; the same figures stand in year.csv"
    )
    return svg(width, HEAD + len(rows) * pitch, title, [*texts, *drawing.parts()], "strip")


class _Drawing:
    """Gathers the commands of one path per colour while the rows are walked."""

    def __init__(self, cell: float, pitch: float) -> None:
        self.cell, self.pitch = cell, pitch
        self.tint = self.sun = self.good = self.poor = self.outlined = self.lines = self.zero = ""
        self.declination = self.distance = self.brackets = ""
        self.texts: list[str] = []

    def row(self, row: MonthRow, top: float) -> None:
        """One month from its upper edge down."""
        bars_top = top + NUMBERS * self.pitch
        bars_foot = bars_top + BARS * self.pitch
        middle = bars_foot + (0.03 + DECLINATION / 2) * self.pitch
        far_top = bars_foot + (0.06 + DECLINATION) * self.pitch
        far_foot = far_top + DISTANCE * self.pitch
        end = LEFT + row.days * self.cell
        self.lines += f"M0 {top + self.pitch:.2f}H{LEFT + DAYS * self.cell + RIGHT:.2f}"
        self.lines += f"M{LEFT:.2f} {bars_foot:.2f}H{end:.2f}"
        self.zero += f"M{LEFT:.2f} {middle:.2f}H{end:.2f}"
        for cell in row.cells:
            self._cell(cell, LEFT + (cell.day - 1) * self.cell, bars_top, bars_foot, far_foot)
        for first, last in runs_of(np.array([cell.near_sun for cell in row.cells])):
            x0, x1 = self._across(row.cells[first], row.cells[last])
            self.sun += rectangle(x0 + 0.4, bars_top, x1 - x0 - 0.8, far_foot - bars_top)
        self._weekends(row.cells, bars_top)
        half = DECLINATION / 2 * self.pitch
        self.declination += self._line(
            row.cells,
            [middle - cell.declination_deg / STEEPEST_DEG * half for cell in row.cells],
        )
        span = NEAREST_KM - FARTHEST_KM
        self.distance += self._line(
            row.cells,
            [far_foot - (cell.distance_km - FARTHEST_KM) / span * (far_foot - far_top) for cell in row.cells],
        )
        self._words(row, bars_foot, middle, far_foot)

    def _cell(self, cell: Cell, x: float, bars_top: float, bars_foot: float, foot: float) -> None:
        if cell.weekend:
            self.tint += rectangle(x, bars_top, self.cell, foot - bars_top)
        if math.isnan(cell.degradation_db):
            return
        deep = max(1.0 - cell.degradation_db / WORST_DB, 0.03) * (bars_foot - bars_top)
        bar = rectangle(x + 0.9, bars_foot - deep, self.cell - 1.8, deep)
        if not cell.possible:
            self.outlined += bar
        elif cell.degradation_db <= GOOD_DB:
            self.good += bar
        else:
            self.poor += bar

    def _weekends(self, cells: Sequence[Cell], bars_top: float) -> None:
        """A bracket over the nights of each weekend that is told, with its number."""
        base = bars_top - 1.2
        first = 0
        while first < len(cells):
            rank, last = cells[first].rank, first
            if rank is None:
                first += 1
                continue
            while last + 1 < len(cells) and cells[last + 1].rank == rank:
                last += 1
            x0, x1 = self._across(cells[first], cells[last])
            self.brackets += f"M{x0 + 0.9:.2f} {base:.2f}H{x1 - 0.9:.2f}"
            self.texts.append(text((x0 + x1) / 2, base - 1.6, str(rank), 7.0, INK, "middle", 600))
            first = last + 1

    def _across(self, first: Cell, last: Cell) -> tuple[float, float]:
        """Left edge of one night and right edge of another."""
        return LEFT + (first.day - 1) * self.cell, LEFT + last.day * self.cell

    def _line(self, cells: Sequence[Cell], heights: Sequence[float]) -> str:
        points = (f"{LEFT + (cell.day - 0.5) * self.cell:.1f} {y:.1f}" for cell, y in zip(cells, heights, strict=True))
        return "M" + "L".join(points)

    def _words(self, row: MonthRow, bars_foot: float, middle: float, far_foot: float) -> None:
        edge = LEFT + DAYS * self.cell + 4
        self.texts.append(text(0, bars_foot - 1.5, row.label, 7.8, INK, weight=600))
        self.texts.append(text(0, middle + 1.8, "declination", 5.8, TEAL))
        self.texts.append(text(0, far_foot, "distance", 5.8, GREY))
        known = [cell.degradation_db for cell in row.cells if not math.isnan(cell.degradation_db)]
        if known:
            self.texts.append(text(edge, bars_foot - 1.5, f"{formats.decibels(min(known))} dB", 6.8, INK))
        south, north = (pick(cell.declination_deg for cell in row.cells) for pick in (min, max))
        reach = f"{formats.signed(south, 0)} to {formats.signed(north, 0, plus=True)}°"
        self.texts.append(text(edge, middle + 1.8, reach, 5.8, TEAL))
        nearest = 1000 * round(min(cell.distance_km for cell in row.cells) / 1000)
        self.texts.append(text(edge, far_foot, f"{formats.thousands(nearest)} km", 5.8, GREY))

    def parts(self) -> list[str]:
        """The paths, lowest first, then the words."""
        return [
            path(self.tint, fill=TEAL_TINT),
            path(self.sun, fill=AMBER_TINT, stroke=AMBER, width=0.8),
            path(self.lines, stroke=HAIR, width=0.5),
            path(self.zero, stroke=PALE, width=0.4, more=' stroke-dasharray="2 2"'),
            path(self.good, fill=TEAL),
            path(self.poor, fill=PALE),
            path(self.outlined, stroke=PALE, width=0.6),
            path(self.declination, stroke=TEAL, width=1.1, more=' stroke-linejoin="round"'),
            path(self.distance, stroke=GREY, width=0.9, more=' stroke-linejoin="round"'),
            path(self.brackets, stroke=INK, width=1.2),
            *self.texts,
        ]


def course_chart(years: Sequence[int], limits_deg: Sequence[float], mark: int, width: float, height: float) -> Markup:
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
        texts.append(text(middle, base - limit * scale - 2.5, f"{limit:.1f}", 6.8, INK, "middle", weight))
        texts.append(text(middle, height - 2.0, str(year), 6.8, INK if weight == 600 else GREY, "middle", weight))
    line = path(f"M0 {base:.2f}H{width:g}", stroke=HAIR, width=0.5)
    title = f"The Moon's most northern declination of each year, {years[0]} to {years[-1]}, in degrees"
    return svg(width, height, title, [*(path(commands, fill=c) for c, commands in bars.items()), line, *texts], "strip")


def near_sun(separation_deg: float) -> bool:
    """Whether a night is drawn as near the Sun."""
    return separation_deg < NEAR_SUN_DEG
