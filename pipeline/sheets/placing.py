"""Where the labels of a drawing can stand: none on another, none across the lines that they name.

Boxes in points, the most important label first; whoever comes later takes what is left or stays away.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt

Spot = tuple[float, float]

# Width of a digit and height of a capital as shares of the type's size: Source Sans Pro's own, rounded up.
WIDE, HIGH = 0.56, 0.70
# White around every label.
AIR_PT = 1.0
# Ways from a place, degrees from the one that is liked best.
TURNS_DEG = (0, 180, 25, -25, 155, -155, 50, -50, 130, -130, 75, -75, 105, -105)


def label_box(words: str, size_pt: float) -> tuple[float, float]:
    """Width and height of words set in one line."""
    return len(words) * size_pt * WIDE, size_pt * HIGH


class Labels:
    """The labels of a round drawing as they are given their places; `lines` (n, 2) are points not to be covered."""

    def __init__(self, centre: float, radius: float, lines: npt.ArrayLike) -> None:
        self.centre, self.radius = centre, radius
        self.lines = np.asarray(lines, dtype=float).reshape(-1, 2)
        self.taken: list[tuple[float, float, float, float]] = []

    def keep(self, at: Spot, box: tuple[float, float]) -> None:
        """A label that stands there whatever else does."""
        self.taken.append((*at, box[0] / 2, box[1] / 2))

    def find(self, spots: Iterable[Spot], box: tuple[float, float], over_lines: bool = False) -> Spot | None:
        """The first spot inside the drawing that is free, and takes it; None where there is none."""
        for at in spots:
            if self._is_free(at, box[0] / 2 + AIR_PT, box[1] / 2 + AIR_PT, over_lines):
                self.keep(at, box)
                return at
        return None

    def around(self, at: Spot, distances_pt: Sequence[float]) -> list[Spot]:
        """Spots about a place, the nearest first; at each distance first towards the rim, then inwards, then aside."""
        outwards = math.atan2(at[1] - self.centre, at[0] - self.centre)
        return [
            (at[0] + away * math.cos(outwards + turn), at[1] + away * math.sin(outwards + turn))
            for away in distances_pt
            for turn in np.radians(TURNS_DEG)
        ]

    def _is_free(self, at: Spot, half_width: float, half_height: float, over_lines: bool) -> bool:
        across, down = abs(at[0] - self.centre) + half_width, abs(at[1] - self.centre) + half_height
        if math.hypot(across, down) > self.radius:
            return False
        if any(
            abs(at[0] - x) < half_width + wide and abs(at[1] - y) < half_height + high
            for x, y, wide, high in self.taken
        ):
            return False
        apart = np.abs(self.lines - at) < (half_width, half_height)
        return over_lines or not bool(apart.all(axis=1).any())
