"""The skyline from elevation tiles against geometry by hand, and an independent implementation on real relief."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from pipeline.ephemeris.refraction import refraction_deg
from pipeline.terrain.directions import Frame
from pipeline.terrain.skyline import EFFECTIVE_RADIUS_M, Spot, TerrainSkyline, skyline_of
from pipeline.terrain.thinning import thinned
from pipeline.terrain.tiles import TileFaults, find_tiles
from tests.claims import asserted
from tests.terrain.made_tiles import METRES_A_DEGREE, SIDE, geotiff, hgt, hgt_places

DATA = Path(__file__).parent / "data"
RELIEF_CELL_M = 92.4
# Degrees of latitude and longitude at the equator, km: there the cells of a grid in degrees are nearly square (WGS84).
EQUATOR_DEG_M = 110_574.3, 111_319.5
FLAT_M = 1e12
SEA_LEVEL_KM = 6371.0


def looked(folder: Path, spot: Spot) -> TerrainSkyline:
    return skyline_of(spot, find_tiles(folder))


def at(found: TerrainSkyline, azimuth_deg: float) -> float:
    return float(np.interp(azimuth_deg, found.azimuth_deg, found.elevation_deg, period=360.0))


def seen_deg(height_m: float, from_m: float, distance_m: float, radius_km: float) -> float:
    """By hand: elevation of a top over the tangent plane of an Earth of this radius, by the law of cosines."""
    eye, top, turn = radius_km + from_m / 1000.0, radius_km + height_m / 1000.0, distance_m / 1000.0 / radius_km
    away = math.sqrt(eye**2 + top**2 - 2.0 * eye * top * math.cos(turn))
    return math.degrees(math.asin((top**2 - eye**2 - away**2) / (2.0 * eye * away)))


def test_a_wall_with_curvature(tmp_path: Path) -> None:
    # A wall of 600 m along a parallel, 40 km north of an antenna 10 m above a plain of 100 m.
    latitude, _ = hgt_places(45, 7)
    row = round((46.0 - 45.2 - 40_000 / METRES_A_DEGREE) * (SIDE - 1))
    heights = np.full((SIDE, SIDE), 100)
    heights[row - 1 : row + 2] = 600
    hgt(tmp_path, "N45E007", heights)
    found = looked(tmp_path, Spot(45.2, 7.5, 10.0, 100.0))
    away = Geodesic.WGS84.Inverse(45.2, 7.5, float(latitude[row + 1, 0]), 7.5)["s12"]
    assert found.ground_m == 100.0
    assert at(found, 0.0) == pytest.approx(seen_deg(600, 110, away, SEA_LEVEL_KM * 4 / 3), abs=0.003)
    # It hides 0.09 degree less than on a flat Earth, and 0.03 less than without refraction.
    assert math.degrees(math.atan(490 / away)) - at(found, 0.0) == pytest.approx(0.135, abs=0.01)
    assert at(found, 0.0) - seen_deg(600, 110, away, SEA_LEVEL_KM) == pytest.approx(0.045, abs=0.01)
    # To the south is the plain: ten metres above it the horizon dips by sqrt(2h/R).
    assert at(found, 180.0) == pytest.approx(-math.degrees(math.sqrt(20 / EFFECTIVE_RADIUS_M)), abs=0.005)
    assert found.distance_km[0] == pytest.approx(away / 1000.0, abs=0.1)


def test_a_cone(tmp_path: Path) -> None:
    # A cone of 1500 m, slope one in four, its top 12 km east-north-east of a station by the sea.
    line = Geodesic.WGS84.Direct(-20.6, 30.3, 67.0, 12_000)
    latitude, longitude = hgt_places(-21, 30)
    north = (latitude - line["lat2"]) * 110_700
    east = (longitude - line["lon2"]) * METRES_A_DEGREE * math.cos(math.radians(20.6))
    hgt(tmp_path, "S21E030", np.maximum(0.0, 1500.0 - np.hypot(north, east) / 4.0))
    found = looked(tmp_path, Spot(-20.6, 30.3, 2.0, 100.0))
    top = int(np.argmax(found.elevation_deg))
    assert found.azimuth_deg[top] == pytest.approx(67.0, abs=0.5)
    # The grid's nearest point may miss the tip by half a posting: 12 m lower.
    assert found.elevation_deg[top] == pytest.approx(seen_deg(1494, 2, 12_000, SEA_LEVEL_KM * 4 / 3), abs=0.03)
    # A tangent from the cone's flank: by hand, the height along the ray less curvature, greatest over the ray.
    off, ray = math.radians(20.0), np.arange(1000.0, 20_000.0, 10.0)
    sideways = np.hypot(ray - 12_000 * math.cos(off), 12_000 * math.sin(off))
    flank = np.maximum(0.0, 1500.0 - sideways / 4.0)
    by_hand = max(seen_deg(float(h), 2, float(s), SEA_LEVEL_KM * 4 / 3) for h, s in zip(flank, ray, strict=True))
    assert at(found, 87.0) == pytest.approx(by_hand, abs=0.05)
    assert at(found, 47.0) == pytest.approx(by_hand, abs=0.05)


def test_real_relief_against_an_independent_implementation(tmp_path: Path) -> None:
    # Oracle and relief: data/README.md. Its Earth is flat; crests within 700 m are left out, where it interpolates
    # between cells otherwise than bilinearly.
    relief = np.load(DATA / "relief.npz")["height_m"]
    step = RELIEF_CELL_M / EQUATOR_DEG_M[0], RELIEF_CELL_M / EQUATOR_DEG_M[1]
    geotiff(tmp_path / "relief.tif", relief.astype(np.float32), (0.08, 10.0), step)
    tiles = find_tiles(tmp_path)
    rows = list(csv.DictReader((DATA / "horizon_angles.csv").read_text(encoding="utf-8").splitlines()))
    off, places = [], {(int(row["row"]), int(row["column"])) for row in rows}
    for row, column in sorted(places):
        spot = Spot(0.08 - row * step[0], 10.0 + column * step[1], 0.0, RELIEF_CELL_M)
        found = skyline_of(spot, tiles, FLAT_M)
        assert found.ground_m == pytest.approx(relief[row, column], abs=0.01)
        for one in (one for one in rows if (int(one["row"]), int(one["column"])) == (row, column)):
            place, told = int(one["azimuth_deg"]) * 4, float(one["elevation_deg"])
            if found.distance_km[place] > 0.7 and told > 0.0:
                off.append(abs(found.elevation_deg[place] - told))
    assert len(off) > 90
    assert np.percentile(off, 50) < 0.01
    assert max(off) < asserted("skyline from terrain")


def test_azimuth_and_distance_are_those_of_the_geodesic() -> None:
    frame = Frame.at(62.0, -19.0)
    for azimuth, distance in ((10.0, 5_000.0), (123.0, 60_000.0), (271.0, 200_000.0)):
        truth = Geodesic.WGS84.Direct(62.0, -19.0, azimuth, distance)
        latitude, longitude = frame.places(np.array([azimuth]), np.array([distance]))
        miss = Geodesic.WGS84.Inverse(latitude[0], longitude[0], truth["lat2"], truth["lon2"])["s12"]
        assert miss < 1e-3 * distance / 10
        there = np.array([truth["lat2"]]), np.array([truth["lon2"]])
        assert frame.azimuths(*there)[0] == pytest.approx(azimuth, abs=0.01)


def test_the_moon_at_a_level_sea_sets_where_refraction_says(tmp_path: Path) -> None:
    # No double counting: over the sea from 200 m the skyline is the dip on 4/3 of the Earth, less deep than without
    # air, and the Moon's own bending stays whole in its apparent elevation: it sets when it is below the geometric dip.
    hgt(tmp_path, "N00E000", 0)
    found = looked(tmp_path, Spot(0.5, 0.5, 200.0, 100.0))
    dip = -math.degrees(math.sqrt(2 * 200 / EFFECTIVE_RADIUS_M))
    assert found.elevation_deg == pytest.approx(np.full(1440, dip), abs=0.004)
    geometric = -math.degrees(math.acos(SEA_LEVEL_KM / (SEA_LEVEL_KM + 0.2)))
    assert dip - geometric == pytest.approx(0.0608, abs=0.002)
    lifted = dip - float(refraction_deg(dip, 200.0))
    assert lifted < geometric


def test_far_ground_matters_only_as_far_as_it_can(tmp_path: Path) -> None:
    # A plateau of 3000 m two degrees east shows over the sea; behind a near ridge of 400 m its tile is not even read.
    for name in ("N10E020", "N10E021"):
        hgt(tmp_path, name, 0)
    plateau = np.zeros((SIDE, SIDE))
    plateau[:, 600:] = 3000
    hgt(tmp_path, "N10E022", plateau)
    spot = Spot(10.5, 20.5, 2.0, 100.0)
    found = looked(tmp_path, spot)
    away = Geodesic.WGS84.Inverse(10.5, 20.5, 10.5, 22.4997)["s12"]
    assert at(found, 89.8) == pytest.approx(seen_deg(3000, 2, away, SEA_LEVEL_KM * 4 / 3), abs=0.01)
    assert set(found.digests) == {"N10E020.hgt", "N10E021.hgt", "N10E022.hgt"}
    assert found.distance_km[359] == pytest.approx(away / 1000, abs=0.5)

    ridge = np.zeros((SIDE, SIDE))
    ridge[:, 640:644], ridge[:, 556:560], ridge[556:560, :], ridge[640:644, :] = 400, 400, 400, 400
    hgt(tmp_path, "N10E020", ridge)
    (tmp_path / "N10E022.hgt").write_bytes(b"cut off")
    near = looked(tmp_path, spot)
    assert "N10E022.hgt" not in near.digests
    assert near.elevation_deg.min() > 3.0


def test_what_no_tile_covers_is_told(tmp_path: Path) -> None:
    hill = np.zeros((SIDE, SIDE))
    hill[100:110, 100:110] = 300
    hgt(tmp_path, "N45E007", hill)
    found = looked(tmp_path, Spot(45.5, 7.1, 10.0, 100.0))
    # A top of 300 m shows from 10 m at sqrt(2 R h) of both: 13 and 71 km. West of it the tile ends after 8 km.
    reach = (math.sqrt(2 * EFFECTIVE_RADIUS_M * 300) + math.sqrt(2 * EFFECTIVE_RADIUS_M * 10)) / 1000
    assert found.unknown_from_km[270] == pytest.approx(8.0, abs=1.1)
    assert found.unknown_from_km[0] == pytest.approx(56.0, abs=1.1)
    assert found.unknown_from_km[90] == pytest.approx(71.0, abs=1.1)
    assert found.missing[0] == "N45E006"
    assert set(found.missing) >= {"N46E007", "N44E007", "N46E006", "N44E006"}
    assert 71.0 < reach < 85.0
    for south in (44, 45, 46):
        for east in (6, 7, 8):
            if (south, east) != (45, 7):
                hgt(tmp_path, f"N{south}E00{east}", 0)
    assert not np.isfinite(looked(tmp_path, Spot(45.5, 7.5, 10.0, 100.0)).unknown_from_km).any()


def test_holes_hide_nothing_and_are_counted(tmp_path: Path) -> None:
    heights = np.zeros((SIDE, SIDE))
    heights[300:320] = 500
    heights[300:320, 600:] = -32768
    hgt(tmp_path, "N45E007", heights)
    found = looked(tmp_path, Spot(45.5, 7.5, 2.0, 100.0))
    assert at(found, 340.0) > 0.8
    assert at(found, 20.0) < 0.1
    assert found.holes["N45E007.hgt"] == pytest.approx(20 * 601 / SIDE**2)


def test_near_ground_is_left_aside(tmp_path: Path) -> None:
    heights = np.zeros((SIDE, SIDE))
    heights[598:600] = 8
    hgt(tmp_path, "N45E007", heights)
    spots = [Spot(45.5, 7.5, 2.0, within) for within in (50.0, 400.0)]
    bank, none = (at(looked(tmp_path, spot), 0.0) for spot in spots)
    assert bank > 2.0
    assert none < 0.1


def test_across_the_date_line_and_the_poles_edge(tmp_path: Path) -> None:
    wall = np.zeros((SIDE, SIDE))
    wall[:, 100:104] = 700
    hgt(tmp_path, "S17E179", 0)
    hgt(tmp_path, "S17W180", wall)
    found = looked(tmp_path, Spot(-16.5, 179.95, 2.0, 100.0))
    away = Geodesic.WGS84.Inverse(-16.5, 179.95, -16.5, -180 + 100 / 1200)["s12"]
    assert at(found, 90.0) == pytest.approx(seen_deg(700, 2, away, SEA_LEVEL_KM * 4 / 3), abs=0.02)


def test_the_place_itself_must_be_known(tmp_path: Path) -> None:
    hgt(tmp_path, "N45E007", 0)
    with pytest.raises(TileFaults, match="S35W056 is needed"):
        looked(tmp_path, Spot(-34.5, -55.8, 2.0, 100.0))


def test_thinned_skylines_keep_their_shape() -> None:
    azimuth = np.arange(0.0, 360.0, 0.25)
    elevation = 3.0 + 2.0 * np.sin(np.radians(azimuth * 3)) + np.where((azimuth > 90) & (azimuth < 91), 4.0, 0.0)
    some = thinned(azimuth, elevation)
    assert some[0].size < 200
    assert np.abs(np.interp(azimuth, *some) - elevation).max() <= 0.02
