"""The Moon's brightness against the RATAN-600 handbook's fit worked by hand and published measurements."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.radio_sky.moon_brightness import coldest_moon_k, moon_fit, moon_temperature_k

# RATAN-600 handbook, page on the Moon's brightness temperature; its fit worked by hand.
# MHz: mean, amplitude, lag in degrees, full, new, warmest, coldest.
FIT = {
    1296: (225.7, 4.5, 45.0, 228.9, 222.5, 230.2, 221.2),
    2304: (220.8, 5.5, 45.0, 224.7, 217.0, 226.3, 215.4),
    5760: (213.4, 9.3, 45.0, 220.0, 206.8, 222.7, 204.1),
    10368: (210.4, 14.3, 44.5, 220.6, 200.2, 224.7, 196.1),
    24048: (208.0, 27.6, 41.2, 228.8, 187.2, 235.7, 180.4),
    47088: (207.1, 45.6, 42.3, 240.8, 173.3, 252.7, 161.5),
}
tenths = 0.3


@pytest.mark.parametrize(("frequency_mhz", "row"), FIT.items())
def test_the_fit(frequency_mhz: int, row: tuple[float, ...]) -> None:
    mean_k, amplitude_k, lag_deg, full_k, new_k, warmest_k, coldest_k = row
    np.testing.assert_allclose(moon_fit(frequency_mhz), (mean_k, amplitude_k, lag_deg), atol=0.3)
    assert moon_temperature_k(frequency_mhz, 0.0) == pytest.approx(full_k, abs=tenths)
    assert moon_temperature_k(frequency_mhz, 180.0) == pytest.approx(new_k, abs=tenths)
    phases = moon_temperature_k(frequency_mhz, np.arange(0.0, 360.0, 0.5))
    assert phases.max() == pytest.approx(warmest_k, abs=tenths)
    assert phases.min() == pytest.approx(coldest_k, abs=tenths)
    assert coldest_moon_k(frequency_mhz) == pytest.approx(coldest_k, abs=tenths)


def test_measurements() -> None:
    """Krotikov and Troitsky at 3.2 cm: 210 to 213 K and 13 to 14 K of phase (from memory); the fit is good to 10 K."""
    mean_k, amplitude_k, _ = moon_fit(29_979.2458 / 3.2)
    assert mean_k == pytest.approx(211.5, abs=10)
    assert amplitude_k == pytest.approx(13.5, abs=2)


def test_long_waves() -> None:
    """225 K beyond 30 cm, the handbook's constant."""
    np.testing.assert_array_equal(moon_fit([50.0, 144.0, 432.0])[0], 225.0)


def test_warmest_after_full_moon() -> None:
    assert moon_temperature_k(10368, 44.5) > moon_temperature_k(10368, 0.0) > moon_temperature_k(10368, -44.5)
