"""Landmarks: published geodesics, the surveyor's rule for curvature, and how sure a written place is."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from pipeline.inputs.model import Landmark, Position, Station
from pipeline.sheets.alignment import REFUSED, TO_FIND, TOO_NEAR, align, compass_words
from pipeline.sheets.compass import Declination, declination
from pipeline.sheets.landmarks import Place, decimals, place_by_digits, sight, sight_elevation_deg
from tests.claims import asserted

millimetre = 1e-3
BEAMWIDTH_DEG = 1.12
NO_DECLINATION = Declination(0.0, 0.3, "WMM-2025", 2025, 2030, True, 20_000.0)


def exact(latitude_deg: float, longitude_deg: float, height_m: float | None = None) -> Place:
    return Place(latitude_deg, longitude_deg, height_m, 0.0, 0.0)


@pytest.mark.parametrize(
    ("first", "second", "distance_m", "bearing_deg"),
    [
        # Examples of GeographicLib's documentation (from memory), computed again with pyproj.Geod(ellps="WGS84").inv.
        ((40.6, -73.8), (51.6, -0.5), 5_551_759.400, 51.198883),
        ((-41.32, 174.81), (40.96, -5.50), 19_959_679.267, 161.067670),
    ],
)
def test_published_geodesics(
    first: tuple[float, float], second: tuple[float, float], distance_m: float, bearing_deg: float
) -> None:
    seen = sight(exact(*first), exact(*second))
    assert seen.distance_m == pytest.approx(distance_m, abs=millimetre)
    assert seen.bearing_deg == pytest.approx(bearing_deg, abs=1e-6)
    assert seen.elevation_deg is None


@pytest.mark.parametrize(
    ("first", "second", "distance_km", "bearing_deg"),
    [
        # pyproj.Geod(ellps="WGS84").inv between the centres of locators.
        ((48.14583, 11.62500), (41.72917, -72.70833), 6353.098, 297.686),
        ((48.14583, 11.62500), (-41.27083, 174.70833), 18478.354, 65.817),
    ],
)
def test_between_locators(
    first: tuple[float, float], second: tuple[float, float], distance_km: float, bearing_deg: float
) -> None:
    seen = sight(exact(*first), exact(*second))
    assert seen.distance_m / 1000.0 == pytest.approx(distance_km, abs=0.005)
    assert seen.bearing_deg == pytest.approx(bearing_deg, abs=0.002)


def test_curvature_and_refraction_by_hand() -> None:
    """15 km away and 164 m lower: d^2 / (2 x 7/6 x 6371 km) = 15.135 m more, so atan(-179.135 / 15000) = -0.6842."""
    assert sight_elevation_deg(-164.0, 15_000.0) == pytest.approx(-0.6842, abs=1e-4)


@pytest.mark.parametrize("distance_km", [1.0, 5.0, 20.0])
def test_curvature_by_the_surveyors_rule(distance_km: float) -> None:
    """Curvature less refraction is 0.0675 m times the square of the kilometres (surveying textbooks; from memory)."""
    drop_deg = -sight_elevation_deg(0.0, distance_km * 1000.0)
    by_rule_deg = 57.29578 * 0.0675 * distance_km**2 / (distance_km * 1000.0)
    assert drop_deg == pytest.approx(by_rule_deg, rel=0.01)


@pytest.mark.parametrize(("value", "digits"), [(-34.50121, 5), (12.5, 1), (7.0, 0), (1e-05, 5), (-120.0, 0)])
def test_digits_as_written(value: float, digits: int) -> None:
    assert decimals(value) == digits


def test_digits_say_how_sure_a_place_is() -> None:
    """Half a unit of the second decimal is 0.005 degree: 556 m northward, less eastward by the cosine of latitude."""
    place = place_by_digits(60.12, 20.5)
    assert place.north_m == pytest.approx(556, abs=1)
    assert place.east_m == pytest.approx(556 * 0.4982, abs=1)
    # Six decimals are no better than a hand-held receiver.
    assert place_by_digits(60.123456, 20.5).north_m == 5.0


def test_bearing_is_as_sure_as_both_places() -> None:
    """556 m and 556 m across 10 km to the east: atan(1112 / 10000) = 6.3 degrees."""
    seen = sight(place_by_digits(0.01, 0.0), place_by_digits(0.01, 0.09))
    assert seen.distance_m == pytest.approx(10_019, abs=1)
    assert seen.bearing_uncertainty_deg == pytest.approx(6.33, abs=0.02)


def test_no_bearing_where_both_stand_on_one_spot() -> None:
    here = place_by_digits(10.12345, 20.12345, 5.0)
    seen = sight(here, here)
    assert seen.bearing_uncertainty_deg == 180.0
    assert seen.elevation_deg is None


def station(*landmarks: Landmark, **position: object) -> Station:
    place = {"latitude_deg": -34.50121, "longitude_deg": -55.80342, "height_m": 212.0} | position
    return Station(call="QM7TOR", position=Position(**place), landmarks=landmarks)  # type: ignore[arg-type]


LANTERN = Landmark("lantern", -34.61035, -55.70112, 48.0)


def test_alignment_in_words() -> None:
    rough = Landmark("church", -34.52, -55.81, None)
    given = Landmark("silo", azimuth_deg=231.4)
    found = align(station(LANTERN, rough, given), BEAMWIDTH_DEG, NO_DECLINATION)
    assert [line.azimuth for line in found.lines] == ["142.2°", "196°", "231.4°"]
    assert found.lines[0].note == "within 0.1°"
    assert found.lines[0].distance == "15.3 km"
    # 15.3 km, 164 m lower and 15.8 m by the Earth's curve: -0.67 degree, by hand.
    assert found.lines[0].elevation == "−0.7°"
    assert found.lines[1].note.endswith(TO_FIND)
    assert found.lines[1].elevation == ""
    assert (found.lines[2].note, found.lines[2].distance) == ("as given", "")
    assert found.best == "lantern"


def test_a_place_too_near_for_its_digits_gets_no_bearing() -> None:
    """Two digits of a degree are half a kilometre: at 340 m the tower may stand on any side."""
    near = align(station(Landmark("water tower", -34.50, -55.80, 230.0)), BEAMWIDTH_DEG, NO_DECLINATION)
    assert (near.lines[0].azimuth, near.lines[0].compass, near.lines[0].note) == ("", "", TOO_NEAR)
    assert near.best == ""


def test_a_bearing_known_to_a_quarter_of_the_beam_sets_the_dial() -> None:
    off = sight(place_by_digits(-34.50121, -55.80342), place_by_digits(-34.61035, -55.70112)).bearing_uncertainty_deg
    assert align(station(LANTERN), 4.01 * off, NO_DECLINATION).best == "lantern"
    narrow = align(station(LANTERN), 3.99 * off, NO_DECLINATION)
    assert narrow.best == ""
    assert narrow.lines[0].note.endswith(TO_FIND)


def test_a_locator_is_refused_but_given_bearings_stay() -> None:
    given = Landmark("silo", azimuth_deg=231.4)
    found = align(station(LANTERN, given, locator="GF25cl", uncertainty_km=3.0), BEAMWIDTH_DEG, NO_DECLINATION)
    assert [line.note for line in found.lines] == [REFUSED, "as given"]
    assert found.lines[0].azimuth == ""
    assert found.best == "silo"


def test_no_elevation_from_an_assumed_height() -> None:
    bare = dataclasses.replace(station(LANTERN), assumed=("position.height_m",))
    assert align(bare, BEAMWIDTH_DEG, NO_DECLINATION).lines[0].elevation == ""


@pytest.mark.parametrize(
    ("year", "latitude_deg", "longitude_deg", "east_deg"),
    [
        # Test tables of the WMM2025 and WMM2020 reports at the epoch and 0 km (from memory).
        (2025, 80.0, 0.0, 1.28),
        (2025, 0.0, 120.0, -0.16),
        (2025, -80.0, -120.0, 68.78),
        (2020, 80.0, 0.0, -1.28),
        (2020, 0.0, 120.0, 0.16),
        (2020, -80.0, -120.0, 69.36),
    ],
)
def test_declination_of_the_reports(year: int, latitude_deg: float, longitude_deg: float, east_deg: float) -> None:
    found = declination(latitude_deg, longitude_deg, 0.0, dt.date(year, 1, 1))
    assert found.east_deg == pytest.approx(east_deg, abs=asserted("magnetic declination"))
    assert found.model == f"WMM-{year}"
    assert found.date_is_covered


def test_horizontal_field_and_its_error() -> None:
    """80 N, 0 E at 2025.0: H 6523.2 nT (report, from memory); error sqrt(0.26^2 + (5417 / H)^2) = 0.87 degree."""
    found = declination(80.0, 0.0, 0.0, dt.date(2025, 1, 1))
    assert found.horizontal_nt == pytest.approx(6523.2, abs=0.1)
    assert found.uncertainty_deg == pytest.approx(0.87, abs=0.005)


def test_compass_shows_less_where_it_points_east() -> None:
    assert dataclasses.replace(NO_DECLINATION, east_deg=10.0).magnetic_deg(5.0) == pytest.approx(355.0)
    assert dataclasses.replace(NO_DECLINATION, east_deg=-12.4).magnetic_deg(142.2) == pytest.approx(154.6)


def test_years_beyond_the_model_are_told() -> None:
    inside = declination(-34.5, -55.8, 212.0, dt.date(2029, 12, 31))
    outside = declination(-34.5, -55.8, 212.0, dt.date(2031, 3, 1))
    assert "epoch 2025.0" in compass_words(inside, 2029)
    assert "made for" not in compass_words(inside, 2029)
    assert "made for 2025 to 2029; in 2031 it is less sure" in compass_words(outside, 2031)


def test_no_compass_near_the_magnetic_pole() -> None:
    found = declination(86.0, 140.0, 0.0, dt.date(2027, 3, 1))
    assert "of no use" in compass_words(found, 2027)
    assert align(station(LANTERN), BEAMWIDTH_DEG, found).lines[0].compass == ""
