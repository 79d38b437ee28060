"""Pictures of a review as inline SVG: reports against predictions, chances against outcomes, residuals against causes.

One path a colour; shapes tell the two ways apart, so that nothing is lost in grey.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from pipeline.reports.svg import AMBER, GREY, HAIR, INK, PALE, TEAL, disc, path, svg, text
from pipeline.review.calibration import LEVEL, Honesty, Trend
from pipeline.wording import formats

FloatArray = npt.NDArray[np.float64]

LEFT, RIGHT, TOP, FOOT = 34.0, 6.0, 16.0, 26.0


@dataclass(frozen=True)
class Axes:
    """A panel: what its axes run over and where it stands, in points."""

    x: tuple[float, float]
    y: tuple[float, float]
    left: float
    top: float
    width: float
    height: float

    def place(self, x: npt.ArrayLike, y: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Points in the picture; what lies outside is drawn at the edge."""
        across = (np.clip(np.asarray(x, float), *self.x) - self.x[0]) / (self.x[1] - self.x[0])
        up = (np.clip(np.asarray(y, float), *self.y) - self.y[0]) / (self.y[1] - self.y[0])
        return self.left + across * self.width, self.top + (1.0 - up) * self.height

    def line(self, x: tuple[float, float], y: tuple[float, float]) -> str:
        """A straight line between two points."""
        (x0, x1), (y0, y1) = self.place(x, y)
        return f"M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}"


def _axes(width: float, height: float, x: tuple[float, float], y: tuple[float, float], left: float = 0.0) -> Axes:
    return Axes(x, y, left + LEFT, TOP, width - LEFT - RIGHT, height - TOP - FOOT)


def ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Round numbers within a range, not more than so many."""
    for step in (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 20, 30, 45, 50, 100, 200, 500, 1000):
        first = math.ceil(low / step - 1e-9) * step
        count = int((high - first) / step + 1e-9) + 1
        if count <= most:
            return [first + step * index for index in range(count)]
    return [low, high]


def _frame(axes: Axes, names: tuple[str, str], labels: tuple[dict[float, str], dict[float, str]]) -> list[str]:
    """Hair lines at the ticks, their labels, and what the axes are."""
    low_x, high_x, low_y, high_y = *axes.x, *axes.y
    lines = "".join(axes.line((value, value), (low_y, high_y)) for value in labels[0])
    lines += "".join(axes.line((low_x, high_x), (value, value)) for value in labels[1])
    bottom = axes.top + axes.height
    parts = [path(lines, stroke=HAIR, width=0.5)]
    for value, words in labels[0].items():
        parts.append(text(float(axes.place(value, low_y)[0]), bottom + 9, words, 6.8, GREY, "middle"))
    for value, words in labels[1].items():
        parts.append(text(axes.left - 4, float(axes.place(low_x, value)[1]) + 2.3, words, 6.8, GREY, "end"))
    parts.append(text(axes.left + axes.width, bottom + 19, names[0], 7.4, GREY, "end"))
    parts.append(text(axes.left - LEFT + 2, axes.top - 7, names[1], 7.4, GREY))
    return parts


def _discs(x: FloatArray, y: FloatArray, radius: float) -> str:
    return "".join(disc(a, b, radius) for a, b in zip(x, y, strict=True))


def _numbers(values: list[float], unit: str = "") -> dict[float, str]:
    digits = 0 if all(abs(value - round(value)) < 1e-9 for value in values) else 1
    return {value: f"{formats.signed(value, digits)}{unit}" for value in values}


def reports_chart(there: tuple[FloatArray, FloatArray], here: tuple[FloatArray, FloatArray], width: float) -> Markup:
    """Reported against predicted, dB: full discs are reports by partners, rings those by home."""
    given = [(x[ok], y[ok]) for x, y in (there, here) for ok in (np.isfinite(x) & np.isfinite(y),)]
    every = np.concatenate([np.concatenate(pair) for pair in given])
    low, high = (float(every.min()), float(every.max())) if every.size else (-20.0, 0.0)
    low, high = math.floor(low / 5.0 - 0.2) * 5.0, math.ceil(high / 5.0 + 0.2) * 5.0
    height = 180.0
    axes = _axes(width, height, (low, high), (low, high))
    marks = _numbers(ticks(low, high, 7))
    body = _frame(axes, ("predicted, dB", "reported, dB"), (marks, marks))
    body.append(path(axes.line((low, high), (low, high)), stroke=PALE, width=0.8))
    body.append(path(_discs(*axes.place(*given[0]), 2.1), fill=TEAL))
    body.append(path(_discs(*axes.place(*given[1]), 2.1), fill="none", stroke=AMBER, width=1.0))
    title = (
        f"{formats.count(given[0][0].size + given[1][0].size, 'report')} against the predictions; the table has them"
    )
    return svg(width, height, title, body, "figure-chart")


def chances_chart(honesty: Honesty, width: float) -> Markup:
    """Share of contacts completed against the predicted chance, with the interval of each share."""
    height = 180.0
    axes = _axes(width, height, (0.0, 1.0), (0.0, 1.0))
    marks = {value: f"{value * 100:.0f}" for value in (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)}
    body = _frame(axes, ("predicted chance, %", "completed, %"), (marks, marks))
    body.append(path(axes.line((0.0, 1.0), (0.0, 1.0)), stroke=PALE, width=0.8))
    reach = "".join(axes.line((step.mean_chance, step.mean_chance), step.interval) for step in honesty.steps)
    body.append(path(reach, stroke=TEAL, width=1.2))
    at = axes.place([step.mean_chance for step in honesty.steps], [step.share for step in honesty.steps])
    body.append(path(_discs(*at, 2.6), fill=TEAL))
    for step, x, y in zip(honesty.steps, *at, strict=True):
        last = x > axes.left + axes.width - 34
        words = f"{step.completed} of {step.attempts}"
        body.append(text(float(x) + (-5 if last else 5), float(y) + 2.4, words, 6.8, INK, "end" if last else "start"))
    title = (
        f"Completed contacts against predicted chances in {formats.count(len(honesty.steps), 'step')}, with intervals "
        f"that hold {LEVEL:.0%}"
    )
    return svg(width, height, title, body, "figure-chart")


def trends_chart(trends: tuple[Trend, ...], units: tuple[str, ...], width: float) -> Markup:
    """What the corrections leave of the reports against four quantities, a panel each."""
    height, each = 112.0, width / max(len(trends), 1)
    every = np.concatenate([trend.y for trend in trends]) if trends else np.zeros(0)
    top = min(max(4.0, math.ceil(float(np.abs(every).max(initial=0.0)) / 2.0) * 2.0), 12.0)
    body: list[str] = []
    for index, (trend, unit) in enumerate(zip(trends, units, strict=True)):
        low, high = (float(trend.x.min()), float(trend.x.max())) if trend.x.size else (0.0, 1.0)
        wide = max(high - low, 1e-6)
        axes = _axes(each, height, (low - 0.06 * wide, high + 0.06 * wide), (-top, top), index * each)
        labels = _numbers(ticks(*axes.x, 5), unit)
        body += _frame(axes, (trend.name, "dB" if index == 0 else ""), (labels, _numbers([-top, 0.0, top])))
        body.append(path(axes.line(axes.x, (0.0, 0.0)), stroke=PALE, width=0.8))
        body.append(path(_discs(*axes.place(trend.x, trend.y), 1.4), fill=TEAL))
        if trend.told:
            ends = tuple(trend.middle[1] + trend.slope * (edge - trend.middle[0]) for edge in (low, high))
            body.append(path(axes.line((low, high), (ends[0], ends[1])), stroke=AMBER, width=1.2))
    return svg(
        width, height, "What the corrections leave of the reports, against what might bend them", body, "figure-chart"
    )
