"""The weather of places: ITU-R's own maps as the package itur reads them, and its whole rain method beside ours."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from pipeline.link.rain import shower
from pipeline.radio_sky.weather import DAYS, cloud_share, rain_share, weather_at

# Plains and coasts: a cell of 3 degrees says little of a mountain.
PLACES = [(48.15, 11.6), (60.9, 23.4), (-34.5, -55.8), (35.2, 139.0), (1.3, 103.8), (40.0, -100.0)]


def yearly(lat: float, lon: float, rate: float) -> float:
    """Share of the year's hours with harder rain."""
    weather = weather_at(lat, lon)
    return sum(days * float(rain_share(weather, month, rate)) for month, days in enumerate(DAYS, 1)) / 365.25


@pytest.mark.parametrize(("lat", "lon"), PLACES)
def test_how_often_it_rains_is_the_recommendations(lat: float, lon: float) -> None:
    """ITU-R P.837-7, Annex 1, by the package itur at the place itself; the maps' cells are averaged here."""
    from itur.models import itu837

    theirs = float(itu837.rainfall_probability(lat, lon).value) / 100.0
    assert yearly(lat, lon, 0.0) == pytest.approx(theirs, rel=0.35)


@pytest.mark.parametrize("share", [0.001, 0.003, 0.01])
@pytest.mark.parametrize(("lat", "lon"), PLACES[:4])
def test_hard_rain_is_as_often_as_the_whole_method_has_it(lat: float, lon: float, share: float) -> None:
    """ITU-R P.618-13 (rain attenuation exceeded for a share of the year), by itur: ours within a factor of 2.2."""
    from itur.models import itu618

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for frequency_mhz in (10368.0, 24048.0):
            loss = itu618.rain_attenuation(lat, lon, frequency_mhz / 1000.0, 30.0, hs=0.1, p=100.0 * share, tau=45)
            height = weather_at(lat, lon).rain_height_km - 0.1
            rates = np.geomspace(0.05, 300.0, 200)
            losses = [shower(frequency_mhz, float(rate), 30.0, height).loss_db for rate in rates]
            rate = float(np.exp(np.interp(float(loss.value), losses, np.log(rates))))
            assert 1 / 2.2 < yearly(lat, lon, rate) / share < 2.2


@pytest.mark.parametrize(("lat", "lon"), PLACES)
def test_cloud_water_is_the_recommendations(lat: float, lon: float) -> None:
    """ITU-R P.840-8, log-normal water, by itur at the place itself."""
    from itur.models import itu840

    model = itu840._ITU840_8_()
    here = np.array([[lat]]), np.array([[lon % 360.0]])
    weather = weather_at(lat, lon)
    assert weather.cloud_log_mean == pytest.approx(float(model.M(*here)[0, 0]), abs=0.35)
    assert weather.cloud_log_deviation == pytest.approx(float(model.sigma(*here)[0, 0]), abs=0.15)
    assert weather.cloud_share == pytest.approx(float(model.Pclw(*here)[0, 0]) / 100.0, abs=0.12)
    middle = np.exp(weather.cloud_log_mean)
    assert cloud_share(weather, middle) == pytest.approx(weather.cloud_share / 2.0)


def test_months_differ_as_the_climate_does() -> None:
    """The monsoon of Mumbai (common practice, no source): July pours, January is dry."""
    mumbai = weather_at(19.1, 72.9)
    assert rain_share(mumbai, 7, 5.0) > 20.0 * rain_share(mumbai, 1, 5.0)


def test_shares_fall_with_what_is_asked_and_round_the_date_line() -> None:
    weather = weather_at(-34.5, -55.8)
    for shares in (rain_share(weather, 3, np.array([0.1, 1.0, 10.0])), cloud_share(weather, np.array([0.1, 1.0, 5.0]))):
        assert (np.diff(shares) < 0.0).all()
        assert shares[0] <= 1.0
    east, west = weather_at(10.0, 179.99), weather_at(10.0, -179.99)
    assert east.rain_total_mm == pytest.approx(west.rain_total_mm, rel=0.01)
    assert weather_at(90.0, 0.0).rain_height_km < 3.0


def test_frozen_rain_takes_the_rate_of_the_freezing_point() -> None:
    """P.837-7, equation 1: below nought degrees 0.5874 mm/h."""
    cold = weather_at(68.0, 150.0)
    assert cold.temperature_k[0] < 263.0
    hours = 24.0 * 31.0
    assert rain_share(cold, 1, 0.0) == pytest.approx(cold.rain_total_mm[0] / (hours * 0.5874), rel=1e-6)
