"""A grid of heights over latitude and longitude, and the height between its points.

Bilinear between the four points around; NaN where one of them is a hole, and outside.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Heights = npt.NDArray[np.float32]

# Below the lowest shore and above the highest summit: marks for holes, whatever number a file takes for them.
LOWEST_M, HIGHEST_M = -500.0, 9000.0
METRES_A_DEGREE = 111_195.0


@dataclass(frozen=True)
class Box:
    """What a tile covers, degrees; `west` is -180 to 180, `east` lies east of it and may pass 180."""

    south: float
    west: float
    north: float
    east: float

    def holds(self, latitude_deg: Array, longitude_deg: Array) -> npt.NDArray[np.bool_]:
        """Whether places lie inside, edges included; shapes broadcast, degrees."""
        beyond = (longitude_deg - self.west) % 360.0
        return (latitude_deg >= self.south) & (latitude_deg <= self.north) & (beyond <= self.east - self.west)


@dataclass(frozen=True)
class Grid:
    """Heights (rows, columns), m, NaN in holes; row 0 is the northernmost, column 0 the westernmost.

    `north` and `west` are the place of the first point, `step_lat` and `step_lon` those between points, degrees.
    """

    heights_m: Heights
    north: float
    west: float
    step_lat: float
    step_lon: float

    @property
    def posting_m(self) -> float:
        """How far rows stand apart."""
        return self.step_lat * METRES_A_DEGREE

    @property
    def highest_m(self) -> float:
        """The highest point; minus infinity where all is holes."""
        highest = np.fmax.reduce(self.heights_m, axis=None)
        return float(highest) if np.isfinite(highest) else -np.inf

    @property
    def hole_share(self) -> float:
        """The share of points without a height, 0 to 1."""
        return float(np.count_nonzero(np.isnan(self.heights_m))) / self.heights_m.size

    def at(self, latitude_deg: Array, longitude_deg: Array) -> Array:
        """Heights at places of one shape, m; NaN in a hole and more than half a step outside."""
        rows, columns = self.heights_m.shape
        row = (self.north - latitude_deg) / self.step_lat
        column = ((longitude_deg - self.west + 180.0) % 360.0 - 180.0) / self.step_lon
        inside = (row >= -0.5) & (row <= rows - 0.5) & (column >= -0.5) & (column <= columns - 0.5)
        row, column = np.clip(row, 0.0, rows - 1.0), np.clip(column, 0.0, columns - 1.0)
        top = np.minimum(row.astype(np.int32), max(rows - 2, 0))
        left = np.minimum(column.astype(np.int32), max(columns - 2, 0))
        down, right = row - top, column - left
        flat, first = self.heights_m.ravel(), top * columns + left
        below, beside = columns if rows > 1 else 0, 1 if columns > 1 else 0
        upper = flat[first] * (1.0 - right) + flat[first + beside] * right
        lower = flat[first + below] * (1.0 - right) + flat[first + below + beside] * right
        return np.where(inside, upper * (1.0 - down) + lower * down, np.nan)


def without_marks(heights_m: Heights, missing: float | None = None) -> Heights:
    """The heights (rows, columns), m, with NaN for whatever is no height on Earth, and for the file's own mark."""
    with np.errstate(invalid="ignore"):
        is_hole = ~((heights_m > LOWEST_M) & (heights_m < HIGHEST_M))
    if missing is not None:
        is_hole |= heights_m == np.float32(missing)
    heights_m[is_hole] = np.nan
    return heights_m
