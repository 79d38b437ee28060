"""The month's course as one SVG: curves and bars one under the other on one axis of days, one path a colour.

Nights of the agenda stand in ink on a tinted column, days near the Sun in amber with drawn edges, so that both are told
in grey print too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from pipeline.reports.charts import runs_of
from pipeline.reports.svg import (
    AMBER,
    AMBER_TINT,
    AMBER_WORDS,
    GREY,
    HAIR,
    INK,
    PALE,
    TEAL,
    TEAL_TINT,
    disc,
    path,
    rectangle,
    svg,
    text,
    text_on,
)

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

LEFT, RIGHT, TOP, FOOT = 84.0, 76.0, 6.0, 26.0
# Air between two rows of the picture.
AIR = 12.0
SIZE = 7.4
# Beside a dot: the height of a line of calls, and the width of a capital in ems, rather too wide.
CALL_LINE, CAPITAL = 8.6, 0.64
# How far above or below their dot calls may stand, points, the nearest first.
SHIFTS = (0, 6, -6, 12, -12, 18, -18, 24, -24)
# The parts of the degradation from the axis up: colour and opacity.
PART_COLOURS = {
    "distance": (TEAL, 1.0),
    "moon": (TEAL, 0.5),
    "sky": (TEAL, 0.22),
    "air": (PALE, 0.55),
    "ground": (GREY, 1.0),
    "sun": (AMBER, 1.0),
}


@dataclass(frozen=True)
class Axis:
    """A row's name, what is below it, its range and its ticks."""

    name: str
    below: Sequence[str]
    low: float
    high: float
    ticks: Sequence[tuple[float, str]]


@dataclass(frozen=True)
class Line:
    """A curve: days from the first midnight on home's clock and values, (n,); notes at (day, value, words)."""

    axis: Axis
    days: FloatArray
    values: FloatArray
    colour: str
    weight: float
    notes: Sequence[tuple[float, float, str]] = ()
    # Whether every date has its number at the curve.
    dated: bool = False


@dataclass(frozen=True)
class Stack:
    """Bars made of parts, each (n,) at the dates `day`, (n,); the words of each part stand in `names`."""

    axis: Axis
    day: npt.NDArray[np.int64]
    parts: dict[str, FloatArray]
    names: dict[str, str]
    weight: float


@dataclass(frozen=True)
class Range:
    """A bar from the least to the most, (n,), at the dates `day`, (n,)."""

    axis: Axis
    day: npt.NDArray[np.int64]
    least: FloatArray
    most: FloatArray
    weight: float


@dataclass(frozen=True)
class Phase:
    """One of the four phases: days from the first midnight, its word and the lit side of its disc."""

    day: float
    words: str
    lit: str


@dataclass(frozen=True)
class Course:
    """What one picture holds; `near_sun` is by the hour on `hours`.

    `agenda` has the calls of the slots, by time, on each date (column) that has any.
    """

    labels: Sequence[str]
    month: str
    hours: FloatArray
    near_sun: BoolArray
    sun: str
    agenda: Mapping[int, Sequence[str]]
    phases: Sequence[Phase]
    rows: Sequence[Line | Stack | Range]
    title: str


@dataclass(frozen=True)
class Frame:
    """The picture's measures in points: its height, and the width of a day."""

    height: float
    day: float
    days: int

    def x(self, days: float) -> float:
        """Across, from days."""
        return LEFT + float(days) * self.day

    def along(self, days: npt.ArrayLike) -> FloatArray:
        """Across, from many days, (n,)."""
        return LEFT + np.asarray(days, dtype=np.float64) * self.day

    @property
    def right(self) -> float:
        return LEFT + self.days * self.day


@dataclass(frozen=True)
class Band:
    """Where a row lies: its upper edge and its height, points."""

    axis: Axis
    top: float
    height: float

    def y(self, values: float | FloatArray) -> FloatArray:
        """Down, from values; what passes the axis ends at its edge."""
        share = (np.clip(values, self.axis.low, self.axis.high) - self.axis.low) / (self.axis.high - self.axis.low)
        return np.asarray(self.top + (1.0 - share) * self.height)


def course_chart(course: Course, width: float, height: float) -> Markup:
    """The whole picture."""
    frame = Frame(height, (width - LEFT - RIGHT) / len(course.labels), len(course.labels))
    body = [*_columns(course, frame)]
    weights = sum(row.weight for row in course.rows)
    phases = 22.0 if course.phases else 0.0
    room = height - TOP - FOOT - AIR * len(course.rows) - phases
    top = TOP + 6
    for number, row in enumerate(course.rows):
        band = Band(row.axis, top, room * row.weight / weights)
        body += _scale(band, frame)
        if isinstance(row, Line):
            body += _line(row, band, frame, course)
        elif isinstance(row, Stack):
            body += _stack(row, band, frame)
        else:
            body += _range(row, band, frame)
        top += band.height + AIR
        if number == 0 and course.phases:
            body += _phases(course.phases, top - 2, frame)
            top += phases
    body += _dates(course, frame)
    return svg(width, height, course.title, body, "strip")


def _columns(course: Course, frame: Frame) -> list[str]:
    """Nights of the agenda and days near the Sun through all rows, and the lines between the days."""
    foot = frame.height - FOOT + 4
    tint = "".join(rectangle(LEFT + day * frame.day, TOP, frame.day, foot - TOP) for day in course.agenda)
    lines = "".join(f"M{frame.x(day):.2f} {TOP:g}V{foot:.2f}" for day in range(frame.days + 1))
    runs = runs_of(course.near_sun)
    shade = "".join(
        rectangle(
            frame.x(course.hours[a]), TOP, (course.hours[b] - course.hours[a]) * frame.day, foot - TOP
        )
        for a, b in runs
    )  # fmt: skip
    return [
        path(tint, fill=TEAL_TINT, opacity=0.6),
        path(shade, fill=AMBER_TINT, stroke=AMBER, width=0.5),
        path(lines, stroke=HAIR, width=0.5),
    ]


def _dates(course: Course, frame: Frame) -> list[str]:
    """The days' numbers, those of the agenda's nights in bold; below them the Sun's days in words."""
    foot = frame.height - FOOT + 4
    parts = [
        path(f"M{LEFT:g} {foot:.2f}H{frame.right:.2f}", stroke=PALE),
        text(0, foot + 9.5, course.month, 8.2, INK, weight=600),
    ]
    for day, label in enumerate(course.labels):
        bold = day in course.agenda
        parts.append(
            text(
                frame.x(day + 0.5), foot + 9.5, label, 9 if bold else SIZE, INK if bold else GREY, "middle",
                600 if bold else 400,
            )
        )  # fmt: skip
    for a, b in runs_of(course.near_sun):
        middle = frame.x((course.hours[a] + course.hours[b]) / 2)
        anchor = "start" if middle < LEFT + 30 else "end" if middle > frame.right - 30 else "middle"
        parts.append(text(middle, foot + 19.5, course.sun, SIZE, AMBER_WORDS, anchor, 600))
    return parts


def _scale(band: Band, frame: Frame) -> list[str]:
    """The row's name, its ticks with their lines."""
    lines = "".join(f"M{LEFT:g} {float(band.y(value)):.2f}H{frame.right:.2f}" for value, _ in band.axis.ticks)
    parts = [
        path(lines, stroke=HAIR, width=0.5),
        text(0, band.top + 7, band.axis.name, 8.2, INK, weight=600),
        *(text(0, band.top + 16 + 8.6 * row, words, 7.2, GREY) for row, words in enumerate(band.axis.below)),
    ]
    return parts + [
        text(LEFT - 4, float(band.y(value)) + 2.4, words, 7.2, GREY, "end") for value, words in band.axis.ticks
    ]


def _line(row: Line, band: Band, frame: Frame, course: Course) -> list[str]:
    x, y = frame.along(row.days), band.y(row.values)
    commands = "".join(
        "M" + "L".join(f"{a:.1f} {b:.1f}" for a, b in zip(x[i : j + 1], y[i : j + 1], strict=True))
        for i, j in runs_of(np.isfinite(row.values))
    )
    parts = [path(commands, stroke=row.colour, width=1.2, more=' stroke-linejoin="round"')]
    if row.dated:
        parts += _dots(row, band, frame, course)
    for day, value, words in row.notes:
        low = value - row.axis.low < (row.axis.high - row.axis.low) / 2
        where, down = frame.x(day), float(band.y(value))
        anchor = "start" if where < LEFT + 34 else "end" if where > frame.right - 34 else "middle"
        parts.append(path(disc(where, down, 1.7), fill=INK))
        parts.append(text_on(where, down + (9.5 if low else -4.0), words, SIZE, INK, anchor))
    return parts


def _dots(row: Line, band: Band, frame: Frame, course: Course) -> list[str]:
    """A ring at the middle of every date, a disc of ink and the date's number at the agenda's."""
    middles = np.arange(frame.days) + 0.5
    inside = (middles >= row.days[0]) & (middles <= row.days[-1])
    values = np.interp(middles, row.days, row.values)
    rings, discs, numbers = "", "", []
    dots: dict[int, Box] = {}
    for day in np.flatnonzero(inside).tolist():
        x, y = frame.x(middles[day]), float(band.y(values[day]))
        if day in course.agenda:
            discs += disc(x, y, 3.4)
            numbers.append(text_on(x, y - 6, course.labels[day], 9, INK, "middle", 600))
            dots[day] = Box(x - 6, y - 14, x + 6, y + 4)
        else:
            rings += disc(x, y, 1.5)
    line = np.column_stack([frame.along(row.days), band.y(row.values)])
    calls = _calls(course.agenda, dots, line, (LEFT, band.top - 4.0, frame.right, band.top + band.height))
    return [path(rings, fill="#fff", stroke=row.colour, width=0.8), path(discs, fill=INK), *numbers, *calls]


class Box(NamedTuple):
    """Left, top, right and bottom, points."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """Whether the two share any room."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom

    def holds(self, points: FloatArray) -> bool:
        """Whether any of the points (n, 2) lies inside, or within a curve's width of it."""
        x, y = points.T
        across = (x > self.left - 2) & (x < self.right + 2)
        return bool((across & (y > self.top - 2) & (y < self.bottom + 2)).any())


def _calls(
    agenda: Mapping[int, Sequence[str]], dots: Mapping[int, Box], line: FloatArray, edges: tuple[float, ...]
) -> list[str]:
    """The slots' calls beside the dots of their days, one below the other; left out where neither side has room."""
    taken, parts = list(dots.values()), []
    for day, dot in dots.items():
        calls = agenda[day]
        wide, high = max(map(len, calls)) * SIZE * CAPITAL, len(calls) * CALL_LINE
        tops = [dot.bottom - 4 - high / 2 + shift for shift in SHIFTS]
        places = [(left, top) for top in tops for left in (dot.right + 1, dot.left - 1 - wide)]
        boxes = (Box(left, top, left + wide, top + high) for left, top in places)
        spot = next(
            (
                box
                for box in boxes
                if edges[0] <= box.left and box.right <= edges[2] and edges[1] <= box.top and box.bottom <= edges[3]
                if not box.holds(line) and not any(box.meets(other) for other in taken)
            ),
            None,
        )
        if spot is not None:
            taken.append(spot)
            anchor, x = ("start", spot.left) if spot.left > dot.left else ("end", spot.right)
            parts += [
                text(x, spot.top + CALL_LINE * (row + 1) - 2, call, SIZE, INK, anchor) for row, call in enumerate(calls)
            ]
    return parts


def _stack(row: Stack, band: Band, frame: Frame) -> list[str]:
    """Bars whose parts stand one on the other, those that count nowhere left out; the key at the right."""
    base, wide, parts = np.zeros(row.day.size), 0.56 * frame.day, []
    shown = [name for name in PART_COLOURS if name in row.names]
    for name in shown:
        values = np.nan_to_num(row.parts[name])
        foot, head = band.y(base), band.y(base + values)
        x = frame.along(row.day + 0.5 - 0.28)
        commands = "".join(
            rectangle(left, top, wide, low - top)
            for left, top, low in zip(x, head, foot, strict=True)
            if low - top > 0.02
        )
        colour, opacity = PART_COLOURS[name]
        parts.append(path(commands, fill=colour, opacity=opacity))
        base = base + values
    for place in np.flatnonzero(base > row.axis.high):
        # What passes the scale says how far.
        over = frame.x(row.day[place] + 0.5)
        parts.append(text_on(over, band.top - 1.5, f"{base[place]:.0f}", SIZE, INK, "middle"))
    top = band.top + band.height - 10.5 * len(shown)
    for line, name in enumerate(reversed(shown)):
        colour, opacity = PART_COLOURS[name]
        y = top + line * 10.5
        parts.append(path(rectangle(frame.right + 8, y, 7, 7), fill=colour, opacity=opacity))
        parts.append(text(frame.right + 18, y + 6.2, row.names[name], SIZE, GREY))
    return parts


def _range(row: Range, band: Band, frame: Frame) -> list[str]:
    known = np.flatnonzero(np.isfinite(row.least)).tolist()
    x, top, low = frame.along(row.day + 0.5), band.y(row.most), band.y(row.least)
    commands = "".join(rectangle(x[i] - 1.5, top[i], 3.0, max(low[i] - top[i], 0.8)) for i in known)
    return [path(commands, fill=TEAL)]


def _phases(phases: Sequence[Phase], top: float, frame: Frame) -> list[str]:
    """A small disc and its word at each phase: dark as the Moon is dark, lit on the side that home sees lit."""
    rims, dark, words, radius = "", "", [], 4.0
    for phase in phases:
        x, y = frame.x(phase.day), top + 5
        rims += disc(x, y, radius)
        if phase.lit == "none":
            dark += disc(x, y, radius)
        elif phase.lit in ("left", "right"):
            turn = 1 if phase.lit == "left" else 0
            dark += f"M{x:.2f} {y - radius:.2f}A{radius:g} {radius:g} 0 0 {turn} {x:.2f} {y + radius:.2f}z"
        # Near the right edge the word stands before its disc.
        fits = x + 60 < frame.right + RIGHT
        words.append(text_on(x + 7 if fits else x - 7, y + 2.6, phase.words, SIZE, GREY, "start" if fits else "end"))
    # Classes, since the Moon stays bright on a dark ground.
    return [
        path(rims, fill="#fff", stroke=GREY, width=0.7, more=' class="lit"'),
        path(dark, fill=PALE, more=' class="unlit"'),
        *words,
    ]
