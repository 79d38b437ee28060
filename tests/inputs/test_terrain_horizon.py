"""`horizon: {terrain: ...}` in a station file: points, notes, hashes and faults."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pipeline.explain.plausibility import oddities
from pipeline.inputs.model import mask_arrays
from pipeline.record.inputs import Inputs, read_inputs
from pipeline.record.skyline_points import SkylinePoint, merged
from pipeline.record.skyline_writing import standing_points, with_points
from pipeline.windows.span import plan_number, span_of
from pipeline.wording.plausibility import oddity_words
from pipeline.wording.skylines import changes_words
from tests.inputs.helpers import HOME, PARTNER, faults_of, lay_out, only_fault, swapped
from tests.plan.months import TODAY
from tests.terrain.made_tiles import SIDE, hgt

BARE = HOME[: HOME.index("horizon:")] + HOME[HOME.index("mount:") :]


def with_terrain(folder: Path, keys: str, partner: str = PARTNER, ridge_m: int = 900, home: str = BARE) -> Path:
    """A season whose home (34.50 S, 55.80 W) has a ridge 19 km to the north on its tile."""
    tiles = folder / "tiles"
    tiles.mkdir(exist_ok=True)
    heights = np.full((SIDE, SIDE), 200)
    heights[394:398] = ridge_m
    hgt(tiles, "S35W056", heights)
    return lay_out(folder, qm7tor=f"{home}horizon: {keys}\n", qf4lum=partner)


def skyline(inputs: Inputs, azimuth_deg: float) -> float:
    return float(np.interp(azimuth_deg, *mask_arrays(inputs.home), period=360.0))


def number(inputs: Inputs) -> str:
    return plan_number(inputs, span_of(inputs, TODAY))


def test_the_ridge_is_the_skyline(tmp_path: Path) -> None:
    inputs = read_inputs(with_terrain(tmp_path, "{terrain: tiles, antenna_height_m: 4}"))
    # 696 m over 19 km less the curve of 4/3 of the Earth, 21 m.
    assert skyline(inputs, 0.0) == pytest.approx(np.degrees(np.arctan(675 / 19_000)), abs=0.1)
    assert skyline(inputs, 180.0) < 0.0
    assert "horizon" not in inputs.home.assumed
    assert inputs.home.terrain is not None
    assert inputs.home.terrain.ground_m == 200.0
    (note,) = inputs.warnings
    assert note.startswith("QM7TOR: no elevation tile covers azimuth ")
    assert "900 m, would show there. Missing: S35W057" in note
    assert note.endswith("write missing_is_sea: true.")


def test_where_the_sea_is_told_nothing_is_missing(tmp_path: Path) -> None:
    assert read_inputs(with_terrain(tmp_path, "{terrain: tiles, missing_is_sea: true}")).warnings == ()


def test_a_survey_wins_where_it_stands(tmp_path: Path) -> None:
    survey = ((355, 9), (5, 7), (90, 3))
    points = [f"{{azimuth_deg: {azimuth}, elevation_deg: {elevation}}}" for azimuth, elevation in survey]
    inputs = read_inputs(with_terrain(tmp_path, f"{{terrain: tiles, points: [{', '.join(points)}]}}"))
    assert [skyline(inputs, azimuth) for azimuth in (355.0, 0.0, 5.0, 90.0)] == pytest.approx([9, 8, 7, 3], abs=0.02)
    assert skyline(inputs, 10.0) == pytest.approx(2.0, abs=0.1)
    assert skyline(inputs, 90.4) == pytest.approx(3.0, abs=0.02)
    assert skyline(inputs, 91.0) < 0.5
    table = "azimuth_deg,elevation_deg\n355,9\n5,7\n90,3\n"
    (tmp_path / "survey.csv").write_text(table, encoding="utf-8")
    other = read_inputs(with_terrain(tmp_path, "{terrain: tiles, file: survey.csv}"))
    assert other.home.horizon == inputs.home.horizon
    assert {"survey.csv", "tiles: S35W056.hgt"} <= set(other.files)


def test_the_plan_number_takes_the_tiles(tmp_path: Path) -> None:
    first = read_inputs(with_terrain(tmp_path, "{terrain: tiles}"))
    again = read_inputs(with_terrain(tmp_path, "{terrain: tiles}"))
    other = read_inputs(with_terrain(tmp_path, "{terrain: tiles}", ridge_m=901))
    assert number(first) == number(again) != number(other)


def test_a_partner_known_by_place_alone_gets_a_skyline_and_a_height(tmp_path: Path) -> None:
    partner = "call: QF4LUM\nposition: {locator: GF25cl}\nhorizon: {terrain: tiles}\n"
    station = read_inputs(with_terrain(tmp_path, "{terrain: tiles}", partner)).partners[0]
    assert station.position.height_m == 200.0
    assert station.position.locator == "GF25cl"
    assert not {"horizon", "position.height_m"} & set(station.assumed)
    assert station.terrain is not None
    assert len(station.horizon) > 10


def test_check_says_what_is_not_in_it(tmp_path: Path) -> None:
    home = swapped(BARE, "height_m: 212", "height_m: 320")
    inputs = read_inputs(with_terrain(tmp_path, "{terrain: tiles}", home=home))
    said = [oddity_words(one) for one in oddities(inputs.home, "3cm", 10368.0, inputs.modes)]
    (line,) = (one for one in said if "terrain" in one)
    assert line.startswith("the skyline comes from terrain: 1 elevation tile, antenna 2 m above the ground at 200 m, ")
    assert "trees and buildings are not in it. It is highest at azimuth" in line
    assert "height_m is 320, but the elevation tiles have 200 m there; is the place right?" in said


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ("{terrain: hills}", "horizon.terrain is 'hills'; there is no such folder or file; elevation tiles (.hgt or"),
        ("{terrain: .}", "horizon.terrain is '.'; it holds no elevation tile;"),
        ("{terain: tiles}", "unknown key 'terain' in horizon; did you mean 'terrain'?"),
        (
            "{points: }",
            "horizon is empty; a list of points, {file: survey.csv} or {terrain: FOLDER} is meant.",
        ),
        ("{terrain: tiles, antenna_height_m: -3}", "a height above the ground in metres is meant, 0 to 200."),
        (
            "{points: [{azimuth_deg: 1, elevation_deg: 2}], missing_is_sea: true}",
            "goes with terrain only; leave it out.",
        ),
        ("{file: a.csv, points: [{azimuth_deg: 1, elevation_deg: 2}]}", "and a survey in a file; keep one of the two."),
    ],
)
def test_faults(tmp_path: Path, keys: str, told: str) -> None:
    fault = only_fault(with_terrain(tmp_path, keys))
    assert told in str(fault)
    assert fault.file == "qm7tor.yaml"
    assert fault.line


def test_every_broken_tile_is_told_and_a_place_that_is_too_vague(tmp_path: Path) -> None:
    partner = "call: QF4LUM\nposition: {locator: GF25}\nhorizon: {terrain: tiles}\n"
    season = with_terrain(tmp_path, "{terrain: tiles}", partner)
    for name in ("S35W057.hgt", "S34W056.hgt"):
        (tmp_path / "tiles" / name).write_bytes(b"cut off")
    vague, west, north = faults_of(season)
    assert "known to 107 km only (locator GF25); a skyline from terrain needs six characters" in str(vague)
    assert "horizon.terrain is 'tiles'; S34W056.hgt: it has 7 bytes; " in str(north)
    assert "S35W057.hgt: it has 7 bytes" in str(west)


def test_readme_prints_what_is_told(tmp_path: Path) -> None:
    inputs = read_inputs(with_terrain(tmp_path, "{terrain: tiles, antenna_height_m: 2}"))
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    (line,) = (oddity_words(one) for one in oddities(inputs.home, "3cm", 10368.0) if "terrain" in oddity_words(one))
    assert f"note: {inputs.warnings[0]}" in readme
    assert line in " ".join(readme.split())


def test_measured_heights_go_into_the_survey_beside_the_terrain(tmp_path: Path) -> None:
    season = with_terrain(tmp_path, "{terrain: tiles, file: survey.csv}")
    (tmp_path / "survey.csv").write_text("azimuth_deg,elevation_deg\n", encoding="utf-8")
    home = read_inputs(season).home
    assert standing_points(home, tmp_path) == []
    new = with_points(home, tmp_path, [SkylinePoint(90.0, 6.0)], "")
    assert (new.path.name, new.text) == ("survey.csv", "azimuth_deg,elevation_deg\n90,6\n")
    words = changes_words(home, [], [SkylinePoint(90.0, 6.0)], {90.0: 6.0}, 10.0)
    assert words[1] == "  azimuth 90: 6.0°, stood at 0.0°"


@pytest.mark.parametrize(
    "keys",
    [
        "{terrain: tiles, antenna_height_m: 4}  # the tiles",
        "{terrain: tiles, points: [{azimuth_deg: 5, elevation_deg: 7}], antenna_height_m: 4}  # the tiles",
        "\n  terrain: tiles  # the tiles\n  antenna_height_m: 4",
        "\n  terrain: tiles  # the tiles\n  points:\n    - {azimuth_deg: 5, elevation_deg: 7}  # the barn\n"
        "  antenna_height_m: 4",
    ],
    ids=["brackets", "points in brackets", "block", "points in a block"],
)
def test_measured_heights_go_beside_the_terrain(keys: str, tmp_path: Path) -> None:
    """They win over their degree, the tiles still tell the rest, and nothing else in the file changes."""
    season = with_terrain(tmp_path, keys)
    before = read_inputs(season).home
    points = merged(standing_points(before, tmp_path), {90.0: 6.0, 200.0: 3.0}, 10.0, over_terrain=True)
    new = with_points(before, tmp_path, points, "")
    old = new.path.read_text("utf-8")
    new.path.write_text(new.text, "utf-8")
    inputs = read_inputs(season)
    assert [skyline(inputs, azimuth) for azimuth in (90.0, 200.0)] == pytest.approx([6.0, 3.0], abs=0.02)
    told = [(5.0, 7.0)] if "azimuth_deg: 5" in keys else []
    assert sorted((one.azimuth_deg, one.elevation_deg) for one in standing_points(inputs.home, tmp_path)) == sorted(
        [*told, (90.0, 6.0), (200.0, 3.0)]
    )
    grid = np.append(np.arange(20.0, 88.0), np.arange(202.0, 350.0))
    lines = [np.interp(grid, *mask_arrays(home), period=360.0) for home in (before, inputs.home)]
    assert np.abs(lines[0] - lines[1]).max() < 0.02
    assert inputs.home.terrain is not None
    assert inputs.home.terrain.antenna_height_m == 4.0
    for words in ("# the tiles", *(["# the barn"] if "barn" in keys else [])):
        assert words in new.text
    others = [line for line in old.splitlines() if "points: [" not in line and "antenna_height_m: 4}" not in line]
    assert [line for line in new.text.splitlines() if line in others] == others
