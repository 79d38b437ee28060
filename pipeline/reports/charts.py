"""Charts as inline SVG: Moon discs, outcome shapes, the strip of the month.

One path per colour, since the PDF engine pays per element; every chart has a title that says what it shows. Colours
tell nothing that a shape, a number or a label does not tell too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from pipeline.outlook.facts import NEAR_SUN_DEG
from pipeline.reports.svg import (
    AMBER,
    AMBER_TINT,
    GREY,
    HAIR,
    PALE,
    TEAL,
    path,
    rectangle,
    svg,
    text,
)
from pipeline.reports.svg import FONT as FONT
from pipeline.reports.svg import INK as INK

OUTCOMES = ("strong", "workable", "marginal", "unlikely", "nobody free", "no window")


def moon_words(age_angle_deg: float) -> str:
    """`Moon 63 % lit, waxing`; the lit share of the disc from its age angle (0 new, 180 full)."""
    share = round((1 - math.cos(math.radians(age_angle_deg))) * 50)
    if share >= 99:
        return "full Moon"
    if share <= 1:
        return "new Moon"
    return f"Moon {share} % lit, {'waxing' if age_angle_deg % 360 < 180 else 'waning'}"


def moon_disc(age_angle_deg: float, southern: bool, size: float = 13.0) -> Markup:
    """The Moon as it stands in the sky: the waxing one is lit on the right in the north, on the left in the south."""
    age = age_angle_deg % 360
    radius = size / 2 - 0.5
    centre = size / 2
    right = (age < 180) != southern
    # The terminator is half an ellipse whose half axis is the cosine of the age angle.
    axis = abs(math.cos(math.radians(age))) * radius
    crescent = math.cos(math.radians(age)) > 0
    outer = 1 if right else 0
    inner = outer if not crescent else 1 - outer
    top, bottom = centre - radius, centre + radius
    lit = (
        f"M{centre:g} {top:g}A{radius:g} {radius:g} 0 0 {outer} {centre:g} {bottom:g}"
        f"A{axis:.3f} {radius:g} 0 0 {inner} {centre:g} {top:g}z"
    )
    disc = f'<circle cx="{centre:g}" cy="{centre:g}" r="{radius:g}" fill="{GREY}" stroke="{GREY}" stroke-width="0.7"/>'
    return svg(size, size, moon_words(age), [disc, path(lit, fill=AMBER_TINT)], "disc")


def outcome_mark(word: str, size: float = 7.0) -> Markup:
    """Full disc, half disc, ring, dash; nothing for `no window`. The word always stands beside it."""
    centre, radius = size / 2, size / 2 - 0.6
    ring = f'<circle cx="{centre:g}" cy="{centre:g}" r="{radius:g}" fill="{{}}" stroke="{TEAL}" stroke-width="1"/>'
    half = f"M{centre:g} {centre - radius:g}A{radius:g} {radius:g} 0 0 1 {centre:g} {centre + radius:g}z"
    bodies = {
        "strong": [ring.format(TEAL)],
        "workable": [ring.format("none"), path(half, fill=TEAL)],
        "marginal": [ring.format("none")],
        "unlikely": [path(f"M0.6 {centre:g}H{size - 0.6:g}", stroke=GREY, width=1.2)],
    }
    if word not in bodies:
        return Markup("")
    return svg(size, size, word, bodies[word], "mark")


@dataclass(frozen=True)
class Curve:
    """One curve of the strip: values (n,) on the strip's times, the range of its axis and its two tick labels."""

    name: str
    unit: str
    values: npt.NDArray[np.float64]
    low: float
    high: float
    low_label: str
    high_label: str
    colour: str
    zero_line: bool = False


@dataclass(frozen=True)
class Strip:
    """The strip's time axis in days from its first midnight, the days' labels and the curves."""

    days: npt.NDArray[np.float64]
    labels: Sequence[str]
    near_sun: npt.NDArray[np.bool_]
    curves: Sequence[Curve]
    title: str


def strip_chart(strip: Strip, width: float, height: float) -> Markup:
    """Small curves one above the other, each with its own labelled axis; days near the Sun shaded through all."""
    left, top, foot = 88.0, 9.0, 12.0
    span = width - left - 4
    scale = span / len(strip.labels)
    each = (height - top - foot) / len(strip.curves)
    body = [*_sun_shade(strip, left, scale, top, height - foot)]
    ticks = "".join(f"M{left + i * scale:.2f} {top:g}V{height - foot:.2f}" for i in range(len(strip.labels) + 1))
    body.append(path(ticks, stroke=HAIR, width=0.5))
    for i, curve in enumerate(strip.curves):
        body += _one_curve(curve, strip.days, left, span, scale, top + i * each, each)
    for i, label in enumerate(strip.labels):
        body.append(text(left + (i + 0.5) * scale, height - 2.5, label, 6.8, GREY, "middle"))
    return svg(width, height, strip.title, body, "strip")


def _sun_shade(strip: Strip, left: float, scale: float, top: float, bottom: float) -> list[str]:
    runs = runs_of(strip.near_sun)
    shade = "".join(
        rectangle(left + strip.days[a] * scale, top, (strip.days[b] - strip.days[a]) * scale, bottom - top)
        for a, b in runs
    )
    # Edges are drawn too: on a grey printer the tint alone is nearly white.
    parts = [path(shade, fill=AMBER_TINT, stroke=AMBER, width=0.5)]
    for a, b in runs:
        middle = left + (strip.days[a] + strip.days[b]) / 2 * scale
        words = f"Sun within {NEAR_SUN_DEG:.0f}°"
        anchor = (
            "start" if middle < left + 22 else "end" if middle > left + len(strip.labels) * scale - 22 else "middle"
        )
        parts.append(text(middle, top - 2.5, words, 6.8, AMBER, anchor))
    return parts


def _one_curve(
    curve: Curve, days: npt.NDArray[np.float64], left: float, span: float, scale: float, top: float, height: float
) -> list[str]:
    low_y, high_y = top + height - 3, top + 3
    y = low_y + (np.clip(curve.values, curve.low, curve.high) - curve.low) / (curve.high - curve.low) * (high_y - low_y)
    x = left + days * scale
    line = "".join(
        "M" + "L".join(f"{a:.1f} {b:.1f}" for a, b in zip(x[i : j + 1], y[i : j + 1], strict=True))
        for i, j in runs_of(np.isfinite(curve.values))
    )
    parts = [path(f"M{left:g} {top + height:.2f}h{span:.2f}", stroke=HAIR, width=0.5)]
    if curve.zero_line:
        zero = low_y + (0 - curve.low) / (curve.high - curve.low) * (high_y - low_y)
        parts.append(path(f"M{left:g} {zero:.2f}h{span:.2f}", stroke=PALE, width=0.5, more=' stroke-dasharray="2 2"'))
    parts.append(path(line, stroke=curve.colour, width=1.3, more=' stroke-linejoin="round"'))
    parts.append(text(0, top + height / 2 - 0.5, curve.name, 7.4, curve.colour, weight=600))
    parts.append(text(0, top + height / 2 + 7, curve.unit, 6.4, GREY))
    parts.append(text(left - 4, high_y + 3.4, curve.high_label, 6.4, GREY, "end"))
    parts.append(text(left - 4, low_y + 1.2, curve.low_label, 6.4, GREY, "end"))
    return parts


def runs_of(mask: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]
