"""A skyline in fewer points: those that stand on the straight line between others, to 0.02 degree, are left out."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

TOLERANCE_DEG = 0.02


def thinned(azimuth_deg: Array, elevation_deg: Array, tolerance_deg: float = TOLERANCE_DEG) -> tuple[Array, Array]:
    """Points (n,) of rising azimuth to fewer of them, whose straight lines miss none by more than the tolerance.

    The farthest from the line between two that stay stays as well, again and again (Ramer 1972, Douglas and Peucker
    1973); the distance is the one in elevation. First and last always stay.
    """
    keep = np.zeros(azimuth_deg.size, dtype=bool)
    keep[[0, -1]] = True
    spans = [(0, azimuth_deg.size - 1)]
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        inner = slice(first + 1, last)
        line = np.interp(azimuth_deg[inner], azimuth_deg[[first, last]], elevation_deg[[first, last]])
        off = np.abs(elevation_deg[inner] - line)
        place = int(np.argmax(off))
        if off[place] > tolerance_deg:
            middle = first + 1 + place
            keep[middle] = True
            spans += [(first, middle), (middle, last)]
    return azimuth_deg[keep], elevation_deg[keep]
