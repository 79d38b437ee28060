"""Odds of rain and cloud at one end: what costs so much, found again by hand from the losses themselves."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pipeline.link.cloud import cloud_loss_db
from pipeline.link.rain import shower
from pipeline.pairs.weather_odds import COSTS_DB, VAPOUR_DB, VAPOUR_MHZ, weather_odds
from pipeline.radio_sky.weather import cloud_share, rain_share, weather_at
from tests.plan.months import demo_inputs

WARMTH_K = 80.0


def test_rain_and_cloud_that_cost_so_much() -> None:
    home = demo_inputs().home
    weather = weather_at(home.position.latitude_deg, home.position.longitude_deg)
    odds = weather_odds(home, 10368.0, 25.0, WARMTH_K)
    above = weather.rain_height_km - home.position.height_m / 1000.0
    for place, cost in enumerate(COSTS_DB):
        rates = np.arange(0.5, 60.0, 0.05)
        told = [shower(10368.0, float(rate), 25.0, above) for rate in rates]
        lost = [one.loss_db + 10.0 * math.log10(1.0 + one.noise_k / WARMTH_K) for one in told]
        rate = rates[int(np.searchsorted(lost, cost))]
        assert odds.rain[2, place] == pytest.approx(float(rain_share(weather, 3, rate)), rel=0.03)
        waters = np.arange(0.01, 10.0, 0.005)
        losses = waters * cloud_loss_db(10368.0, 25.0, 1.0)
        lost = losses + 10.0 * np.log10(1.0 + 273.15 * (1.0 - 10.0 ** (-losses / 10.0)) / WARMTH_K)
        water = waters[int(np.searchsorted(lost, cost))]
        assert odds.cloud[place] == pytest.approx(float(cloud_share(weather, water)), rel=0.03)


def test_a_lower_moon_and_a_higher_band_meet_more_weather() -> None:
    home = demo_inputs().home
    usual = weather_odds(home, 10368.0, 30.0, WARMTH_K)
    low, high = weather_odds(home, 10368.0, 8.0, WARMTH_K), weather_odds(home, 24048.0, 30.0, 2.0 * WARMTH_K)
    for other in (low, high):
        assert (other.rain > usual.rain).all()
        assert (other.cloud > usual.cloud).all()
        assert other.damp_db > usual.damp_db
    assert (usual.rain[:, 1] < usual.rain[:, 0]).all()
    assert usual.lost(3) == pytest.approx(usual.rain[2, 1] + usual.cloud[1])


def test_damp_air_by_the_recommendation() -> None:
    """ITU-R P.676-12, Annex 2, by the package itur: attenuation of the zenith for a column of 20 kg/m2."""
    from itur.models import itu676

    for frequency, value in zip(VAPOUR_MHZ, VAPOUR_DB, strict=True):
        theirs = float(itu676.zenit_water_vapour_attenuation(48.0, 11.0, 50, frequency / 1000.0, V_t=20.0, h=0.0).value)
        assert value == pytest.approx(theirs / 20.0, rel=0.03)


def test_nothing_costs_so_much_on_long_waves() -> None:
    odds = weather_odds(demo_inputs().home, 432.0, 30.0, 100.0)
    assert odds.cloud.max() < 1e-6
    assert odds.rain.max() < 1e-4
