"""Carpets as inline SVG: days across, home's clock down, darkness the chance of the slot that begins then.

One path per shade, not one element a sample. Where both ends are free the shades are teal inside an outline, elsewhere
grey; in grey print the outline tells, and teal is the darker of the two.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from pipeline.outlook.carpets import QUARTERS, Carpet
from pipeline.reports.charts import runs_of
from pipeline.reports.svg import AMBER, GREY, HAIR, INK, PALE, TEAL, path, rectangle, svg, text, text_on

BoolArray = npt.NDArray[np.bool_]
# The shades from the palest: colour and opacity of an open window without a slot, then of each step of the chance.
OPEN = (HAIR, 0.45)
ANY_HOUR = ((HAIR, 1.0), (PALE, 0.45), (PALE, 0.72), (PALE, 1.0))
BOTH_FREE = ((TEAL, 0.12), (TEAL, 0.32), (TEAL, 0.6), (TEAL, 1.0))
LEFT, HEAD, FOOT, RIGHT = 15.0, 26.0, 20.0, 8.0
SIZE = 7.0
# A time of five signs at this size.
LABEL = 18.0
HATCH = 2.2


@dataclass(frozen=True)
class SlotMark:
    """A slot by home's clock: the day across on which it begins, its first and last hour there, and its label."""

    day: int
    start_h: float
    end_h: float
    label: str


@dataclass(frozen=True)
class Square:
    """One partner's carpet with the words above it; `limits` part the chance into its shades, rising."""

    carpet: Carpet
    name: str
    limits: tuple[float, ...]
    days: Sequence[tuple[int, str]]
    slots: Sequence[SlotMark]
    usable: str
    best: str
    title: str


def carpet_square(square: Square, width: float, height: float) -> Markup:
    """One square with its head and scales, points; the right margin is air, so that squares stand side by side."""
    days = len(square.carpet.chance)
    place = Grid(LEFT, HEAD, (width - LEFT - RIGHT) / days, (height - HEAD - FOOT) / QUARTERS, days)
    body = [
        text(LEFT, 10, square.name, 9.5, INK, weight=600),
        text(place.right, 10, square.usable, 7.8, GREY, "end"),
        text(place.right, 20.5, square.best, 7.8, INK, "end"),
        _weekends(square.carpet, place),
        *_shades(square, place),
        _hours(place),
        *_hatched(square.carpet.near_sun, place),
        path(outline(square.carpet.free, place), stroke=INK, width=0.6),
        path(rectangle(place.left, place.top, place.right - place.left, place.bottom - place.top), stroke=PALE),
        *_slots(square.slots, place),
    ]
    body += [
        text(place.left - 2.5, place.top + hour * 4 * place.row + 2.4, f"{hour:02d}", SIZE, GREY, "end")
        for hour in (0, 6, 12, 18, 24)
    ]
    body += [
        text(place.left + (day + 0.5) * place.column, place.bottom + 8.5, label, SIZE, GREY, "middle")
        for day, label in square.days
    ]
    return svg(width, height, square.title, body, "carpet")


@dataclass(frozen=True)
class Grid:
    """Where the cells lie, points: left and upper edge, a day's width, a quarter hour's height, days across."""

    left: float
    top: float
    column: float
    row: float
    days: int

    @property
    def right(self) -> float:
        return self.left + self.days * self.column

    @property
    def bottom(self) -> float:
        return self.top + QUARTERS * self.row

    def cell(self, day: int, first: float, last: float) -> str:
        """Path commands of a day's stretch between two quarter hours."""
        return rectangle(
            self.left + day * self.column, self.top + first * self.row, self.column, (last - first) * self.row
        )


def _weekends(carpet: Carpet, place: Grid) -> str:
    days = (day for day, date in enumerate(carpet.dates) if date.weekday() in (5, 6))
    return path("".join(place.cell(day, 0, QUARTERS) for day in days), fill=HAIR, opacity=0.28)


def _hours(place: Grid) -> str:
    lines = "".join(
        f"M{place.left:.2f} {place.top + hour * 4 * place.row:.2f}H{place.right:.2f}" for hour in (6, 12, 18)
    )
    return path(lines, stroke=PALE, width=0.4, more=' stroke-dasharray="1 2"')


def cells(mask: BoolArray, place: Grid) -> str:
    """Path commands of all cells of a mask (days, 96), each run of a day as one."""
    return "".join(place.cell(day, first, last + 1) for day, row in enumerate(mask) for first, last in runs_of(row))


def _shades(square: Square, place: Grid) -> list[str]:
    carpet = square.carpet
    begins = np.isfinite(carpet.chance)
    step = np.digitize(np.nan_to_num(carpet.chance), square.limits)
    parts = [_filled(cells(carpet.shared & ~begins, place), OPEN)]
    for free, shades in ((False, ANY_HOUR), (True, BOTH_FREE)):
        parts += [
            _filled(cells(begins & (carpet.free == free) & (step == number), place), shade)
            for number, shade in enumerate(shades)
        ]
    return parts


def _filled(commands: str, shade: tuple[str, float]) -> str:
    colour, opacity = shade
    return path(commands, fill=colour, opacity=opacity)


def outline(mask: BoolArray, place: Grid) -> str:
    """Path commands around the cells of a mask (days, 96): an edge wherever a cell inside meets one outside."""
    parts = []
    for day, row in enumerate(mask):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(np.int8), [0]])))
        parts += [
            f"M{place.left + day * place.column:.2f} {place.top + edge * place.row:.2f}h{place.column:.2f}"
            for edge in edges
        ]
    beside = np.zeros((1, mask.shape[1]), dtype=bool)
    between = np.concatenate([beside, mask]) != np.concatenate([mask, beside])
    for day, row in enumerate(between):
        x = place.left + day * place.column
        parts += [
            f"M{x:.2f} {place.top + first * place.row:.2f}v{(last + 1 - first) * place.row:.2f}"
            for first, last in runs_of(row)
        ]
    return "".join(parts)


def _hatched(mask: BoolArray, place: Grid) -> list[str]:
    """Slanting lines, cut at the edges of each run."""
    parts = []
    for day, row in enumerate(mask):
        x = place.left + day * place.column
        for first, last in runs_of(row):
            top, foot = place.top + first * place.row, place.top + (last + 1) * place.row
            for low in np.arange(top, foot + place.column, HATCH):
                begin, rise = min(low, foot), max(low - place.column, top)
                parts.append(f"M{x + low - begin:.2f} {begin:.2f}L{x + low - rise:.2f} {rise:.2f}")
    return [path("".join(parts), stroke=AMBER, width=0.6)]


def _slots(slots: Sequence[SlotMark], place: Grid) -> list[str]:
    """Slots in ink; one that passes midnight goes on at the next day's top. Labels go where nothing else stands."""
    ink, boxes = "", []
    for slot in slots:
        for day, first, last in (
            (slot.day, slot.start_h, min(slot.end_h, 24.0)),
            (slot.day + 1, 0.0, slot.end_h - 24.0),
        ):
            if last > first and day < place.days:
                last = max(last, first + 1.4 / (4 * place.row))
                ink += place.cell(day, first * 4, last * 4)
                x, y = place.left + day * place.column, place.top + first * 4 * place.row
                boxes.append((x, y, x + place.column, place.top + last * 4 * place.row))
    labels = []
    for slot in slots:
        x = place.left + slot.day * place.column
        y = place.top + (slot.start_h + min(slot.end_h, 24.0)) * 2 * place.row
        spot = free_spot(x, y, place, boxes)
        if spot is not None:
            boxes.append(spot)
            labels.append(text_on(spot[0], spot[3] - 1.4, slot.label, SIZE, INK, weight=600))
    # A white rim keeps ink apart from the darkest shade.
    return [path(ink, fill=INK, stroke="#fff", width=0.6), *labels]


Box = tuple[float, float, float, float]


def free_spot(x: float, y: float, place: Grid, boxes: Sequence[Box]) -> Box | None:
    """Where a slot's time may stand, at its right, its left, above or below; None where all is taken."""
    right, left = x + place.column + 1.5, x - LABEL - 1.5
    for begin, middle in (
        (right, y),
        (left, y),
        (right, y - SIZE),
        (right, y + SIZE),
        (left, y - SIZE),
        (left, y + SIZE),
    ):
        box = (begin, middle - SIZE / 2, begin + LABEL, middle + SIZE / 2)
        inside = place.left <= box[0] and box[2] <= place.right and place.top <= box[1] and box[3] <= place.bottom
        if inside and not any(
            box[0] < other[2] and other[0] < box[2] and box[1] < other[3] and other[1] < box[3] for other in boxes
        ):
            return box
    return None


def carpet_key(words: Sequence[str], sun: str) -> list[tuple[Markup, str]]:
    """A swatch before each of `words`, of the open window, of each step of the chance, of outline and slot; and `sun`.

    A shade stands at whatever hour, and beside it where both ends are free.
    """
    opened, *steps, outlined, slot = words
    found = [(opened, _filled(rectangle(0, 0, 16, 8), OPEN))]
    for label, any_hour, free in zip(steps, ANY_HOUR, BOTH_FREE, strict=True):
        pair = _filled(rectangle(0, 0, 8, 8), any_hour) + _filled(rectangle(8, 0, 8, 8), free)
        found.append((label, pair))
    found.append((outlined, path(rectangle(0.3, 0.3, 15.4, 7.4), fill=TEAL, stroke=INK, opacity=0.12)))
    found.append((slot, path(rectangle(0, 0, 16, 8), fill=INK)))
    if sun:
        lines = "".join(f"M{x:g} 8L{x + 7:g} 0" for x in (0, 3, 6, 9))
        found.append((sun, path(lines, stroke=AMBER, width=0.6)))
    return [(svg(16, 8, label, [body], "swatch"), label) for label, body in found]


def day_labels(dates: Sequence[dt.date], first: dt.date, last: dt.date) -> list[tuple[int, str]]:
    """The days across that carry their number: the first of a month and every seventh after it."""
    return [(day, str(date.day)) for day, date in enumerate(dates) if first <= date <= last and date.day % 7 == 1]
