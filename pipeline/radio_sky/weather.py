"""How often it rains how hard, and how much water clouds and vapour hold, by place: means of the ITU-R maps.

Recommendations ITU-R P.837-7 (Annex 1, rain by month from totals and temperature), P.840-8 (Annex 1, log-normal cloud
water), P.836 (vapour of a column), P.839 (rain height), read from `weather_maps.npz`. Of an average year, never a
forecast.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

Array = npt.NDArray[np.float64]

CELL_DEG = 3.0
DAYS = (31.0, 28.25, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0)
FREEZING_K = 273.15
# P.837-7, equations 1, 2 and 6: mean rate while it rains, mm/h, and the log-normal that rates follow.
RATE_AT_FREEZING, RATE_PER_KELVIN, MOST_RAIN = 0.5874, 0.0883, 0.70
LOG_OFFSET, LOG_DEVIATION = 0.7938, 1.26


@dataclass(frozen=True)
class Weather:
    """What the maps say of one place: totals of rain, mm, and temperature, K, by month (12,); the rest of the year.

    Cloud water is log-normal, its mean and deviation those of the logarithm of kg/m2, while there is any (`cloud_share`
    of the time). Vapour of a column, kg/m2: the median, and what a tenth of all hours exceed.
    """

    rain_total_mm: Array
    temperature_k: Array
    cloud_log_mean: float
    cloud_log_deviation: float
    cloud_share: float
    vapour_median_kg_per_m2: float
    vapour_tenth_kg_per_m2: float
    rain_height_km: float


@lru_cache(maxsize=1)
def _maps() -> dict[str, Array]:
    with (files("pipeline.data") / "weather_maps.npz").open("rb") as file, np.load(file, allow_pickle=False) as table:
        return {name: np.asarray(table[name], dtype=float) for name in table.files}


def weather_at(latitude_deg: float, longitude_deg: float) -> Weather:
    """The maps at a place, straight between the middles of their cells."""
    maps = _maps()

    def at(name: str, unit: float = 1.0) -> Array:
        return _between(maps[name], latitude_deg, longitude_deg) / unit

    return Weather(
        rain_total_mm=at("rain_total_mm"),
        temperature_k=at("temperature_k"),
        cloud_log_mean=float(at("cloud_log_mean_hundredths", 100.0)),
        cloud_log_deviation=float(at("cloud_log_deviation_hundredths", 100.0)),
        cloud_share=float(at("cloud_share_tenths_percent", 1000.0)),
        vapour_median_kg_per_m2=float(at("vapour_median_tenths_kg_per_m2", 10.0)),
        vapour_tenth_kg_per_m2=float(at("vapour_tenth_tenths_kg_per_m2", 10.0)),
        rain_height_km=float(at("rain_height_hundredths_km", 100.0)),
    )


def _between(table: Array, latitude_deg: float, longitude_deg: float) -> Array:
    """A map (..., rows from the south, columns from 180 west) at a place; round the Earth, and level at the poles."""
    rows, columns = table.shape[-2:]
    row = np.clip((latitude_deg + 90.0) / CELL_DEG - 0.5, 0.0, rows - 1.0)
    column = ((longitude_deg + 180.0) / CELL_DEG - 0.5) % columns
    south, west = int(row), int(column)
    north, east = min(south + 1, rows - 1), (west + 1) % columns
    up, right = row - south, column - west
    low = table[..., south, west] * (1.0 - right) + table[..., south, east] * right
    high = table[..., north, west] * (1.0 - right) + table[..., north, east] * right
    return np.asarray(low * (1.0 - up) + high * up)


def rain_share(weather: Weather, month: int, rate_mm_per_h: npt.ArrayLike) -> Array:
    """Share of a month's hours (1 for January) with rain harder than these rates, mm/h, of any shape; P.837-7, Annex 1.

    A rate of nought asks how often it rains at all.
    """
    total, warmth = weather.rain_total_mm[month - 1], weather.temperature_k[month - 1] - FREEZING_K
    hours = 24.0 * DAYS[month - 1]
    rate = RATE_AT_FREEZING * np.exp(RATE_PER_KELVIN * max(warmth, 0.0))
    share = total / (hours * rate)
    if share > MOST_RAIN:
        share, rate = MOST_RAIN, total / (MOST_RAIN * hours)
    if total <= 0.0:
        return np.zeros(np.shape(rate_mm_per_h))
    asked = np.maximum(np.asarray(rate_mm_per_h, dtype=float), 1e-12)
    return np.asarray(share * ndtr(-(np.log(asked) + LOG_OFFSET - np.log(rate)) / LOG_DEVIATION))


def cloud_share(weather: Weather, water_kg_per_m2: npt.ArrayLike) -> Array:
    """Share of the year's hours with more cloud water in the column than this, kg/m2, of any shape; P.840-8."""
    if weather.cloud_share <= 0.0 or weather.cloud_log_deviation <= 0.0:
        return np.zeros(np.shape(water_kg_per_m2))
    asked = np.log(np.maximum(np.asarray(water_kg_per_m2, dtype=float), 1e-12))
    return np.asarray(weather.cloud_share * ndtr(-(asked - weather.cloud_log_mean) / weather.cloud_log_deviation))
