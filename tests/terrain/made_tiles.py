"""Elevation tiles for tests: `.hgt` and GeoTIFF files of invented or given heights."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image, TiffImagePlugin

Heights = npt.NDArray[Any]
SIDE = 1201
METRES_A_DEGREE = 111_195.0
# Model geographic, points are places, WGS 84.
GEOGRAPHIC = (1024, 0, 1, 2), (1025, 0, 1, 2), (2048, 0, 1, 4326)


def hgt(folder: Path, name: str, heights: Heights | float) -> Path:
    """A tile of 1201 points a side, or one height everywhere."""
    path = folder / f"{name}.hgt"
    np.broadcast_to(np.asarray(heights), (SIDE, SIDE)).astype(">i2").tofile(path)
    return path


def hgt_places(south: float, west: float) -> tuple[Heights, Heights]:
    """Latitude and longitude of the points of such a tile, (1201, 1) and (1, 1201)."""
    steps = np.arange(SIDE) / (SIDE - 1)
    return (south + 1.0 - steps)[:, None], (west + steps)[None, :]


def geotiff(
    path: Path,
    heights: Heights,
    corner: tuple[float, float],
    step: tuple[float, float],
    keys: tuple[tuple[int, int, int, int], ...] = GEOGRAPHIC,
    **saved: Any,
) -> Path:
    """A GeoTIFF whose first point lies at `corner` (north, west), with steps in latitude and longitude."""
    info = TiffImagePlugin.ImageFileDirectory_v2()
    info[33550] = (step[1], step[0], 0.0)
    info[33922] = (0.0, 0.0, 0.0, corner[1], corner[0], 0.0)
    info[34735] = (1, 1, 0, len(keys), *(number for key in keys for number in key))
    info[42113] = "-9999"
    Image.fromarray(heights).save(path, tiffinfo=info, **saved)
    return path
