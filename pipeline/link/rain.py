"""What rain on the way costs: specific attenuation, and the loss and noise of a usual shower at an elevation.

Recommendation ITU-R P.838-3, equations 1 to 5 and its tables 1 to 4. A size to reckon with, never a forecast.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.link.constants import AIR_TEMPERATURE_K

# Rain falls from about this height above a station in mid latitudes (judgement after ITU-R P.839: 2 to 4 km).
RAIN_HEIGHT_KM = 3.0
# A shower is no wider than this: longer slant paths leave it (judgement).
LONGEST_PATH_KM = 10.0

# Sums over a, b, c; then the slope and the constant of each fit, in log10 of GHz.
_LOG_K_HORIZONTAL = (
    (-5.33980, -0.10008, 1.13098), (-0.35351, 1.26970, 0.45400), (-0.23789, 0.86036, 0.15354),
    (-0.94158, 0.64552, 0.16817),
), -0.18961, 0.71147  # fmt: skip
_LOG_K_VERTICAL = (
    (-3.80595, 0.56934, 0.81061), (-3.44965, -0.22911, 0.51059), (-0.39902, 0.73042, 0.11899),
    (0.50167, 1.07319, 0.27195),
), -0.16398, 0.63297  # fmt: skip
_ALPHA_HORIZONTAL = (
    (-0.14318, 1.82442, -0.55187), (0.29591, 0.77564, 0.19822), (0.32177, 0.63773, 0.13164),
    (-5.37610, -0.96230, 1.47828), (16.1721, -3.29980, 3.43990),
), 0.67849, -1.95537  # fmt: skip
_ALPHA_VERTICAL = (
    (-0.07771, 2.33840, -0.76284), (0.56727, 0.95545, 0.54039), (-0.20238, 1.14520, 0.26809),
    (-48.2991, 0.791669, 0.116226), (48.5833, 0.791459, 0.116479),
), -0.053739, 0.83433  # fmt: skip


@dataclass(frozen=True)
class Shower:
    """One rain rate on one slant path: loss one way in dB, and what it adds to the noise of a receiver in K."""

    rain_mm_per_h: float
    loss_db: float
    noise_k: float


def specific_attenuation_db_per_km(
    frequency_mhz: float, rain_mm_per_h: float, elevation_deg: float = 30.0, tilt_deg: float = 45.0
) -> float:
    """Loss a kilometre, dB, for a linear polarization tilted from the horizontal (45 degrees: circular, or unknown).

    ITU-R P.838-3; the fits hold from 1 to 1000 GHz, below 1 GHz rain costs nothing that matters.
    """
    x = float(np.log10(max(frequency_mhz, 1000.0) / 1000.0))
    k_h, k_v = 10.0 ** _fit(_LOG_K_HORIZONTAL, x), 10.0 ** _fit(_LOG_K_VERTICAL, x)
    alpha_h, alpha_v = _fit(_ALPHA_HORIZONTAL, x), _fit(_ALPHA_VERTICAL, x)
    turn = np.cos(np.radians(elevation_deg)) ** 2 * np.cos(np.radians(2.0 * tilt_deg))
    k = (k_h + k_v + (k_h - k_v) * turn) / 2.0
    alpha = (k_h * alpha_h + k_v * alpha_v + (k_h * alpha_h - k_v * alpha_v) * turn) / (2.0 * k)
    return float(k * rain_mm_per_h**alpha)


def shower(
    frequency_mhz: float, rain_mm_per_h: float, elevation_deg: float = 20.0, rain_above_km: float = RAIN_HEIGHT_KM
) -> Shower:
    """What a shower costs one end, one way, at an elevation; the noise at 275 K (ITU-R P.618).

    It falls from so far above the station.
    """
    path_km = min(rain_above_km / np.sin(np.radians(elevation_deg)), LONGEST_PATH_KM)
    loss_db = specific_attenuation_db_per_km(frequency_mhz, rain_mm_per_h, elevation_deg) * path_km
    return Shower(rain_mm_per_h, float(loss_db), float(AIR_TEMPERATURE_K * (1.0 - 10.0 ** (-loss_db / 10.0))))


def _fit(table: tuple[tuple[tuple[float, float, float], ...], float, float], x: float) -> float:
    terms, slope, constant = table
    return float(sum(a * np.exp(-(((x - b) / c) ** 2)) for a, b, c in terms) + slope * x + constant)
