"""Small drawings for the sheets as inline SVG: the sky over the dish as a map, and a feed as seen from behind.

Made for a black-and-white printer and a head torch: what matters differs by line and label, never by colour alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from markupsafe import Markup, escape

from pipeline.reports.svg import AMBER, FONT, GREY, HAIR, INK, PALE, TEAL
from pipeline.sheets.placing import Labels, label_box

FloatArray = npt.NDArray[np.float64]
Points = Sequence[tuple[float, float]]
Place = Callable[[float, float], tuple[float, float]]


def svg(width: float, height: float, title: str, body: Iterable[str]) -> Markup:
    """A drawing of this size in points; the title says what it shows."""
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{width:g}pt" height="{height:g}pt" '
        f'viewBox="0 0 {width:g} {height:g}"><title>{escape(title)}</title>'
    )
    return Markup(head + "".join(body) + "</svg>")


def line(points: Points, stroke: str, width: float, more: str = "", fill: str = "none") -> str:
    """One path through points (x, y)."""
    if len(points) < 2:
        return ""
    way = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    return f'<path d="{way}" fill="{fill}" stroke="{stroke}" stroke-width="{width:g}"{more}/>'


def circle(x: float, y: float, radius: float, fill: str, stroke: str = "none", width: float = 0.5) -> str:
    """A disc or a ring."""
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:g}" fill="{fill}" stroke="{stroke}" stroke-width="{width:g}"/>'
    )


def text(
    x: float, y: float, words: str, size: float, fill: str = INK, anchor: str = "middle", weight: int = 400
) -> str:
    """Words at a place."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-family="{FONT}" font-size="{size:g}" font-weight="{weight}" '
        f'fill="{fill}" text-anchor="{anchor}">{escape(words)}</text>'
    )


@dataclass(frozen=True)
class SkyMap:
    """The sky over the dish: north up, east right (as on a map), zenith in the middle, horizon at the rim.

    `moon`, `sun` and `skyline` are (azimuth_deg, elevation_deg) arrays; `hours` label rows of `moon`, `slots` are
    (first row, last row, number) of `moon`. Rows of nan interrupt a line.
    """

    moon: tuple[FloatArray, FloatArray]
    sun: tuple[FloatArray, FloatArray]
    skyline: tuple[FloatArray, FloatArray]
    hours: Sequence[tuple[int, str]]
    slots: Sequence[tuple[int, int, int]]
    title: str


def sky_map(view: SkyMap, size: float) -> Markup:
    """The map as a square of `size` points."""
    centre, radius = size / 2, size / 2 - 12.0

    def place(azimuth_deg: float, elevation_deg: float) -> tuple[float, float]:
        out = radius * (90.0 - max(elevation_deg, 0.0)) / 90.0
        angle = math.radians(azimuth_deg)
        return centre + out * math.sin(angle), centre - out * math.cos(angle)

    moon = [place(*at) for at in zip(*view.moon, strict=True)]
    labels = Labels(centre, radius, [at for at in moon if math.isfinite(at[0])])
    body = [_hidden(view.skyline, place, centre, radius)]
    body += [circle(centre, centre, radius * share, "none", PALE, 0.4) for share in RINGS.values()]
    body.append(circle(centre, centre, radius, "none", INK, 0.8))
    body.append(line([(centre, centre - radius), (centre, centre + radius)], HAIR, 0.5))
    body.append(line([(centre - radius, centre), (centre + radius, centre)], HAIR, 0.5))
    for letter, (right, down) in {"N": (0, -1), "E": (1, 0), "S": (0, 1), "W": (-1, 0)}.items():
        x, y = centre + (radius + 6.5) * right, centre + (radius + 6.5) * down
        body.append(text(x, y + 2.8, letter, 8, weight=600))
    body += _lines(view.sun, place, AMBER, 1.0, ' stroke-dasharray="1.5 2.5"')
    body += _lines(view.moon, place, INK, 1.2)
    body += [line(moon[first : last + 1], TEAL, 4.5) for first, last, _ in view.slots]
    # The numbers of the slots first: without an hour the map can still be read.
    body += _badges(view, moon, labels)
    body += _hour_marks(view, moon, labels)
    body += _sun_mark(view, place, labels)
    body += _ring_marks(centre, radius, labels)
    return svg(size, size, view.title, body)


# Elevation of the rings to their share of the radius.
RINGS = {"60°": 1 / 3, "30°": 2 / 3}
HOUR_SIZE_PT, WORD_SIZE_PT = 7.2, 7.0
BADGE_PT = 6.0


def _hidden(skyline: tuple[FloatArray, FloatArray], place: Place, centre: float, radius: float) -> str:
    """What stands below the skyline, as a tinted rim with an edge."""
    edge = [place(azimuth, elevation) for azimuth, elevation in zip(*skyline, strict=True)]
    rim = f"M{centre:.1f} {centre - radius:.1f}a{radius:g} {radius:g} 0 1 1 -0.01 0z"
    way = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in edge) + "z"
    return f'<path d="{rim}{way}" fill="{HAIR}" fill-rule="evenodd" stroke="{GREY}" stroke-width="0.6"/>'


def _lines(track: tuple[FloatArray, FloatArray], place: Place, stroke: str, width: float, more: str = "") -> list[str]:
    """The track, broken where it is nan."""
    azimuth, elevation = track
    parts, run = [], []
    for one in zip(azimuth, elevation, strict=True):
        if np.isfinite(one[0]):
            run.append(place(*one))
        else:
            parts.append(line(run, stroke, width, more))
            run = []
    parts.append(line(run, stroke, width, more))
    return parts


def _badges(view: SkyMap, moon: Points, labels: Labels) -> list[str]:
    """The number of each slot beside its stretch of the track; a line leads to one that found its place further off."""
    parts, wide = [], 2.0 * BADGE_PT + 1.0
    for first, last, number in view.slots:
        at = moon[(first + last + 1) // 2]
        spots = labels.around(at, (11.0, 16.0, 22.0, 28.0, 36.0))
        found = labels.find(spots, (wide, wide)) or labels.find(spots, (wide, wide), over_lines=True)
        if found is None:
            continue
        if math.dist(at, found) > 12.0:
            parts.append(line([at, found], INK, 0.5))
        parts.append(_badge(found, str(number)))
    return parts


def _hour_marks(view: SkyMap, moon: Points, labels: Labels) -> list[str]:
    """A dot each hour on the Moon's track, its label beside it; what finds no room is left out."""
    parts = [circle(*moon[row], 1.7, INK) for row, _ in view.hours]
    for row, words in view.hours:
        found = labels.find(labels.around(moon[row], (8.0, 10.0)), label_box(words, HOUR_SIZE_PT))
        if found is not None:
            parts.append(_centred(found, words, HOUR_SIZE_PT, INK))
    return parts


def _sun_mark(view: SkyMap, place: Place, labels: Labels) -> list[str]:
    """The Sun's name at its way, at the middle where there is room."""
    up = np.flatnonzero(np.isfinite(view.sun[0]))
    if not up.size:
        return []
    ways = [place(view.sun[0][row], view.sun[1][row]) for row in up[(np.array([4, 3, 5, 2, 6]) * up.size) // 8]]
    spots = [(x, y + side) for x, y in ways for side in (-5.5, 5.5)]
    found = labels.find(spots, label_box("Sun", WORD_SIZE_PT))
    return [] if found is None else [_centred(found, "Sun", WORD_SIZE_PT, AMBER)]


def _ring_marks(centre: float, radius: float, labels: Labels) -> list[str]:
    """The elevation of each ring, on the side that is free: below first."""
    parts = []
    for words, share in RINGS.items():
        spots = [(centre + 7.5, centre + side * (radius * share - 4.5)) for side in (1.0, -1.0)]
        found = labels.find(spots, label_box(words, WORD_SIZE_PT))
        if found is not None:
            parts.append(_centred(found, words, WORD_SIZE_PT, GREY, 400))
    return parts


def _centred(at: tuple[float, float], words: str, size: float, fill: str, weight: int = 600) -> str:
    """Words with the middle of their capitals at a place."""
    return text(at[0], at[1] + 0.34 * size, words, size, fill, weight=weight)


def _badge(at: tuple[float, float], words: str) -> str:
    return circle(at[0], at[1], BADGE_PT, "#ffffff", INK, 1.0) + text(at[0], at[1] + 2.9, words, 8.2, weight=600)


def feed_drawing(position: str, arrival_deg: float | None = None, size: float = 46.0) -> Markup:
    """The dish from behind with the direction of the feed's field: `horizontal`, `vertical` or `circular`.

    Dashed, how the partner's arrives, in degrees counter-clockwise from level.
    """
    centre, radius = size / 2, size / 2 - 3.0
    body = [circle(centre, centre - 1.5, radius - 1.5, "none", INK, 1.0)]
    body.append(line([(0, size - 1.5), (size, size - 1.5)], GREY, 0.8))
    y, reach = centre - 1.5, radius - 8.0
    if arrival_deg is not None:
        angle = math.radians(arrival_deg)
        across, up = (radius - 2.0) * math.cos(angle), (radius - 2.0) * math.sin(angle)
        body.append(line([(centre - across, y + up), (centre + across, y - up)], INK, 1.0, ' stroke-dasharray="2.5 2"'))
    if position == "circular":
        body.append(circle(centre, y, reach * 0.6, "none", INK, 2.4))
    else:
        along = (reach, 0.0) if position == "horizontal" else (0.0, reach)
        ends = [(centre - along[0], y - along[1]), (centre + along[0], y + along[1])]
        body.append(line(ends, INK, 3.4, ' stroke-linecap="round"'))
    return svg(size, size, f"the feed seen from behind the dish: {position}", body)
