"""System temperature against worked receivers and one station by hand; the sharing of the degradation."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from pipeline.link import noise
from pipeline.link.antenna import dish_beam
from pipeline.link.path_loss import distance_part_db
from pipeline.link.surroundings import Shares
from tests.link.what_is_met import high_up, shares_by_hand

three_meters = dish_beam(3.0, 0.55, 10368)
two_hundredths_k = 0.02
ZENITH = shares_by_hand(0.04, 0.012, 0.70, 0.248)


@pytest.mark.parametrize(
    ("noise_figure_db", "temperature_k"),
    [(0.3, 20.74), (0.5, 35.39), (0.7, 50.72), (1.0, 75.09), (1.5, 119.64), (2.0, 169.62), (3.0, 288.63)],
)
def test_noise_figures(noise_figure_db: float, temperature_k: float) -> None:
    """Friis's definition worked by hand: Te = 290 (10^(NF / 10) - 1)."""
    assert noise.receiver_temperature_k(noise_figure_db) == pytest.approx(temperature_k, abs=two_hundredths_k)


def test_loss_ahead_of_the_preamplifier() -> None:
    """Friis cascade by hand, ahead of the loss: 290 (L - 1) + L Te; behind it the whole is divided by L."""
    ratio = 10**0.02
    ahead_k = 290 * (ratio - 1) + ratio * 50.72
    assert noise.receiver_temperature_k(0.7, 0.2) * ratio == pytest.approx(ahead_k, abs=two_hundredths_k)


def test_a_station_by_hand() -> None:
    """A 3 m dish (0.675 degree) at 10.368 GHz on a low Moon, each part worked on paper.

    Of the pattern 13 % meet ground, 6 % air, 60 % are main beam on open sky, 21 % the rest on open sky;
    u = 1 - 2^-(0.5179 / 0.675)^2 = 0.3350; loss 0.2 dB: 0.9550; noise figure 0.7 dB.
    """
    receiver = noise.Receiver(three_meters, 0.7, 0.2, 0.05)
    met = noise.Met(
        shares_by_hand(0.13, 0.06, 0.60, 0.21), 2.74, 4.1, moon_k=210.4, moon_disc_deg=0.5179, sun_k=1.0,
        sun_air_loss_db=0.5,
    )  # fmt: skip
    parts = noise.system_temperature(receiver, met)
    u, behind = 0.3350, 0.9550
    assert parts.sky_k == pytest.approx(behind * (2.74 * 0.60 * (1 - u) + 4.1 * 0.21), rel=2e-3)
    assert parts.moon_k == pytest.approx(behind * 0.60 * u * 210.4, rel=2e-3)
    assert parts.sun_k == pytest.approx(behind * 10**-0.05, rel=1e-3)
    assert parts.ground_k == pytest.approx(behind * 290 * 0.13, rel=2e-3)
    assert parts.air_k == pytest.approx(behind * 275 * 0.06, rel=2e-3)
    assert parts.receiver_k == pytest.approx(50.72 + 290 * (1 - behind), abs=0.05)
    assert parts.total_k == pytest.approx(sum(float(parts.part(name)) for name in noise.PARTS))


@pytest.mark.parametrize(
    ("air_loss_db", "emission_k"), [(0.05, 3.15), (0.1, 6.26), (0.25, 15.38), (0.5, 29.91), (1, 56.56), (3, 137.17)]
)
def test_air_emission(air_loss_db: float, emission_k: float) -> None:
    """T = 275 (1 - 10^(-A / 10)) (ITU-R P.618 section 3, from memory), worked by hand."""
    receiver = noise.Receiver(three_meters, 1.0)
    parts = noise.system_temperature(receiver, high_up(receiver, 2.7, air_loss_db))
    assert parts.air_k == pytest.approx(emission_k, abs=0.01)


def test_moon_in_the_beam() -> None:
    """Share of a 3 m beam that the Moon fills: 73.8 K of 220 K, times the main beam's share (by hand)."""
    receiver = noise.Receiver(three_meters, 1.0)
    parts = noise.system_temperature(
        receiver, dataclasses.replace(high_up(receiver, 0.0), moon_k=220.0, moon_disc_deg=0.518)
    )
    assert parts.moon_k == pytest.approx(73.8 * 0.732, rel=6e-3)


def test_shapes_broadcast() -> None:
    parts = noise.system_temperature(
        noise.Receiver(three_meters, 1.0),
        noise.Met(shares_by_hand(), np.full(5, 3.0), 4.0, sun_k=np.zeros(5)),
    )
    assert all(parts.part(name).shape == (5,) for name in noise.PARTS)


def test_first_form_of_degradation_by_hand() -> None:
    """Distance, sky and Sun only: 144 MHz, sky from 200 to 700 K, 10 K of Sun, receiver of 75.09 K, 384,400 km."""
    receiver = noise.Receiver(dish_beam(10.0, 0.6, 144.0), 1.0)
    best = noise.best_system_temperature(receiver, shares_by_hand(), 200.0, 200.0)
    now = noise.system_temperature(receiver, noise.Met(shares_by_hand(), 700.0, 700.0, sun_k=10.0))
    parts = noise.degradation_parts_db(now, best, distance_part_db(384_400, 384_400))
    rise_db = 10 * np.log10(785.09 / 275.09)
    assert parts["distance"] == pytest.approx(40 * np.log10(384_400 / 356_400))
    assert parts["sky"] == pytest.approx(rise_db * 500 / 510, abs=1e-3)
    assert parts["sun"] == pytest.approx(rise_db * 10 / 510, abs=1e-3)
    assert parts["moon"] == parts["ground"] == parts["air"] == 0.0


def test_parts_add_up_to_the_whole() -> None:
    random = np.random.default_rng(3)
    receiver = noise.Receiver(three_meters, 0.8, 0.3, 0.04)
    best = noise.best_system_temperature(receiver, ZENITH, 2.73, 4.1, 196.1)
    ground, air = 0.04 + 0.1 * random.random(200), 0.012 + 0.1 * random.random(200)
    met = noise.Met(
        Shares(ground, air, 0.75 - ground, 0.25 - air, ground), 2.73 + random.random(200), 4.1,
        moon_k=196 + 30 * random.random(200), moon_disc_deg=0.49 + 0.07 * random.random(200),
        sun_k=100 * random.random(200),
    )  # fmt: skip
    now = noise.system_temperature(receiver, met)
    distance_db, excess_db = 2 * random.random(200), random.random(200)
    parts = noise.degradation_parts_db(now, best, distance_db, excess_db)
    whole = distance_db + np.maximum(10 * np.log10(now.total_k / best.total_k), 0) + excess_db
    np.testing.assert_allclose(sum(parts.values()), whole, atol=1e-9)
    assert all(np.all(part >= 0) for part in parts.values())
    assert tuple(parts) == noise.DEGRADATION_PARTS


def test_the_best_case_costs_nothing() -> None:
    receiver = noise.Receiver(three_meters, 0.8, 0.3, 0.04)
    best = noise.best_system_temperature(receiver, ZENITH, 2.73, 4.1, 196.1)
    parts = noise.degradation_parts_db(best, best, 0.0)
    assert sum(float(part) for part in parts.values()) == 0.0


def test_noise_power() -> None:
    """k T0 B at 290 K: -173.975 dBm/Hz, -139.996 dBm in 2500 Hz (by hand); 30 dB less in dBW."""
    assert noise.noise_power_dbw(290.0, 2500.0) == pytest.approx(-169.996, abs=1e-3)
    # 10.368 GHz example: 100 K in 2500 Hz is -174.62 dBW.
    assert noise.noise_power_dbw(100.0, 2500.0) == pytest.approx(-174.62, abs=0.01)
