"""Rain against Recommendation ITU-R P.838-3 as the package itur carries it, and against its own printed table."""

from __future__ import annotations

import warnings
from collections.abc import Callable

import pytest

from pipeline.link.rain import shower, specific_attenuation_db_per_km


@pytest.mark.parametrize(
    ("ghz", "rain", "tilt", "expected"),
    [
        # ITU-R P.838-3 table 5 at 10 GHz: k_H 0.01217, alpha_H 1.2571, k_V 0.01129, alpha_V 1.2156.
        (10.0, 1.0, 0.0, 0.01217),
        (10.0, 25.0, 0.0, 0.01217 * 25**1.2571),
        (10.0, 25.0, 90.0, 0.01129 * 25**1.2156),
        # 20 GHz: k_H 0.09164, alpha_H 1.0568. 50 GHz: k_H 0.6600, alpha_H 0.8084.
        (20.0, 10.0, 0.0, 0.09164 * 10**1.0568),
        (50.0, 10.0, 0.0, 0.6600 * 10**0.8084),
    ],
)
def test_printed_coefficients(ghz: float, rain: float, tilt: float, expected: float) -> None:
    assert specific_attenuation_db_per_km(ghz * 1000.0, rain, 0.0, tilt) == pytest.approx(expected, rel=2e-3)


def test_against_itur(outside: Callable[..., None]) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        itu838 = pytest.importorskip("itur.models.itu838")
        cases = [
            (f, r, e) for f in (1.296, 5.76, 10.368, 24.048, 47.088) for r in (1.0, 5.0, 25.0, 50.0) for e in (5, 30)
        ]
        theirs = [float(itu838.rain_specific_attenuation(r, f, e, 45.0).value) for f, r, e in cases]
    ours = [specific_attenuation_db_per_km(f * 1000.0, r, e) for f, r, e in cases]
    worst = max(abs(a / b - 1.0) for a, b in zip(ours, theirs, strict=True))
    assert worst < 1e-14  # the rounding of sixteen digits
    outside("itur, ITU-R P.838", len(cases), f"{100 * worst:.1g} %", "rain rates")


def test_a_shower_grows_with_rain_and_falls_with_elevation() -> None:
    light, heavy = shower(10368.0, 5.0), shower(10368.0, 25.0)
    assert 0.5 < light.loss_db < 1.2
    assert heavy.loss_db > 5 * light.loss_db
    assert shower(10368.0, 5.0, 60.0).loss_db < light.loss_db
    assert 0.0 < light.noise_k < heavy.noise_k < 275.0
