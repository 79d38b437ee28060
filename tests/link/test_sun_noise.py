"""Noise from the Sun against worked examples of the literature's formulas."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.link.antenna import dish_beam
from pipeline.link.sun_noise import disc_mean_table, sun_antenna_temperature_k, sun_rise_db, sun_rise_range_db
from tests.link.sun_examples import BY_HAND

two_hundredths_db = 0.02


@pytest.mark.parametrize(
    ("diameter_m", "efficiency", "frequency_mhz", "flux_sfu", "system_k", "rise_db"),
    BY_HAND,
)
def test_worked_noise_rises(
    diameter_m: float, efficiency: float, frequency_mhz: float, flux_sfu: float, system_k: float, rise_db: float
) -> None:
    """dT = S G lambda^2 / (8 pi k L), L = x / (1 - e^-x), x = ln 2 (0.533 / HPBW)^2 (ITU-R S.733 form), by hand."""
    beam = dish_beam(diameter_m, efficiency, frequency_mhz)
    sun_k = sun_antenna_temperature_k(flux_sfu, frequency_mhz, beam, 0.0)
    assert sun_rise_db(system_k, sun_k) == pytest.approx(rise_db, abs=two_hundredths_db)


@pytest.mark.parametrize(("in_beamwidths", "factor"), [(0.25, 1.0218), (0.5, 1.0891), (1.0, 1.3863), (1.5, 1.9747)])
def test_beam_correction(in_beamwidths: float, factor: float) -> None:
    """Uniform disc in a Gaussian beam, exact: x / (1 - e^-x) with x = ln 2 (s / HPBW)^2."""
    beam = dish_beam(3.0, 0.55, 10368)
    _, mean_db = disc_mean_table(beam, disc_deg=in_beamwidths * beam.beamwidth_deg)
    assert 10 ** (-mean_db[0] / 10) == pytest.approx(factor, rel=5e-3)


def test_through_a_side_lobe() -> None:
    """dT = S G(phi) lambda^2 / (8 pi k): 0.36 K for 300 sfu through 7 dBi at 10.368 GHz, by hand; here 4 dBi."""
    beam = dish_beam(3.0, 0.55, 10368)
    side_k = sun_antenna_temperature_k(300, 10368, beam, 10.0)
    assert side_k == pytest.approx(0.36 * 10 ** (-3 / 10), rel=0.02)


def test_every_separation_by_brute_force() -> None:
    """The table of separations against 4,000 random points of the disc, from the main lobe to behind the dish."""
    from pipeline.link.antenna import pattern_ratio

    beam = dish_beam(2.4, 0.6, 10368)
    random = np.random.default_rng(5)
    for separation_deg in (0.0, 0.21, 0.7, 1.3, 3.3, 17.0, 47.9, 120.0, 180.0):
        radius = np.radians(0.2665 * np.sqrt(random.random(4000)))
        turn = 2 * np.pi * random.random(4000)
        s = np.radians(separation_deg)
        cosine = np.cos(s) * np.cos(radius) + np.sin(s) * np.sin(radius) * np.cos(turn)
        mean = pattern_ratio(np.degrees(np.arccos(np.clip(cosine, -1, 1))), beam).mean()
        at_zero = sun_antenna_temperature_k(300, 10368, beam, 0.0) / 10 ** (disc_mean_table(beam)[1][0] / 10)
        expected = mean * at_zero
        assert sun_antenna_temperature_k(300, 10368, beam, separation_deg) == pytest.approx(expected, rel=0.03)


def test_falls_with_separation_and_takes_arrays() -> None:
    beam = dish_beam(1.8, 0.55, 10368)
    kelvins = sun_antenna_temperature_k(300, 10368, beam, np.linspace(0, 180, 500))
    assert kelvins.shape == (500,)
    assert np.all(np.diff(kelvins) <= 1e-9)


def test_losses_and_air_lower_the_rise() -> None:
    plain = sun_rise_db(100.0, 4000.0)
    assert sun_rise_db(100.0, 4000.0, 0.2, 0.3) == pytest.approx(10 * np.log10(1 + 40 * 10**-0.05))
    low, high = sun_rise_range_db(plain, 0.10)
    assert low < plain < high
    assert high - plain == pytest.approx(np.hypot(10 * np.log10(1.1), 0.5), abs=0.03)
