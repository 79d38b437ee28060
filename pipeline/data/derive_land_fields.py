"""Derives `land_fields.txt`, the locator fields that hold land, from the coasts of Natural Earth at 1:50 million.

    python -m pipeline.data.derive_land_fields land-50m.json

The file is the TopoJSON that the npm package `world-atlas` carries; Natural Earth is in the public domain. A field is
20 degrees of longitude by 10 of latitude. It holds land where a coast runs through it or where its centre is land.
Fields south of 60 degrees south and north of 80 north, where nobody lives but at bases, are left out.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from string import ascii_uppercase
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

FIELDS = 18
WIDTH_DEG, HEIGHT_DEG = 20.0, 10.0
SOUTH_DEG, NORTH_DEG = -60.0, 80.0
TABLE = Path(__file__).with_name("land_fields.txt")
# Points of a coast lie closer than this after cutting, so that none runs through a field unseen.
STEP_DEG = 0.25


def read_rings(file: Path) -> list[Array]:
    """Every closed line of the land, longitude and latitude in degrees, each (n, 2)."""
    topology: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    scale, shift = (np.array(topology["transform"][name]) for name in ("scale", "translate"))
    arcs = [np.cumsum(np.array(arc, dtype=float), axis=0) * scale + shift for arc in topology["arcs"]]
    rings = []
    for shape in topology["objects"]["land"]["geometries"]:
        polygons = shape["arcs"] if shape["type"] == "MultiPolygon" else [shape["arcs"]]
        rings += [
            # An index below nought is the arc with the complement of that number, run backwards.
            np.concatenate([arcs[one] if one >= 0 else arcs[~one][::-1] for one in ring])
            for polygon in polygons
            for ring in polygon
        ]
    return rings


def cut(ring: Array) -> Array:
    """The ring with points between its own, STEP_DEG apart at most, (m, 2)."""
    steps = np.diff(ring, axis=0)
    count = np.maximum(np.ceil(np.abs(steps).max(axis=1) / STEP_DEG), 1.0).astype(int)
    begin = np.repeat(ring[:-1], count, axis=0)
    share = np.concatenate([np.arange(number) / number for number in count])
    return begin + share[:, None] * np.repeat(steps, count, axis=0)


def is_inside(rings: list[Array], longitude_deg: float, latitude_deg: float) -> bool:
    """Whether a place is land: a line from it to the east crosses coasts an odd number of times."""
    crossings = 0
    for ring in rings:
        (x0, y0), (x1, y1) = ring[:-1].T, ring[1:].T
        spans = (y0 > latitude_deg) != (y1 > latitude_deg)
        at = x0[spans] + (latitude_deg - y0[spans]) / (y1[spans] - y0[spans]) * (x1[spans] - x0[spans])
        crossings += int((at > longitude_deg).sum())
    return crossings % 2 == 1


def land_fields(rings: list[Array]) -> npt.NDArray[np.bool_]:
    """Whether each field holds land, (18, 18): rows from the south, columns from 180 degrees west."""
    found = np.zeros((FIELDS, FIELDS), dtype=bool)
    for ring in rings:
        points = cut(ring)
        column = np.minimum((points[:, 0] + 180.0) // WIDTH_DEG, FIELDS - 1).astype(int)
        row = np.minimum((points[:, 1] + 90.0) // HEIGHT_DEG, FIELDS - 1).astype(int)
        found[row, column] = True
    for row, column in np.argwhere(~found):
        middle = (column + 0.5) * WIDTH_DEG - 180.0, (row + 0.5) * HEIGHT_DEG - 90.0
        found[row, column] = is_inside(rings, *middle)
    found[: round((SOUTH_DEG + 90.0) / HEIGHT_DEG)] = False
    found[round((NORTH_DEG + 90.0) / HEIGHT_DEG) :] = False
    return found


def main() -> None:
    """Write the table beside this module: a line a row from the north, its fields by name."""
    found = land_fields(read_rings(Path(sys.argv[1])))
    lines = [
        " ".join(ascii_uppercase[column] + ascii_uppercase[row] for column in np.flatnonzero(found[row]))
        for row in range(FIELDS - 1, -1, -1)
    ]
    TABLE.write_text("\n".join(line for line in lines if line) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
