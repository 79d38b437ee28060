"""The Moon over a skyline: strips of one scale for many partners, and one large drawing with the hours for one of them.

From a station's surveyed skyline and tracks of the Moon (azimuth, elevation) in slots; as inline SVG, a path a colour.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from pipeline.reports.svg import GREY, HAIR, INK, PALE, TEAL, path, rectangle, svg, text
from pipeline.wording import formats

FloatArray = npt.NDArray[np.float64]

# Azimuth is cut to what the tracks need and this much to either side, but never narrower than a right angle.
SIDE_DEG, LEAST_SPAN_DEG = 12.0, 90.0
LEAST_TOP_DEG = 20.0
SKY_STEP_DEG = 2.0


@dataclass(frozen=True)
class Track:
    """The Moon in one stretch: azimuth (not folded) and elevation, degrees, (k,); `slot` where it is reserved."""

    azimuth_deg: FloatArray
    elevation_deg: FloatArray
    slot: bool

    @property
    def highest_deg(self) -> float:
        """The highest elevation of the stretch."""
        return float(self.elevation_deg.max())


@dataclass(frozen=True)
class Scale:
    """Which part of the sky a drawing shows: from an azimuth on so many degrees clockwise, and up to an elevation."""

    first_deg: float
    span_deg: float
    top_deg: float

    def share(self, azimuth_deg: npt.ArrayLike) -> FloatArray:
        """How far along the drawing each azimuth stands, 0 to 1; what lies left of it comes out at its far end."""
        return np.asarray((np.asarray(azimuth_deg, dtype=float) - self.first_deg) % 360.0 / self.span_deg)

    def ticks(self, step_deg: int) -> list[int]:
        """Azimuths at whole steps inside the drawing, 0 to 359."""
        first = math.ceil(self.first_deg / step_deg) * step_deg
        return [tick % 360 for tick in range(first, math.floor(self.first_deg + self.span_deg) + 1, step_deg)]


def scale_of(tracks: Sequence[Track]) -> Scale:
    """The scale that holds all tracks: their azimuths without the widest gap between them."""
    if not tracks:
        return Scale(0.0, 360.0, LEAST_TOP_DEG)
    seen = np.unique(np.concatenate([_filled(track.azimuth_deg) for track in tracks]) % 360.0)
    gaps = np.diff(np.append(seen, seen[0] + 360.0))
    widest = int(np.argmax(gaps))
    first, used = seen[(widest + 1) % seen.size], 360.0 - gaps[widest]
    span = min(360.0, max(used + 2 * SIDE_DEG, LEAST_SPAN_DEG))
    top = max(LEAST_TOP_DEG, math.ceil(max(track.highest_deg for track in tracks) / 10.0) * 10.0)
    return Scale(float(first - (span - used) / 2) % 360.0, float(span), float(min(top, 90.0)))


def _filled(azimuth_deg: FloatArray) -> FloatArray:
    """Azimuths along a track, a degree apart at most."""
    count = max(2, math.ceil(float(np.abs(np.diff(azimuth_deg)).sum())) + 1)
    return np.interp(np.linspace(0.0, 1.0, count), np.linspace(0.0, 1.0, azimuth_deg.size), azimuth_deg)


@dataclass(frozen=True)
class Frame:
    """A scale laid on paper: the left end and the ground line, points, and what a whole scale takes there."""

    scale: Scale
    left: float
    ground: float
    width: float
    height: float

    def x(self, azimuth_deg: npt.ArrayLike) -> FloatArray:
        """Points from the left."""
        return self.left + self.scale.share(azimuth_deg) * self.width

    def y(self, elevation_deg: npt.ArrayLike) -> FloatArray:
        """Points from the top."""
        return self.ground - np.clip(np.asarray(elevation_deg, float) / self.scale.top_deg, 0.0, 1.05) * self.height


def _line(x: FloatArray, y: FloatArray) -> str:
    return "M" + "L".join(f"{a:.1f} {b:.1f}" for a, b in zip(x, y, strict=True))


def track_line(frame: Frame, track: Track) -> str:
    """Path commands of a track; parted where it leaves the drawing at one side and comes in at the other."""
    x, y = frame.x(track.azimuth_deg), frame.y(track.elevation_deg)
    parts = np.split(np.arange(x.size), np.flatnonzero(np.abs(np.diff(x)) > frame.width / 2) + 1)
    return "".join(_line(x[part], y[part]) for part in parts)


def ground_shape(frame: Frame, horizon: tuple[FloatArray, FloatArray]) -> str:
    """The skyline, filled down to elevation 0; `horizon` is azimuth and elevation of its points, degrees, (n,)."""
    azimuth = frame.scale.first_deg + np.append(
        np.arange(0.0, frame.scale.span_deg, SKY_STEP_DEG), frame.scale.span_deg
    )
    height = np.interp(azimuth, *horizon, period=360.0)
    x = frame.left + (azimuth - frame.scale.first_deg) / frame.scale.span_deg * frame.width
    edge = "L".join(f"{a:.1f} {b:.1f}" for a, b in zip(x, frame.y(height), strict=True))
    return f"M{frame.left:.1f} {frame.ground:.1f}L{edge}V{frame.ground:.1f}z"


def strip(
    scale: Scale, horizon: tuple[FloatArray, FloatArray], tracks: Sequence[Track], size: tuple[float, float], title: str
) -> Markup:
    """A small drawing, `size` points wide and high: slots in ink with their height, the other times thin."""
    width, height = size
    frame = Frame(scale, 0.0, height - 9.5, width, height - 19.0)
    slots = [track for track in tracks if track.slot]
    body = [
        path(ground_shape(frame, horizon), fill=HAIR),
        path(f"M0 {frame.ground:.1f}h{width:g}", stroke=PALE, width=0.5),
        path("".join(track_line(frame, one) for one in tracks if not one.slot), stroke=PALE, width=0.9),
        path("".join(track_line(frame, one) for one in slots), stroke=INK, width=2.4),
    ]
    told: list[tuple[float, float]] = []
    for one in sorted(slots, key=lambda track: -track.highest_deg):
        x = min(max(float(frame.x(one.azimuth_deg)[one.azimuth_deg.size // 2]), 8.0), width - 8.0)
        y = float(frame.y(one.highest_deg)) - 3.0
        # A height that would run into another one is left to the line's own elevation.
        if all(abs(x - other) > 18.0 or abs(y - level) > 9.0 for other, level in told):
            body.append(text(x, y, f"{one.highest_deg:.0f}°", 7.0, INK, "middle", 600))
            told.append((x, y))
    for tick in scale.ticks(90):
        x = float(frame.x(tick))
        anchor = "start" if x < 10 else "end" if x > width - 10 else "middle"
        body.append(text(x, height - 1.5, formats.POINTS[tick // 45], 7.0, GREY, anchor))
    return svg(width, height, title, body, "skyline")


@dataclass(frozen=True)
class HourMark:
    """A full hour on a large drawing: where the Moon stands then, degrees, and the hour by a clock."""

    azimuth_deg: float
    elevation_deg: float
    label: str


@dataclass(frozen=True)
class Skyline:
    """One large drawing: the passages that hold the slots, their full hours, the slots, and the thin other times.

    `points` are the words for north, east, south and west.
    """

    horizon: tuple[FloatArray, FloatArray]
    passages: Sequence[Track]
    hours: Sequence[HourMark]
    slots: Sequence[tuple[Track, str]]
    title: str
    points: tuple[str, ...]


def _ground(x: float, y: float, words: str, size: float, anchor: str) -> str:
    """Path commands of a ground for words, so that no line runs through them."""
    width = 0.5 * size * len(words)
    return rectangle(x - (width / 2 if anchor == "middle" else 0.0), y - 0.75 * size, width, 0.95 * size)


def _slot_labels(frame: Frame, slots: Sequence[tuple[Track, str]], width: float) -> list[tuple[float, float, str]]:
    """Where each slot's label stands, points, above its track; one that would run into another moves up."""
    placed: list[tuple[float, float, str]] = []
    for track, words in sorted(slots, key=lambda one: one[0].highest_deg):
        half = 2.1 * len(words)
        x = float(frame.x(track.azimuth_deg)[track.azimuth_deg.size // 2])
        x, y = min(max(x, frame.left + half), width - half), float(frame.y(track.highest_deg)) - 6.0
        while y > 18.0 and any(
            abs(x - at) < half + 2.1 * len(other) and abs(y - level) < 10.0 for at, level, other in placed
        ):
            y -= 5.0
        placed.append((x, y, words))
    return placed


def skyline_chart(drawing: Skyline, width: float, height: float) -> Markup:
    """The Moon over one station's skyline, slots heavy with their label."""
    scale = scale_of([*drawing.passages, *(track for track, _ in drawing.slots)])
    frame = Frame(scale, 22.0, height - 13.0, width - 26.0, height - 38.0)
    step = 10 if scale.top_deg <= 60 else 20
    levels = range(step, int(scale.top_deg) + 1, step)
    lines = "".join(f"M{frame.left:g} {float(frame.y(level)):.1f}h{frame.width:g}" for level in levels)
    body = [
        path(lines, stroke=HAIR, width=0.5),
        path(ground_shape(frame, drawing.horizon), fill=HAIR, stroke=GREY, width=0.6),
        path("".join(track_line(frame, one) for one in drawing.passages), stroke=TEAL, width=0.9),
        path("".join(track_line(frame, one) for one, _ in drawing.slots), stroke=INK, width=3.2),
    ]
    body += [text(frame.left - 4, float(frame.y(level)) + 2.4, f"{level}°", 7.0, GREY, "end") for level in (0, *levels)]
    for tick in scale.ticks(30):
        x = float(frame.x(tick))
        words = drawing.points[tick // 90 % 4] if tick % 90 == 0 else f"{tick}°"
        body.append(text(x, height - 2.5, words, 7.0, GREY, "middle", 600 if tick % 90 == 0 else 400))
    labels = _slot_labels(frame, drawing.slots, width)
    grounds = [_ground(x, y, words, 8.0, "middle") for x, y, words in labels]
    written = [text(x, y, words, 8.0, INK, "middle", 600) for x, y, words in labels]
    for hour in drawing.hours:
        x, y = float(frame.x(hour.azimuth_deg)), float(frame.y(hour.elevation_deg))
        body.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="1.7" fill="#fff" stroke="{TEAL}" stroke-width="0.9"/>')
        if all(abs(x + 12.0 - at) > 2.1 * len(one) + 11.0 or abs(y - 3.0 - level) > 9.0 for at, level, one in labels):
            grounds.append(_ground(x + 4.0, y - 3.0, hour.label, 7.0, "start"))
            written.append(text(x + 4.0, y - 3.0, hour.label, 7.0, GREY))
    body += [path("".join(grounds), fill="#fff"), *written]
    return svg(width, height, drawing.title, body, "skyline")
