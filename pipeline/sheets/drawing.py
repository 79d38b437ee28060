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

from pipeline.reports.charts import AMBER, FONT, GREY, HAIR, INK, PALE, TEAL

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

    body = [_hidden(view.skyline, place, centre, radius)]
    body += [circle(centre, centre, radius * share, "none", PALE, 0.4) for share in (1 / 3, 2 / 3)]
    body.append(circle(centre, centre, radius, "none", INK, 0.8))
    body.append(line([(centre, centre - radius), (centre, centre + radius)], HAIR, 0.5))
    body.append(line([(centre - radius, centre), (centre + radius, centre)], HAIR, 0.5))
    for angle, letter in ((0, "N"), (90, "E"), (180, "S"), (270, "W")):
        x, y = (
            centre + (radius + 6.5) * math.sin(math.radians(angle)),
            centre - (radius + 6.5) * math.cos(math.radians(angle)),
        )
        body.append(text(x, y + 2.8, letter, 8, weight=600))
    body += [text(centre + 2, centre + radius * share - 2, words, 6, GREY, "start") for share, words in RINGS]
    body += _lines(view.sun, place, AMBER, 1.0, ' stroke-dasharray="1.5 2.5"')
    body += _lines(view.moon, place, INK, 1.2)
    for first, last, number in view.slots:
        points = [place(*at) for at in zip(*(column[first : last + 1] for column in view.moon), strict=True)]
        body.append(line(points, TEAL, 4.5))
        body.append(_badge(_aside(points[len(points) // 2], centre, -12.0), str(number)))
    body += _hour_marks(view, place, centre)
    found = np.flatnonzero(np.isfinite(view.sun[0]))
    if found.size:
        x, y = place(view.sun[0][found[found.size // 2]], view.sun[1][found[found.size // 2]])
        body.append(text(x, y - 3, "Sun", 7, AMBER, weight=600))
    return svg(size, size, view.title, body)


RINGS = ((1 / 3, "60°"), (2 / 3, "30°"))
# Room that an hour's label needs beside the one before it.
LABEL_PT = 13.0


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


def _hour_marks(view: SkyMap, place: Place, centre: float) -> list[str]:
    """A dot each hour on the Moon's track, its label on the side away from the centre; crowded labels are left out."""
    parts, last = [], (-1e9, -1e9)
    for row, words in view.hours:
        x, y = place(view.moon[0][row], view.moon[1][row])
        parts.append(circle(x, y, 1.7, INK))
        at = _aside((x, y), centre, 8.5)
        if math.hypot(at[0] - centre, at[1] - centre) > centre - 12.0 - 4.0:
            # Beyond the rim stand the points of the compass.
            at = _aside((x, y), centre, -8.5)
        if math.hypot(at[0] - last[0], at[1] - last[1]) >= LABEL_PT:
            parts.append(text(at[0], at[1] + 2.5, words, 7.2, weight=600))
            last = at
    return parts


def _aside(at: tuple[float, float], centre: float, by: float) -> tuple[float, float]:
    """A place moved away from the centre, or towards it where `by` is negative."""
    away = math.hypot(at[0] - centre, at[1] - centre) or 1.0
    return at[0] + by * (at[0] - centre) / away, at[1] + by * (at[1] - centre) / away


def _badge(at: tuple[float, float], words: str) -> str:
    return circle(at[0], at[1], 6.0, "#ffffff", INK, 1.0) + text(at[0], at[1] + 2.9, words, 8.2, weight=600)


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
