"""Charts as inline SVG: Moon discs, outcome shapes.

One path per colour, since the PDF engine pays per element; every chart has a title that says what it shows. Colours
tell nothing that a shape, a number or a label does not tell too.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from pipeline.reports.svg import (
    AMBER_TINT,
    GREY,
    TEAL,
    path,
    svg,
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


def runs_of(mask: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]
