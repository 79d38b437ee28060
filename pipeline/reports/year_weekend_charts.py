"""Weekends as marks: a partner's mark is as long as the contacts it brings, so that the row ends at their sum.

A hair line goes on to what the weekend would bring if home were free. One path a colour; shapes are those of the
outcome words.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from pipeline.outlook.weekends import WeekendPartner
from pipeline.reports.svg import GREY, INK, PALE, TEAL, disc, path, svg, text

# The greatest radius of a mark; of a mark that must be shorter the share of its length.
RADIUS, SHARE = 3.4, 0.46
# A radius below which nothing is seen.
LEAST_RADIUS = 0.3
HEAD = 13.0
# Air within the column, so that a figure of the axis stands whole.
INSET = 4.0
SIZE = 7.4
# The rows' fine parts: half the height of the ink tick, of the hair line's end.
TICK, END = 4.6, 2.4
# At most so many figures on the axis.
MOST_FIGURES = 9


@dataclass(frozen=True)
class WeekendMarks:
    """What a row draws: its partners, the most certain first, their sum, the contacts if home were free."""

    partners: Sequence[WeekendPartner]
    contacts: float
    if_free: float
    starts_month: bool = False


def axis_end(rows: Sequence[WeekendMarks]) -> int:
    """The whole number of contacts at which the axis ends."""
    return max(1, math.ceil(max((max(row.contacts, row.if_free) for row in rows), default=0.0) - 1e-9))


def axis_figures(end: int) -> list[int]:
    """The figures on the axis: each, or every second, fifth, tenth, ... so that they have room."""
    steps = (step * 10**power for power in range(9) for step in (1, 2, 5))
    step = next(step for step in steps if end / step < MOST_FIGURES)
    return list(range(0, end + 1, step))


@dataclass(frozen=True)
class MarksPlace:
    """Where marks stand, points: the column's left edge and width, on a sheet so wide; the axis ends at `end`."""

    left: float
    width: float
    sheet: float
    end: int

    @property
    def zero(self) -> float:
        """Where nothing is."""
        return self.left + INSET

    @property
    def unit(self) -> float:
        """A contact."""
        return (self.width - 2 * INSET) / self.end


def weekends_chart(rows: Sequence[WeekendMarks], place: MarksPlace, pitch: float, title: str) -> Markup:
    """All rows of a page under their axis, to lie over the rows of a table of this pitch, points."""
    drawing = _Marks(place.zero, place.unit)
    lines = f"M0 {HEAD:g}H{place.sheet:g}"
    for index, row in enumerate(rows):
        drawing.row(row, HEAD + (index + 0.5) * pitch)
        if row.starts_month and index:
            lines += f"M0 {HEAD + index * pitch:.2f}H{place.sheet:g}"
    body = [path(lines, stroke=PALE, width=0.4), *drawing.parts(), *_axis(place.end, place.zero, place.unit)]
    return svg(place.sheet, HEAD + len(rows) * pitch, title, body, "marks")


def axis_strip(place: MarksPlace, title: str) -> Markup:
    """The axis alone, for the head of a column."""
    return svg(place.width, HEAD, title, _axis(place.end, INSET, place.unit), "strip-of-marks")


def weekend_strip(row: WeekendMarks, place: MarksPlace, title: str) -> Markup:
    """One row alone."""
    width, drawing = place.width, _Marks(INSET, place.unit)
    drawing.row(row, 6.0)
    return svg(width, 12.0, title, drawing.parts(), "strip-of-marks")


def _axis(end: int, zero: float, unit: float) -> list[str]:
    return [text(zero + figure * unit, HEAD - 4.5, str(figure), SIZE, GREY, "middle") for figure in axis_figures(end)]


class _Marks:
    """Gathers one path a colour; the axis begins at `zero`, `unit` is a contact in points."""

    def __init__(self, zero: float, unit: float) -> None:
        self.zero, self.unit = zero, unit
        self.full = self.rings = self.free = self.sums = self.dashes = ""

    def row(self, row: WeekendMarks, y: float) -> None:
        """One row about its middle."""
        end = self.zero + max(row.contacts, row.if_free) * self.unit
        if end > self.zero + 0.5:
            self.free += f"M{self.zero:g} {y:.2f}H{end:.2f}M{end:.2f} {y - END:.2f}v{2 * END:g}"
        x = self.zero
        for partner in row.partners:
            long = partner.contacts * self.unit
            self._mark(x + long / 2, y, min(RADIUS, SHARE * long), partner.outcome)
            x += long
        if row.contacts > 0.0:
            self.sums += f"M{self.zero + row.contacts * self.unit:.2f} {y - TICK:.2f}v{2 * TICK:g}"

    def _mark(self, x: float, y: float, radius: float, outcome: str) -> None:
        if radius < LEAST_RADIUS:
            return
        if outcome == "strong":
            self.full += disc(x, y, round(radius, 2))
        elif outcome == "unlikely":
            self.dashes += f"M{x - radius:.2f} {y:.2f}h{2 * radius:.2f}"
        else:
            self.rings += disc(x, y, round(radius, 2))
        if outcome == "workable":
            self.full += f"M{x:.2f} {y - radius:.2f}a{radius:.2f} {radius:.2f} 0 0 1 0 {2 * radius:.2f}z"

    def parts(self) -> list[str]:
        """The paths, lowest first."""
        return [
            path(self.free, stroke=PALE, width=0.6),
            path(self.rings, fill="#ffffff", stroke=TEAL, width=1.0),
            path(self.full, fill=TEAL),
            path(self.dashes, stroke=GREY, width=1.4),
            path(self.sums, stroke=INK, width=1.2),
        ]


def swatches() -> dict[str, Markup]:
    """The sum's tick and the line of a free home, for the key."""
    tick = svg(4, 8, "tick", [path("M2 0v8", stroke=INK, width=1.2)], "mark")
    line = svg(20, 8, "line", [path("M0 4H19.5M19.5 1.6v4.8", stroke=PALE, width=0.8)], "mark")
    return {"tick": tick, "line": line}
