"""How often rain or cloud costs one end more than so many decibels, at an elevation, by month; and what damp air costs.

From the maps of `radio_sky.weather` and the losses of `link.rain` and `link.cloud`. The cost is the loss on that end's
own part of the path and the warmth that it adds to that end's receiver: what this end no longer hears. Beside the
clear-air figures, never in them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.inputs.model import Station
from pipeline.link.cloud import CLOUD_TEMPERATURE_K, cloud_loss_db
from pipeline.link.rain import shower
from pipeline.radio_sky.weather import Weather, cloud_share, rain_share, weather_at

FloatArray = npt.NDArray[np.float64]

# What is asked: decibels lost.
COSTS_DB = (1.0, 3.0)
# Rates, mm/h, and cloud water, kg/m2, between which the one that costs so much is found.
RATES_MM_PER_H = np.geomspace(0.05, 300.0, 120)
WATERS_KG_PER_M2 = np.geomspace(0.01, 20.0, 120)
# Attenuation of the zenith for 1 kg/m2 of vapour, dB, by frequency in MHz: ITU-R P.676-12, Annex 2, as the package itur
# computes it for a column of 20 kg/m2.
VAPOUR_MHZ = (1296.0, 2320.0, 3400.0, 5760.0, 10368.0, 24048.0, 47088.0)
VAPOUR_DB = (1.1e-5, 3.5e-5, 7.5e-5, 2.2e-4, 8.2e-4, 2.26e-2, 1.28e-2)


@dataclass(frozen=True)
class WeatherOdds:
    """One end: shares of hours in which rain costs more than each of `COSTS_DB`, by month (12, 2), and cloud (2,).

    `damp_db` is what vapour costs beyond the median in the dampest tenth of all hours.
    """

    elevation_deg: float
    rain: FloatArray
    cloud: FloatArray
    damp_db: float

    def lost(self, month: int, cost: int = -1) -> float:
        """Share of a month's hours (1 for January) lost to one of `COSTS_DB`, rain and cloud taken as apart."""
        return float(min(self.rain[month - 1, cost] + self.cloud[cost], 1.0))


def weather_odds(
    station: Station, frequency_mhz: float, elevation_deg: float, system_temperature_k: float
) -> WeatherOdds:
    """The odds at a station whose antenna looks at an elevation, with a receiver that is so warm in clear air."""
    weather = weather_at(station.position.latitude_deg, station.position.longitude_deg)
    rates = _rates(weather, station.position.height_m, frequency_mhz, elevation_deg, system_temperature_k)
    waters = _waters(frequency_mhz, elevation_deg, system_temperature_k)
    height = math.sin(math.radians(max(elevation_deg, 5.0)))
    damp = weather.vapour_tenth_kg_per_m2 - weather.vapour_median_kg_per_m2
    return WeatherOdds(
        elevation_deg=elevation_deg,
        rain=np.array([rain_share(weather, month, rates) for month in range(1, 13)]),
        cloud=cloud_share(weather, waters),
        damp_db=float(np.interp(frequency_mhz, VAPOUR_MHZ, VAPOUR_DB)) * max(damp, 0.0) / height,
    )


def _rates(
    weather: Weather, height_m: float, frequency_mhz: float, elevation_deg: float, system_temperature_k: float
) -> FloatArray:
    """The rain rate that costs each of `COSTS_DB`, mm/h, (2,); one beyond all rates where none does."""
    above_km = max(weather.rain_height_km - height_m / 1000.0, 0.1)
    showers = [shower(frequency_mhz, float(rate), max(elevation_deg, 1.0), above_km) for rate in RATES_MM_PER_H]
    cost = np.array([one.loss_db for one in showers])
    cost += 10.0 * np.log10(1.0 + np.array([one.noise_k for one in showers]) / system_temperature_k)
    return _crossing(cost, RATES_MM_PER_H)


def _waters(frequency_mhz: float, elevation_deg: float, system_temperature_k: float) -> FloatArray:
    """The cloud water that costs each of `COSTS_DB`, kg/m2, (2,)."""
    loss = WATERS_KG_PER_M2 * cloud_loss_db(frequency_mhz, elevation_deg, 1.0)
    warmth = CLOUD_TEMPERATURE_K * (1.0 - 10.0 ** (-loss / 10.0))
    return _crossing(loss + 10.0 * np.log10(1.0 + warmth / system_temperature_k), WATERS_KG_PER_M2)


def _crossing(cost_db: FloatArray, values: FloatArray) -> FloatArray:
    """Where a rising cost reaches each of `COSTS_DB`, between the logarithms of the values; infinite beyond them."""
    found = np.exp(np.interp(COSTS_DB, cost_db, np.log(values), right=np.inf))
    return np.asarray(found)
