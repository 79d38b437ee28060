"""Solar flux against the thermal disc, and the levels of activity against published floors."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.radio_sky import sun_flux


@pytest.mark.parametrize(("frequency_mhz", "disc_sfu"), [(9400, 224), (10368, 268), (17000, 679), (24048, 1336)])
def test_quiet_sun_is_a_thermal_disc_above_5_ghz(frequency_mhz: float, disc_sfu: float) -> None:
    """Tb = 140077 f_GHz^-2.1 + 10880 K over 0.533 degree (Zirin, Baumert and Hurford 1991; from memory), 15 %.

    The coefficients are of the disc's centre and read over the observed flux above 15 GHz.
    """
    assert sun_flux.quiet_flux_sfu(frequency_mhz) == pytest.approx(disc_sfu, rel=0.15)


def test_quiet_sun_at_3_cm() -> None:
    """Low-activity design value at 10.368 GHz from memory: 280 to 300 sfu, 15 %."""
    assert sun_flux.flux_sfu(10368, "quiet") == pytest.approx(290, rel=0.05)


def test_the_10_7_cm_flux_comes_back_at_its_own_wavelength() -> None:
    """The index is the flux at 2800 MHz; its floor is about 65 and it passes 200 at some maxima (published levels)."""
    for index in (70.0, 120.0, 180.0, 220.0):
        assert sun_flux.flux_sfu(2800.0, index) == pytest.approx(index, rel=0.02)
    assert sun_flux.quiet_flux_sfu(2800.0) == pytest.approx(65, abs=3)


@pytest.mark.parametrize(
    ("frequency_mhz", "low_sfu", "high_sfu"),
    [(245, 20, 30), (1415, 110, 150), (4995, 180, 220), (8800, 290, 340), (15400, 530, 600)],
)
def test_active_sun(frequency_mhz: float, low_sfu: float, high_sfu: float) -> None:
    """High-activity levels of the RSTN frequencies (from memory, 25 %)."""
    flux = sun_flux.flux_sfu(frequency_mhz, "active")
    assert low_sfu * 0.9 <= flux <= high_sfu * 1.1


def test_order_of_activity_and_continuity() -> None:
    frequency_mhz = np.geomspace(50, 50_000, 400)
    quiet, average, active = (sun_flux.flux_sfu(frequency_mhz, word) for word in ("quiet", "average", "active"))
    assert np.all(quiet <= average)
    assert np.all(average <= active)
    assert np.all(np.abs(np.diff(np.log(active))) < 0.08)
    # Without spots the millimetre Sun does not change.
    assert sun_flux.flux_sfu(47088, "active") == pytest.approx(float(sun_flux.flux_sfu(47088, "quiet")))
    # Rayleigh-Jeans disc of 10,923 K over-reads by about 8 % there; arithmetic: 5061 sfu.
    assert sun_flux.quiet_flux_sfu(47088) == pytest.approx(5061 / 1.08, rel=0.15)


def test_words_and_uncertainty() -> None:
    assert sun_flux.f10_7_sfu("average") == 120.0
    assert sun_flux.f10_7_sfu(143) == 143.0
    assert sun_flux.flux_uncertainty("quiet") == pytest.approx(0.10)
    assert sun_flux.flux_uncertainty("active") == pytest.approx(0.25)
    with pytest.raises(KeyError):
        sun_flux.f10_7_sfu("lively")
