"""Elevation tiles on the disk: which there are, what each covers, and the grid of one of them with its hash.

`.hgt`: big-endian 16-bit heights, 1201 or 3601 points a side, -32768 for a hole; the name is the south-west corner (the
layout of the Shuttle Radar Topography Mission, from memory). GeoTIFF: OGC 19-008r4; read by Pillow.
"""

from __future__ import annotations

import hashlib
import io
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pipeline.terrain.grids import Box, Grid, without_marks

if TYPE_CHECKING:
    from PIL.Image import Image

SIDES = {2 * side * side: side for side in (1201, 3601)}
SIDE_BYTES = " or ".join(f"{size} bytes ({side} points a side)" for size, side in SIDES.items())
HGT_NAME = re.compile(r"([NS])(\d{2})([EW])(\d{3})(\..+)?\.hgt", re.IGNORECASE)
HGT, TIFF = ".hgt", (".tif", ".tiff")
# As float32 the greatest grid takes 160 MB; one is in memory at a time.
MOST_POINTS = 40_000_000
LARGEST_FILE_BYTES = 200_000_000
MOST_FILES = 4000

# GeoTIFF: tags of TIFF, keys of the directory, and what they may hold.
PIXEL_SCALE, TIE_POINT, TRANSFORM, KEYS, NO_DATA = 33550, 33922, 34264, 34735, 42113
MODEL_TYPE, RASTER_TYPE, GEOGRAPHIC, VERTICAL_UNIT = 1024, 1025, 2048, 4099
IS_GEOGRAPHIC, POINTS_ARE_PLACES, METRE = 2, 2, 9001
# WGS 84, flat and with height; NAD83 and ETRS89 lie within two metres of it.
DATUMS = (4326, 4979, 4269, 4258)


class TileFault(Exception):
    """What is wrong with a tile or a folder of them: the file's name, and a whole sentence."""

    def __init__(self, name: str, message: str) -> None:
        self.name, self.message = name, message
        super().__init__(f"{name}: {message}")


class TileFaults(Exception):
    """Everything that is wrong with the tiles of a place, in the order in which it was met."""

    def __init__(self, faults: Iterable[TileFault]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(map(str, self.faults)))


@dataclass(frozen=True)
class Tile:
    """A file and what it covers."""

    path: Path
    box: Box

    @property
    def name(self) -> str:
        """The file's name."""
        return self.path.name


@dataclass(frozen=True)
class Loaded:
    """The grid of a tile, and the SHA-256 of its file."""

    grid: Grid
    digest: str


def find_tiles(place: Path) -> list[Tile]:
    """The tiles of a folder by name, or one file.

    Raises TileFaults where there is none, and with every tile that does not say what it covers.
    """
    tiles: list[Tile] = []
    faults: list[TileFault] = []
    try:
        paths = _files(place)
    except TileFault as fault:
        raise TileFaults([fault]) from None
    for path in paths:
        try:
            tiles.append(Tile(path, _box_of(path)))
        except TileFault as fault:
            faults.append(fault)
    if faults:
        raise TileFaults(faults)
    return tiles


def _files(place: Path) -> list[Path]:
    try:
        if place.is_file():
            found = [place]
        elif place.is_dir():
            found = sorted(path for path in place.iterdir() if path.is_file() and not path.name.startswith("."))
        else:
            raise TileFault("", "there is no such folder or file; elevation tiles (.hgt or GeoTIFF) are meant.")
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or "the name cannot be used").lower()
        raise TileFault("", f"it cannot be read ({reason}).") from None
    tiles = [path for path in found if path.suffix.lower() in (HGT, *TIFF)]
    if not tiles:
        raise TileFault("", "it holds no elevation tile; files .hgt or GeoTIFF (.tif) are meant.")
    if len(tiles) > MOST_FILES:
        raise TileFault("", f"there are over {MOST_FILES} tiles; keep those around the station in a folder.")
    return tiles


def _box_of(path: Path) -> Box:
    """What a file covers, by its name or its head."""
    if path.suffix.lower() == HGT:
        return _corner_of(path.name)
    with _opened(path, path) as image:
        grid = _placed(path.name, image)
    rows, columns = image.size[1], image.size[0]
    south, east = grid.north - (rows - 0.5) * grid.step_lat, grid.west + (columns - 0.5) * grid.step_lon
    west = (grid.west - 0.5 * grid.step_lon + 180.0) % 360.0 - 180.0
    return Box(south, west, grid.north + 0.5 * grid.step_lat, west + (east - grid.west + 0.5 * grid.step_lon))


def _corner_of(name: str) -> Box:
    """The square degree that the name of a `.hgt` file tells."""
    found = HGT_NAME.fullmatch(name)
    if found is None:
        raise TileFault(name, "the name tells no corner; N34W056.hgt is meant, the south-west corner of the tile.")
    south = int(found[2]) * (1 if found[1].upper() == "N" else -1)
    west = int(found[4]) * (1 if found[3].upper() == "E" else -1)
    if not (-90 <= south <= 89 and -180 <= west <= 179):
        raise TileFault(name, "the name tells a corner that is not on Earth; N34W056.hgt is meant.")
    return Box(south, west, south + 1.0, west + 1.0)


def load(tile: Tile) -> Loaded:
    """A tile's grid. Raises TileFault where its file is broken or too large."""
    try:
        size = tile.path.stat().st_size
        if size > LARGEST_FILE_BYTES:
            raise TileFault(tile.name, f"it is over {LARGEST_FILE_BYTES // 1_000_000} MB; tiles of a degree are meant.")
        raw = tile.path.read_bytes()
    except OSError as error:
        raise TileFault(tile.name, f"it cannot be read ({(error.strerror or 'unknown reason').lower()}).") from None
    grid = _hgt_grid(tile, raw) if tile.path.suffix.lower() == HGT else _tiff_grid(tile, raw)
    return Loaded(grid, hashlib.sha256(raw).hexdigest())


def _hgt_grid(tile: Tile, raw: bytes) -> Grid:
    side = SIDES.get(len(raw))
    if side is None:
        raise TileFault(tile.name, f"it has {len(raw)} bytes; {SIDE_BYTES} are meant. Was it cut off?")
    heights = np.frombuffer(raw, dtype=">i2").astype(np.float32).reshape(side, side)
    step = 1.0 / (side - 1)
    return Grid(without_marks(heights), tile.box.north, tile.box.west, step, step)


def _tiff_grid(tile: Tile, raw: bytes) -> Grid:
    with _opened(tile.path, io.BytesIO(raw)) as image:
        placed = _placed(tile.name, image)
        try:
            heights = np.array(image, dtype=np.float32)
        except Exception:
            # Pillow has no one class for what can be wrong with compressed data.
            advice = "is it cut off? Plain, deflate and LZW are read."
            raise TileFault(tile.name, f"its heights cannot be unpacked; {advice}") from None
        missing = _number(image.tag_v2.get(NO_DATA))  # type: ignore[attr-defined]
    return Grid(without_marks(heights, missing), placed.north, placed.west, placed.step_lat, placed.step_lon)


def _opened(path: Path, source: Any) -> Image:
    """The file opened as TIFF: its head alone is read, and it holds one height a point."""
    try:
        from PIL import Image
    except ImportError:
        raise TileFault(path.name, "GeoTIFF needs the package Pillow: pip install pillow.") from None

    import warnings

    try:
        with warnings.catch_warnings():
            # Its own bound warns where ours refuses.
            warnings.simplefilter("ignore")
            image = Image.open(source, formats=["TIFF"])
    except Exception:
        # Pillow has no one class for what can be wrong with a head, its own bound on sizes among them.
        raise TileFault(path.name, "it is no TIFF that can be read, or too large a one.") from None
    if image.size[0] * image.size[1] > MOST_POINTS:
        image.close()
        wide, high = image.size
        raise TileFault(path.name, f"it has {wide} x {high} points; at most 40 million are taken: cut it into tiles.")
    if image.mode not in ("I;16", "I;16B", "I;16L", "I;16S", "I;16BS", "I", "F"):
        image.close()
        raise TileFault(path.name, "it holds colours; one height in metres for each point is meant.")
    return image


def _number(value: Any) -> float | None:
    try:
        return float(str(value).strip("\0 "))
    except ValueError:
        return None


def _placed(name: str, image: Image) -> Grid:
    """Where a GeoTIFF's points lie, as a grid without heights."""
    tags: Any = image.tag_v2  # type: ignore[attr-defined]
    keys = _keys(tags.get(KEYS))
    if keys.get(MODEL_TYPE, IS_GEOGRAPHIC) != IS_GEOGRAPHIC:
        advice = "one in degrees of latitude and longitude (WGS 84, EPSG:4326) is meant."
        raise TileFault(name, f"it lies in a map projection; {advice}")
    if keys.get(GEOGRAPHIC, DATUMS[0]) not in DATUMS:
        raise TileFault(name, f"its coordinates are EPSG:{keys[GEOGRAPHIC]}; WGS 84 (EPSG:4326) is meant.")
    if keys.get(VERTICAL_UNIT, METRE) != METRE:
        raise TileFault(name, "its heights are not in metres; convert them.")
    scale, tie = _numbers(tags.get(PIXEL_SCALE)), _numbers(tags.get(TIE_POINT))
    if len(scale) < 2 or len(tie) < 6:
        turned = "it is placed by a matrix" if TRANSFORM in tags else "it does not say where it lies"
        raise TileFault(name, f"{turned}; a north-up GeoTIFF with the tags {PIXEL_SCALE} and {TIE_POINT} is meant.")
    step_lon, step_lat = float(scale[0]), float(scale[1])
    half = 0.0 if keys.get(RASTER_TYPE) == POINTS_ARE_PLACES else 0.5
    north, west = tie[4] - (half - tie[1]) * step_lat, tie[3] + (half - tie[0]) * step_lon
    high, wide = image.size[1] * step_lat, image.size[0] * step_lon
    sane = 1e-6 < step_lat < 1.0 and 1e-6 < step_lon < 1.0 and north - high >= -90.0 and north <= 90.0 + step_lat
    if not (sane and abs(west) <= 360.0 and wide <= 361.0):
        raise TileFault(name, "its corner and steps are no degrees on Earth; is it in a map projection?")
    return Grid(np.zeros((0, 0), dtype=np.float32), north, west, step_lat, step_lon)


def _keys(directory: Any) -> dict[int, int]:
    """Short values of the directory of GeoTIFF keys: four numbers a key, the second nought where it holds a value."""
    numbers = [int(value) for value in _numbers(directory)]
    entries = [numbers[place : place + 4] for place in range(4, len(numbers) - 3, 4)]
    return {key: value for key, where, _, value in entries if where == 0}


def _numbers(value: Any) -> list[float]:
    """Numbers of a tag; none where it holds something else."""
    try:
        found = [float(one) for one in (value if isinstance(value, tuple | list) else (value,))]
    except (TypeError, ValueError):
        return []
    return found if all(np.isfinite(found)) else []
