"""Loss of the way from one station over the Moon to the other, and its distance part.

Computed from the two ranges by the bistatic radar equation (Evans and Hagfors, Radar Astronomy, 1968).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from pipeline.link.constants import MOON_ALBEDO, MOON_RADIUS_KM, REFERENCE_DISTANCE_KM, SPEED_OF_LIGHT_M_S

Array = npt.NDArray[np.float64]


def path_loss_db(
    range_a_km: npt.ArrayLike, range_b_km: npt.ArrayLike, frequency_mhz: npt.ArrayLike, albedo: float = MOON_ALBEDO
) -> Array:
    """Loss between isotropic antennas, dB, positive.

    L = 10 log10[(4 pi)^3 r1^2 r2^2 / (sigma lambda^2)], sigma = albedo pi R^2. Ranges run from each station to the
    Moon's centre; the arguments broadcast against each other and the result has their common shape.
    """
    range_a_m = np.asarray(range_a_km, dtype=float) * 1e3
    range_b_m = np.asarray(range_b_km, dtype=float) * 1e3
    wavelength_m = SPEED_OF_LIGHT_M_S / (np.asarray(frequency_mhz, dtype=float) * 1e6)
    cross_section_m2 = albedo * np.pi * (MOON_RADIUS_KM * 1e3) ** 2
    ratio = (4.0 * np.pi) ** 3 * range_a_m**2 * range_b_m**2 / (cross_section_m2 * wavelength_m**2)
    return np.asarray(10.0 * np.log10(ratio))


def distance_part_db(range_a_km: npt.ArrayLike, range_b_km: npt.ArrayLike) -> Array:
    """Decibels lost against a Moon at 356,400 km from both ends; never below 0. Shapes broadcast."""
    product = np.asarray(range_a_km, dtype=float) * np.asarray(range_b_km, dtype=float)
    return np.asarray(np.maximum(20.0 * np.log10(product / REFERENCE_DISTANCE_KM**2), 0.0))


def moon_disc_deg(range_km: Array) -> Array:
    """Apparent diameter of the Moon, degrees. Of any shape."""
    return np.degrees(2.0 * np.arcsin(MOON_RADIUS_KM / range_km))
