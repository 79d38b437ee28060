"""Brightness temperature of the Moon's disc by band and phase.

T = T0 + (T0 / M) cos(phi - xi), the fits of the RATAN-600 handbook to published measurements (in the line of Krotikov
and Troitsky): the ground warms slowly, so the disc is warmest some days after full Moon.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

CENTIMETERS_MHZ = 29_979.2458  # speed of light: wavelength in cm times frequency in MHz


def moon_fit(frequency_mhz: npt.ArrayLike) -> tuple[Array, Array, Array]:
    """Mean temperature T0 in K, amplitude T0 / M in K, lag xi in degrees; the shape of the frequency.

    T0 by its cubic up to 30 cm, 225 K beyond; M by its cubic up to 18 cm, where it meets the constant 50 of longer
    waves; the lag in three pieces, 45 degrees beyond 4 cm. Good to about 10 K.
    """
    wave_cm = CENTIMETERS_MHZ / np.asarray(frequency_mhz, dtype=float)
    mean_k = np.where(
        wave_cm <= 30.0, np.polynomial.polynomial.polyval(wave_cm, [206.06, 1.6308, -0.043774, 0.00043042]), 225.0
    )
    ratio = np.where(
        wave_cm <= 18.0, np.polynomial.polynomial.polyval(wave_cm, [1.2207, 5.3788, -0.26528, 0.0064374]), 50.0
    )
    short = 42.745 + 1.042 * np.log(wave_cm)
    middle = np.polynomial.polynomial.polyval(wave_cm, [26.402, 18.625, -6.3123, 0.70462])
    lag_deg = np.where(wave_cm < 1.2, short, np.where(wave_cm <= 4.0, middle, 45.0))
    return np.asarray(mean_k), np.asarray(mean_k / ratio), np.asarray(lag_deg)


def moon_temperature_k(frequency_mhz: npt.ArrayLike, after_full_deg: npt.ArrayLike) -> Array:
    """Mean brightness temperature of the disc, K.

    `after_full_deg` is the Moon's less the Sun's ecliptic longitude less 180 degrees: 0 at full Moon, positive after.
    Shapes broadcast.
    """
    mean_k, amplitude_k, lag_deg = moon_fit(frequency_mhz)
    return np.asarray(mean_k + amplitude_k * np.cos(np.radians(np.asarray(after_full_deg, dtype=float) - lag_deg)))


def coldest_moon_k(frequency_mhz: npt.ArrayLike) -> Array:
    """The disc at the coldest of its phases, K. Of any shape."""
    mean_k, amplitude_k, _ = moon_fit(frequency_mhz)
    return np.asarray(mean_k - amplitude_k)
