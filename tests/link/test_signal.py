"""The link equation against links worked beforehand by plain arithmetic from the same published constants."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.link.antenna import gain_dbi
from pipeline.link.noise import noise_power_dbw
from pipeline.link.path_loss import path_loss_db
from pipeline.link.signal import PathTerms, snr_db, spread_loss_db
from tests.claims import asserted
from tests.conftest import Outside

MEAN_KM = 384_400.0
bar_db = asserted("signal of a whole link")

# MHz, gains dBi, watts, kelvins, expected SNR in 2500 Hz: bistatic radar equation at mean distance, albedo 0.065.
LINKS = [
    ("3 m own echo", 10_368.0, gain_dbi(3.0, 0.55, 10_368.0) * 2, 50.0, 100.0, -2.30),
    ("3 m to 1.8 m", 10_368.0, gain_dbi(3.0, 0.55, 10_368.0) + gain_dbi(1.8, 0.55, 10_368.0), 50.0, 120.0, -7.53),
    ("1 kW on 2 m", 144.0, 42.0, 1000.0, 350.0, -10.92),
    ("3 m own echo at 23 cm", 1296.0, gain_dbi(3.0, 0.55, 1296.0) * 2, 200.0, 90.0, -13.89),
]


def _bare(frequency_mhz: float, gains_dbi: float) -> PathTerms:
    return PathTerms(path_loss_db(MEAN_KM, MEAN_KM, frequency_mhz), gains_dbi, 0.0, 0.0, 0.0, 0.0, 0.0)


def test_whole_links(outside: Outside) -> None:
    off = [
        abs(float(snr_db(watts, _bare(mhz, float(gains)), 0.0, kelvins)) - expected_db)
        for _, mhz, gains, watts, kelvins, expected_db in LINKS
    ]
    assert max(off) < bar_db
    outside("radar equation by hand", len(LINKS), f"{max(off):.2g} dB", "links")


def test_noise_of_290_kelvin() -> None:
    """k T0 B: -173.975 dBm in 1 Hz, -139.996 dBm in 2500 Hz (k exact, SI 2019)."""
    assert float(noise_power_dbw(290.0, 1.0)) + 30.0 == pytest.approx(-173.975, abs=0.001)
    assert float(noise_power_dbw(290.0, 2500.0)) + 30.0 == pytest.approx(-139.996, abs=0.001)


def test_every_loss_counts_once() -> None:
    """Raising one term by a decibel lowers the signal by exactly one; the loss ahead of the preamplifier too."""
    names = ("path_loss_db", "air_db", "pointing_db", "obstruction_db", "narrow_beam_db", "polarization_db")
    base = dict.fromkeys(names, 1.0)
    plain = float(snr_db(10.0, PathTerms(gains_dbi=80.0, **base), 0.5, 100.0))
    for name in names:
        raised = float(snr_db(10.0, PathTerms(gains_dbi=80.0, **(base | {name: 2.0})), 0.5, 100.0))
        assert raised == pytest.approx(plain - 1.0)
    assert float(snr_db(10.0, PathTerms(gains_dbi=81.0, **base), 0.5, 100.0)) == pytest.approx(plain + 1.0)
    assert float(snr_db(10.0, PathTerms(gains_dbi=80.0, ground_gain_db=1.0, **base), 0.5, 100.0)) == pytest.approx(
        plain + 1
    )
    assert float(snr_db(10.0, PathTerms(gains_dbi=80.0, **base), 1.5, 100.0)) == pytest.approx(plain - 1.0)
    assert float(snr_db(100.0, PathTerms(gains_dbi=80.0, **base), 0.5, 1000.0)) == pytest.approx(plain)


def test_shapes_broadcast() -> None:
    terms = PathTerms(np.array([280.0, 290.0]), 90.0, 0.1, 0.1, np.array([0.0, 6.0]), 0.0, 0.0)
    assert snr_db(50.0, terms, 0.1, np.array([100.0, 200.0])).shape == (2,)


def test_spread_loss() -> None:
    """Rule of thumb for cells added without their phase, no source: 1.5 dB where the echo is as wide as the tones."""
    assert spread_loss_db([0.0, 50.0, 150.0], 50.0) == pytest.approx([0.0, 1.505, 3.010], abs=0.001)
