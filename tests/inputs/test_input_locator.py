"""Locators against published pairs of place and locator, and against their own rule (IARU Region 1 VHF handbook)."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.inputs.locator import LocatorError, contains, half_cell_km, locator_of, position_of, uncertainty_km

# gpsd, test of its client helpers: place and six-character locator.
GPSD = [
    (48.86471, 2.37305, "JN18eu"),
    (41.93498, 12.43652, "JN61fw"),
    (39.9771, -75.1685, "FM29jx"),
    (-23.4028, -50.9766, "GG46mo"),
]
# From memory, worked out again by hand from the rule: cells of 20 x 10 and 2 x 1 degrees, 5 x 2.5 minutes,
# 30 x 15 seconds.
BY_RULE = [
    (48.14666, 11.60833, "JN58td"),
    (48.14666, 11.60833, "JN58td25"),
    (-34.91, -56.21166, "GF15vc"),
    (38.92, -77.065, "FM18lw"),
    (-41.28333, 174.745, "RE78ir"),
    (41.714775, -72.727260, "FN31pr"),
    (0.0, 0.0, "JJ00aa"),
    (-90.0, -180.0, "AA00aa"),
    (89.9999, 179.9999, "RR99xx"),
    (90.0, 180.0, "RR99xx"),
]
# Centres by the same rule, to 1e-5 degree.
CENTRES = [
    ("JN58td", 48.14583, 11.62500),
    ("FN31pr", 41.72917, -72.70833),
    ("RE78ir", -41.27083, 174.70833),
    ("JN58", 48.5, 11.0),
    ("JN58td25", 48.14792, 11.60417),
]
rounding = 1e-5


@pytest.mark.parametrize(("latitude", "longitude", "locator"), GPSD + BY_RULE)
def test_place_to_locator(latitude: float, longitude: float, locator: str) -> None:
    assert locator_of(latitude, longitude, len(locator)) == locator
    assert contains(locator, latitude, longitude)


@pytest.mark.parametrize(("locator", "latitude", "longitude"), CENTRES)
def test_locator_to_centre(locator: str, latitude: float, longitude: float) -> None:
    assert position_of(locator) == pytest.approx((latitude, longitude), abs=rounding)
    assert position_of(locator.swapcase()) == position_of(locator)


def test_centre_published_in_another_test_suite() -> None:
    # Perl module Astro::Coord::ECI, test of its Maidenhead conversion: the centre of FM18lv is at 38.896 degrees north.
    assert position_of("FM18lv")[0] == pytest.approx(38.896, abs=5e-4)


def test_ten_characters_part_the_eighth_pair_into_letters() -> None:
    latitude, longitude = position_of("JN58td25aa")
    # The south-west corner of JN58td25 is 48 + 3/24 + 5/240 degrees north; its aa is half of a 24th of 1/240 further.
    assert latitude == pytest.approx(48 + 3 / 24 + 5 / 240 + 1 / 240 / 48, abs=1e-9)
    assert longitude == pytest.approx(10 + 19 / 12 + 2 / 120 + 1 / 120 / 48, abs=1e-9)


def test_half_cell() -> None:
    # A subsquare is 2.5 minutes of latitude high; a minute of arc is a nautical mile, 1.852 km, by its old definition.
    north, east = half_cell_km("JJ00aa")
    assert north == pytest.approx(1.25 * 1.852, rel=1e-3)
    assert east == pytest.approx(2.5 * 1.852, rel=1e-3)
    assert uncertainty_km("JJ00aa") == pytest.approx((north**2 + east**2) ** 0.5)


@settings(derandomize=True, max_examples=150)
@given(st.floats(-90, 90), st.floats(-180, 180), st.sampled_from([2, 4, 6, 8, 10]))
def test_there_and_back(latitude: float, longitude: float, characters: int) -> None:
    locator = locator_of(latitude, longitude, characters)
    assert contains(locator, latitude, longitude)
    assert locator_of(*position_of(locator), characters) == locator


@pytest.mark.parametrize(
    ("locator", "sentence"),
    [
        ("JN5", "a locator has 2, 4, 6, 8 or 10 characters, such as GF25cl"),
        ("", "a locator has 2, 4, 6, 8 or 10 characters, such as GF25cl"),
        ("JN58td25aa00", "a locator has 2, 4, 6, 8 or 10 characters, such as GF25cl"),
        ("SN58td", "character 1 is 'S', where a letter A to R is meant"),
        ("J558td", "character 2 is '5', where a letter A to R is meant"),
        ("JNO8td", "character 3 is 'O', where a digit 0 to 9 is meant"),
        ("JN58ty", "character 6 is 'y', where a letter A to X is meant"),
        ("JN58td2x", "character 8 is 'x', where a digit 0 to 9 is meant"),
    ],
)
def test_wrong_character_is_named(locator: str, sentence: str) -> None:
    with pytest.raises(LocatorError, match=f"^{re.escape(sentence)}$"):
        position_of(locator)
