"""Files of elevation tiles: each layout that is taken, and a sentence for each that is not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pipeline.terrain.tiles import TileFault, TileFaults, find_tiles, load
from tests.terrain.made_tiles import GEOGRAPHIC, SIDE, geotiff, hgt

SMALL = np.arange(12, dtype=np.int32).reshape(3, 4) * 10
CORNER, STEP = (45.5, 7.5), (0.1, 0.2)


def only(path: Path) -> str:
    """The one fault of a file, found or loaded."""
    try:
        tiles = find_tiles(path)
    except TileFaults as faults:
        (fault,) = faults.faults
        return str(fault)
    with pytest.raises(TileFault) as found:
        load(tiles[0])
    return str(found.value)


def test_hgt_has_its_corner_in_its_name_and_north_above(tmp_path: Path) -> None:
    heights = np.zeros((SIDE, SIDE))
    heights[0, 0], heights[0, -1], heights[-1, 0] = 11, 22, 33
    path = hgt(tmp_path, "s35w056.SRTMGL3", heights)
    (tile,) = find_tiles(path)
    grid = load(tile).grid
    assert (tile.box.south, tile.box.west, tile.box.north, tile.box.east) == (-35.0, -56.0, -34.0, -55.0)
    corners = grid.at(np.array([-34.0, -34.0, -35.0, -36.0]), np.array([-56.0, -55.0, -56.0, -56.0]))
    assert corners[:3].tolist() == [11, 22, 33]
    assert np.isnan(corners[3])


def test_bilinear_by_hand(tmp_path: Path) -> None:
    (tile,) = find_tiles(geotiff(tmp_path / "a.tif", SMALL, CORNER, STEP))
    grid = load(tile).grid
    # A quarter of the way down and half to the east between 0, 10, 40 and 50.
    assert grid.at(np.array([45.475]), np.array([7.6]))[0] == pytest.approx(15.0, abs=1e-4)


@pytest.mark.parametrize("kind", [np.uint16, np.int32, np.float32])
@pytest.mark.parametrize("saved", [{}, {"compression": "tiff_adobe_deflate"}, {"compression": "tiff_lzw"}])
def test_kinds_of_geotiff(tmp_path: Path, kind: type, saved: dict[str, str]) -> None:
    (tile,) = find_tiles(geotiff(tmp_path / "a.tif", SMALL.astype(kind), CORNER, STEP, **saved))
    assert load(tile).grid.heights_m.tolist() == SMALL.tolist()


def test_signed_16_bit_heights_below_the_sea(tmp_path: Path) -> None:
    # The file of unsigned numbers with its tag SampleFormat (339) made to say signed: -40 is 65496.
    path = geotiff(tmp_path / "a.tif", np.full((3, 4), 65496, dtype=np.uint16), CORNER, STEP)
    from PIL import Image, TiffImagePlugin

    with Image.open(path) as image:
        info = TiffImagePlugin.ImageFileDirectory_v2()
        for tag in (33550, 33922, 34735, 42113):
            info[tag] = image.tag_v2[tag]  # type: ignore[attr-defined]
        info[339] = 2
        image.save(path, tiffinfo=info)
    (tile,) = find_tiles(path)
    assert load(tile).grid.heights_m.min() == -40.0


def test_areas_and_points(tmp_path: Path) -> None:
    areas = ((1024, 0, 1, 2), (1025, 0, 1, 1))
    (tile,) = find_tiles(geotiff(tmp_path / "a.tif", SMALL, CORNER, STEP, areas))
    assert (tile.box.north, tile.box.west, tile.box.south) == pytest.approx((45.5, 7.5, 45.2))
    assert load(tile).grid.at(np.array([45.45]), np.array([7.6]))[0] == 0.0


def test_marks_for_nothing_are_holes(tmp_path: Path) -> None:
    heights = SMALL.astype(np.float32)
    heights[0] = -9999, np.nan, 32767, -3.4e38
    (tile,) = find_tiles(geotiff(tmp_path / "a.tif", heights, CORNER, STEP))
    assert np.isnan(load(tile).grid.heights_m).sum(axis=1).tolist() == [4, 0, 0]


def test_hostile_hgt(tmp_path: Path) -> None:
    path = hgt(tmp_path, "N45E007", 5)
    path.write_bytes(path.read_bytes()[:-2])
    assert only(path).startswith("N45E007.hgt: it has 2884800 bytes; 2884802 bytes (1201 points a side) or 25934402")
    path.write_bytes(b"")
    assert "it has 0 bytes" in only(path)
    assert "the name tells no corner; N34W056.hgt is meant" in only(path.rename(tmp_path / "hills.hgt"))
    (tmp_path / "hills.hgt").unlink()
    assert "not on Earth" in only(hgt(tmp_path, "N95E007", 5))


def test_hostile_geotiff(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = geotiff(tmp_path / "a.tif", SMALL, CORNER, STEP)
    whole = path.read_bytes()
    path.write_bytes(whole[:60])
    assert only(path) == "a.tif: it is no TIFF that can be read, or too large a one."
    path.write_bytes(b"II*\0" + b"\xff" * 200)
    assert only(path) == "a.tif: it is no TIFF that can be read, or too large a one."
    geotiff(path, np.zeros((600, 400), dtype=np.float32), CORNER, (0.001, 0.001), compression="tiff_adobe_deflate")
    body = path.read_bytes()
    path.write_bytes(body.replace(body[8:60], b"\0" * 52))
    assert "its heights cannot be unpacked; is it cut off?" in only(path)
    projected = geotiff(tmp_path / "utm.tif", SMALL, (4_950_000.0, 400_000.0), (30.0, 30.0), ((1024, 0, 1, 1),))
    assert only(projected) == (
        "utm.tif: it lies in a map projection; one in degrees of latitude and longitude (WGS 84, EPSG:4326) is meant."
    )
    unsaid = geotiff(tmp_path / "unsaid.tif", SMALL, (4_950_000.0, 400_000.0), (30.0, 30.0), ())
    assert "no degrees on Earth" in only(unsaid)
    feet = geotiff(tmp_path / "feet.tif", SMALL, CORNER, STEP, (*GEOGRAPHIC, (4099, 0, 1, 9002)))
    assert only(feet) == "feet.tif: its heights are not in metres; convert them."
    datum = geotiff(tmp_path / "old.tif", SMALL, CORNER, STEP, (GEOGRAPHIC[0], (2048, 0, 1, 4267)))
    assert "EPSG:4267; WGS 84 (EPSG:4326) is meant" in only(datum)
    colours = geotiff(tmp_path / "rgb.tif", np.zeros((4, 4, 3), dtype=np.uint8), CORNER, STEP)
    assert "it holds colours" in only(colours)
    monkeypatch.setattr("pipeline.terrain.tiles.MOST_POINTS", 11)
    assert "it has 4 x 3 points; at most 40 million are taken" in only(geotiff(path, SMALL, CORNER, STEP))


def test_too_large_a_file_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "N45E007.hgt"
    with path.open("wb") as file:
        file.truncate(300_000_000)
    assert only(path) == "N45E007.hgt: it is over 200 MB; tiles of a degree are meant."


def test_all_broken_heads_of_a_folder_are_told(tmp_path: Path) -> None:
    hgt(tmp_path, "N45E007", 5)
    (tmp_path / "one.hgt").write_bytes(b"")
    (tmp_path / "two.tif").write_bytes(b"")
    (tmp_path / "notes.txt").write_text("ignored", encoding="utf-8")
    with pytest.raises(TileFaults) as found:
        find_tiles(tmp_path)
    assert [fault.name for fault in found.value.faults] == ["one.hgt", "two.tif"]
