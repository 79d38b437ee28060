"""Shares of the whole pattern against worked values, a sum over the sphere by brute force, and plain physics."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from pipeline.link import noise
from pipeline.link.antenna import Beam, dish_beam, gain_beam
from pipeline.link.pattern import back_rings, main_rings, meets_side_lobes_deg, part_shares, side_lobes_dbi, side_rings
from pipeline.link.surroundings import Shares, Surroundings, main_beam_met, rest_table, shares_at
from pipeline.pairs.pattern_met import AIR_NODES_DEG
from pipeline.radio_sky.air import air_loss_db
from tests.link.what_is_met import integrated

Skyline = tuple[tuple[float, ...], tuple[float, ...]]
FLAT = ((0.0,), (0.0,))
RIDGE = ((70.0, 90.0, 110.0, 130.0), (0.0, 6.0, 6.0, 0.0))
GAP = ((0.0, 80.0, 95.0, 105.0, 120.0), (8.0, 9.0, 2.0, 2.0, 10.0))
SMALL_DISH, LARGE_DISH, ARRAY = dish_beam(1.5, 0.6, 10368.0), dish_beam(3.0, 0.55, 1296.0), gain_beam(19.0, 222.1, 17.0)
MEGAHERTZ = {SMALL_DISH: 10368.0, LARGE_DISH: 1296.0, ARRAY: 222.1}

thousandth_and_a_bit = 0.0011
two_thousandths = 0.0021


@cache
def around(skyline: Skyline, frequency_mhz: float) -> Surroundings:
    """That skyline under the standard air at sea level."""
    passed = 10.0 ** (-air_loss_db(frequency_mhz, "standard", 0.0, AIR_NODES_DEG) / 10.0)
    return Surroundings(np.array(skyline[0]), np.array(skyline[1]), AIR_NODES_DEG, passed)


def shares(
    beam: Beam,
    spill: float,
    skyline: tuple[tuple[float, ...], tuple[float, ...]],
    azimuth_deg: float,
    elevation_deg: float,
) -> Shares:
    place, parts = around(skyline, MEGAHERTZ[beam]), part_shares(beam, spill)
    return shares_at(rest_table(place, beam, parts), beam, parts, np.array([azimuth_deg]), np.array([elevation_deg]))


@pytest.mark.parametrize(
    ("beam", "spill", "skyline", "elevation_deg", "expected"),
    [
        (SMALL_DISH, 0.06, FLAT, 1, (0.124, 0.274, 0.507, 0.096)),
        (SMALL_DISH, 0.06, FLAT, 10, (0.0524, 0.0631, 0.7442, 0.1403)),
        (SMALL_DISH, 0.06, FLAT, 90, (0.0600, 0.0123, 0.7874, 0.1403)),
        (SMALL_DISH, 0.06, RIDGE, 3, (0.932, 0.004, 0.0, 0.064)),
        (SMALL_DISH, 0.06, RIDGE, 10, (0.0644, 0.0609, 0.7442, 0.1305)),
        (LARGE_DISH, 0.08, FLAT, 1, (0.373, 0.087, 0.408, 0.131)),
        (LARGE_DISH, 0.08, FLAT, 10, (0.0941, 0.0406, 0.6982, 0.1671)),
        (LARGE_DISH, 0.08, FLAT, 90, (0.0800, 0.0085, 0.7250, 0.1865)),
        (LARGE_DISH, 0.08, RIDGE, 10, (0.1497, 0.0347, 0.6708, 0.1448)),
        (ARRAY, 0.1, FLAT, 1, (0.464, 0.013, 0.339, 0.184)),
        (ARRAY, 0.1, FLAT, 10, (0.2245, 0.0122, 0.5675, 0.1958)),
        (ARRAY, 0.1, RIDGE, 10, (0.3527, 0.0072, 0.4455, 0.1946)),
    ],
)
def test_worked_values(
    beam: Beam, spill: float, skyline: Skyline, elevation_deg: float, expected: tuple[float, ...]
) -> None:
    """An integration that was made apart from this code, azimuth 100, sea level: ground to .001, the others .002."""
    found = shares(beam, spill, skyline, 100.0, elevation_deg)
    assert found.ground[0] == pytest.approx(expected[0], abs=thousandth_and_a_bit)
    for share, value in zip((found.air, found.main_open, found.rest_open), expected[1:], strict=True):
        assert share[0] == pytest.approx(value, abs=two_thousandths)


@pytest.mark.parametrize("beam", [SMALL_DISH, LARGE_DISH, ARRAY])
@pytest.mark.parametrize(("skyline", "azimuth_deg"), [(FLAT, 0.0), (RIDGE, 74.0), (GAP, 100.0), (GAP, 84.0)])
@pytest.mark.parametrize("above_deg", [-1.0, 0.4, 3.0, 17.0])
def test_against_a_sum_over_the_sphere(beam: Beam, skyline: Skyline, azimuth_deg: float, above_deg: float) -> None:
    """Two million rays in Cartesian axes: half a kelvin of ground, and 0.02 dB of a 60 K system."""
    place = around(skyline, MEGAHERTZ[beam])
    elevation = max(float(place.skyline_deg(np.array(azimuth_deg))) + above_deg, 0.0)
    found = shares(beam, 0.07, skyline, azimuth_deg, elevation)
    ground, air, main_open, rest_open = integrated(place, beam, 0.07, azimuth_deg, elevation)
    assert found.main_open[0] == pytest.approx(main_open, abs=0.004)
    assert found.rest_open[0] == pytest.approx(rest_open, abs=0.004)
    noise_k = 60.0 + 290.0 * found.ground[0] + 275.0 * found.air[0]
    true_k = 60.0 + 290.0 * ground + 275.0 * air
    assert 10.0 * np.log10(noise_k / true_k) == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("elevation_deg", [0.0, 10.0, 45.0, 90.0])
def test_what_lies_behind_over_flat_ground(elevation_deg: float) -> None:
    """Half a sphere, evenly lit, tilted by the elevation: (90 + E) / 180 of it lies below a flat horizon."""
    beam = dish_beam(2.0, 0.5, 1296.0)
    only_back = Surroundings(np.zeros(1), np.zeros(1), np.array([0.0, 90.0]), np.ones(2))
    table = rest_table(only_back, beam, part_shares(beam, 0.3))
    side_only = rest_table(only_back, beam, part_shares(beam, 0.0))
    parts, aim = part_shares(beam, 0.3), (np.zeros(1), np.array([elevation_deg]))
    both, side = table.met(*aim).ground[0] * (parts.side + parts.back), side_only.met(*aim).ground[0] * parts.side
    assert (both - side) / parts.back == pytest.approx((90.0 + elevation_deg) / 180.0, abs=0.006)


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from([SMALL_DISH, LARGE_DISH, ARRAY]),
    st.sampled_from([FLAT, RIDGE, GAP]),
    st.floats(0.0, 0.2),
    st.floats(0.0, 360.0),
    st.floats(0.0, 90.0),
    st.floats(2.7, 1000.0),
)
def test_in_an_enclosure_of_one_temperature_the_antenna_takes_that(
    beam: Beam,
    skyline: tuple[tuple[float, ...], tuple[float, ...]],
    spill: float,
    azimuth: float,
    elevation: float,
    k: float,
) -> None:
    """Thermodynamics: ground, air, sky and Moon at T give T, whatever pattern and skyline."""
    found = shares(beam, spill, skyline, azimuth, elevation)
    met = noise.Met(found, k, k, moon_k=k, moon_disc_deg=0.5)
    parts = noise.system_temperature(noise.Receiver(beam, 0.0, 0.0, spill), met)
    whole = parts.sky_k + parts.moon_k + parts.ground_k * k / 290.0 + parts.air_k * k / 275.0
    assert whole[0] == pytest.approx(k, rel=1e-9)


@pytest.mark.parametrize("beam", [SMALL_DISH, LARGE_DISH, ARRAY])
def test_rings_stand_for_their_part(beam: Beam) -> None:
    """Each part's shares add up to 1; the side lobes' mean cosine is that of scipy's integral."""

    def density(theta_deg: float) -> float:
        return float(10.0 ** (side_lobes_dbi(theta_deg, beam) / 10.0) * np.sin(np.radians(theta_deg)))

    rings, first = side_rings(beam), meets_side_lobes_deg(beam)
    steps = [first, *(edge for edge in (2.5 * beam.beamwidth_deg, 48.0) if first < edge < 90.0), 90.0]
    whole, cosine = (
        sum(quad(lambda t, f=f: density(t) * f(np.radians(t)), a, b)[0] for a, b in pairwise(steps))
        for f in (lambda _: 1.0, np.cos)
    )
    assert np.cos(np.radians(rings.off_axis_deg)) @ rings.share == pytest.approx(cosine / whole, abs=2e-3)
    for some in (rings, back_rings(), main_rings(beam)):
        assert some.share.sum() == pytest.approx(1.0)
    # Half of a Gaussian beam's power lies within half of its width at half power.
    assert main_rings(beam).share @ (main_rings(beam).off_axis_deg < beam.beamwidth_deg / 2) == pytest.approx(
        0.5, abs=0.05
    )


def test_a_beam_without_side_lobes_keeps_all_but_the_spill_over() -> None:
    wide = gain_beam(6.0, 144.1, 80.0)
    parts = part_shares(wide, 0.1)
    assert (parts.main, parts.side, parts.back) == (0.9, 0.0, 0.1)


def test_ground_in_a_beam_over_a_level_skyline() -> None:
    """The normal integral, by hand from a table: half at the edge, 0.1195 half a beamwidth above it."""
    level = Surroundings(np.zeros(1), np.zeros(1), np.array([0.0, 90.0]), np.ones(2))
    met = main_beam_met(level, 1.0, np.zeros(4), np.array([0.0, 0.5, -0.5, 5.0]))
    np.testing.assert_allclose(met.ground, [0.5, 0.1195, 0.8805, 0], atol=1e-4)
