"""How often weather takes the signal at each end of a season's pairs, month by month, at the Moon's usual height there.

From the survey of the span, whose samples say how high the Moon stands in mutual windows and how warm receivers are.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.inputs.model import Station
from pipeline.pairs.equipment import pair_frequency_mhz
from pipeline.pairs.survey import Progress, make_survey
from pipeline.pairs.weather_odds import COSTS_DB, WeatherOdds, weather_odds
from pipeline.record.inputs import Inputs
from pipeline.windows.beginning import with_beginning
from pipeline.windows.span import Span, plan_number

# From this frequency on weather is part of what makes a weekend good (judgement: the water line at 22 GHz).
MATTERS_FROM_MHZ = 24000.0
USUAL_K = 100.0
# Below that frequency a share of hours at one end from which it is told (judgement: one evening in twenty).
TELLING = 0.05


@dataclass(frozen=True)
class StationWeather:
    """One station at its band's frequency; `usual_k` is its receiver's temperature in clear air."""

    call: str
    band: str
    frequency_mhz: float
    usual_k: float
    odds: WeatherOdds


@dataclass(frozen=True)
class WeatherYear:
    """Home first, then the partners that share a window with it, in the season's order; the others by call."""

    inputs: Inputs
    span: Span
    number: str
    stations: tuple[StationWeather, ...]
    without_window: tuple[str, ...]


@dataclass(frozen=True)
class PairWeather:
    """Shares of a season's hours in which rain or cloud costs over `cost_db` at home, and at the partner."""

    call: str
    cost_db: float
    home: float
    partner: float


def make_weather(inputs: Inputs, span: Span, progress: Progress) -> WeatherYear:
    """The odds of all stations. Raises EphemerisUnavailable where the kernel is missing or does not cover the span."""
    found = make_survey(inputs, span, progress, shifts=False)
    stations = stations_weather(inputs, found.samples)
    seen = {one.call for one in stations}
    without = tuple(one.call for one in inputs.partners if one.call not in seen)
    number = plan_number(with_beginning(inputs, found.period), found.period)
    return WeatherYear(inputs, span, number, stations, without)


def stations_weather(inputs: Inputs, samples: pd.DataFrame) -> tuple[StationWeather, ...]:
    """Home, where there is any window, and every partner with one."""
    calls = samples["partner"].to_numpy()
    every = np.ones(calls.size, dtype=bool)
    ends = [("home", inputs.home, inputs.season.band, every)]
    ends += [("partner", one, band, calls == one.call) for one, band in zip(inputs.partners, inputs.bands, strict=True)]
    return tuple(_station(inputs, samples.loc[end[3]], *end[:3]) for end in ends if end[3].any())


def telling_weather(inputs: Inputs, samples: pd.DataFrame, first: dt.date, last: dt.date) -> tuple[PairWeather, ...]:
    """The pairs whose weather says something, by the smallest of `COSTS_DB`; the season's dates each count alike.

    None from samples without figures of the link.
    """
    if "home_system_temperature_k" not in samples:
        return ()
    months = [(first + dt.timedelta(days=day)).month for day in range((last - first).days + 1)]
    every = stations_weather(inputs, samples)
    shares = [float(np.mean([one.odds.lost(month, 0) for month in months])) for one in every]
    telling = 0.0 if pair_frequency_mhz(inputs, inputs.season.band) >= MATTERS_FROM_MHZ else TELLING
    return tuple(
        PairWeather(one.call, COSTS_DB[0], shares[0], share)
        for one, share in zip(every[1:], shares[1:], strict=True)
        if max(shares[0], share) >= telling
    )


def _station(inputs: Inputs, mine: pd.DataFrame, end: str, station: Station, band: str) -> StationWeather:
    elevation = float((mine[f"{end}_elevation_deg"] + mine[f"{end}_refraction_deg"]).median())
    warmth = float(mine[f"{end}_system_temperature_k"].median())
    usual_k = warmth if np.isfinite(warmth) else USUAL_K
    frequency = pair_frequency_mhz(inputs, band)
    odds = weather_odds(station, frequency, max(elevation, 0.0), usual_k)
    return StationWeather(station.call, band, frequency, usual_k, odds)


def dry_shares(inputs: Inputs, samples: pd.DataFrame) -> dict[str, npt.NDArray[np.float64]] | None:
    """By partner the share of each month's hours, (12,), in which weather leaves both ends their signal.

    None below the frequency from which it matters.
    """
    if pair_frequency_mhz(inputs, inputs.season.band) < MATTERS_FROM_MHZ:
        return None
    found = {
        one.call: np.array([1.0 - one.odds.lost(month) for month in range(1, 13)])
        for one in stations_weather(inputs, samples)
    }
    here = found.get(inputs.home.call, np.ones(12))
    return {call: here * there for call, there in found.items() if call != inputs.home.call}
