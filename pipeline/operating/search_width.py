"""How far from the dial a signal may be heard: the one figure that letter and sheet tell.

What both ends' oscillators may be off + half of what the shift moves in a period in which a dial stands + what it may
be off where places are known by a locator alone + half the dial's own step. Plain sum, so that the signal is inside
unless something is wrong.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd

from pipeline.ephemeris.sky import LIGHT_KM_PER_S
from pipeline.link.doppler import EARTH_SPIN_RAD_PER_S
from pipeline.windows.frames import own_samples

MINUTE = pd.Timedelta("1min")
COARSE_FROM_HZ = 3e9


def dial_step_hz(frequency_hz: float) -> float:
    """What a printed dial is rounded to."""
    return 10.0 if frequency_hz >= COARSE_FROM_HZ else 1.0


def place_hz(uncertainty_km: float, frequency_hz: float) -> float:
    """What the shift may be off where a station is known to this distance: the spin carries it at omega x d more."""
    return EARTH_SPIN_RAD_PER_S * uncertainty_km / LIGHT_KM_PER_S * frequency_hz


def fastest_hz_per_s(samples: pd.DataFrame, call: str, start: dt.datetime, end: dt.datetime) -> float:
    """How fast the shift between home and a partner moves in a slot's fastest minute, by the plan's samples.

    0 without any sample of the partner.
    """
    own = own_samples(samples, call, ("doppler_rate_hz_per_s",))
    if own.empty:
        return 0.0
    first = pd.Timestamp(start)
    minutes = np.arange(0.0, (pd.Timestamp(end) - first) / MINUTE + 1.0)
    at = ((own["time_utc"] - first) / MINUTE).to_numpy(float)
    return float(np.abs(np.interp(minutes, at, own["doppler_rate_hz_per_s"].to_numpy(float))).max())


def search_width_hz(accuracies_hz: float, drift_hz: float, known_to_km: float, partner_mhz: float) -> float:
    """To either side; `accuracies_hz` and `known_to_km` are both ends' together, `drift_hz` the shift's in a period."""
    frequency_hz = partner_mhz * 1e6
    return accuracies_hz + drift_hz / 2 + place_hz(known_to_km, frequency_hz) + dial_step_hz(frequency_hz) / 2
