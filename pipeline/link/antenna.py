"""What an antenna's beam takes in and misses: gain, beamwidth, pattern, pointing, horizon, lunar disc.

Side lobes are the average ones of ITU-R F.1245, since noise is an average; the main lobe is a Gaussian. Angles are in
degrees. Everything broadcasts, so one call serves many stations or many instants.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import log_ndtr

from pipeline.link.constants import SPEED_OF_LIGHT_M_S

Array = npt.NDArray[np.float64]

# Half-power width of a Gaussian in standard deviations: 2 sqrt(2 ln 2).
HALF_POWER_IN_SIGMAS = 2.0 * np.sqrt(2.0 * np.log(2.0))
# Solid angle of a Gaussian beam is pi / (4 ln 2) times the square of its half-power width.
GAUSSIAN_SOLID_ANGLE = np.pi / (4.0 * np.log(2.0))
SQUARE_DEGREES_OF_SPHERE = 41_253.0
# A dish that misses by more than its main lobe still has its first side lobes on the Moon (judgement).
SIDE_LOBES_DB = 25.0
# Behind an edge the wave is bent, not gone: a knife edge gives 40 dB at 5 degrees behind an edge 1 km off at 10 GHz
# (ITU-R P.526, from memory).
BEHIND_HILL_DB = 40.0


@dataclass(frozen=True)
class Beam:
    """The four numbers that the noise and loss formulas need of an antenna at one frequency."""

    gain_dbi: float
    beamwidth_deg: float
    diameter_in_wavelengths: float
    array: bool = False


def wavelength_m(frequency_mhz: npt.ArrayLike) -> Array:
    """Wavelength in metres, of any shape."""
    return np.asarray(SPEED_OF_LIGHT_M_S / (np.asarray(frequency_mhz, dtype=float) * 1e6))


def gain_dbi(dish_diameter_m: npt.ArrayLike, efficiency: npt.ArrayLike, frequency_mhz: npt.ArrayLike) -> Array:
    """Gain of a dish, dBi: eta (pi D / lambda)^2 (any antenna handbook, Balanis for one). Shapes broadcast."""
    turns = np.pi * np.asarray(dish_diameter_m, dtype=float) / wavelength_m(frequency_mhz)
    return np.asarray(10.0 * np.log10(np.asarray(efficiency, dtype=float) * turns**2))


def beamwidth_deg(dish_diameter_m: npt.ArrayLike, frequency_mhz: npt.ArrayLike) -> Array:
    """Half-power width of a usual, edge-tapered dish: 70 lambda / D degrees (evenly lit: 58.9). Shapes broadcast."""
    return np.asarray(70.0 * wavelength_m(frequency_mhz) / np.asarray(dish_diameter_m, dtype=float))


def beamwidth_from_gain_deg(gain_dbi: npt.ArrayLike, frequency_mhz: npt.ArrayLike) -> Array:
    """Half-power width where only the gain is known: sqrt(eta 41253 / G), eta 0.65 from 1 GHz, 0.785 below.

    Shapes broadcast.
    """
    share = np.where(np.asarray(frequency_mhz, dtype=float) >= 1000.0, 0.65, 0.785)
    return np.asarray(np.sqrt(share * SQUARE_DEGREES_OF_SPHERE / 10.0 ** (np.asarray(gain_dbi, dtype=float) / 10.0)))


def diameter_in_wavelengths(gain_dbi: npt.ArrayLike) -> Array:
    """D / lambda where only the gain is known: 20 log10(D / lambda) = G - 7.7 dB (ITU-R F.1245). Of any shape."""
    return np.asarray(10.0 ** ((np.asarray(gain_dbi, dtype=float) - 7.7) / 20.0))


def dish_beam(dish_diameter_m: float, efficiency: float, frequency_mhz: float) -> Beam:
    """Beam of a dish known by its diameter and aperture efficiency."""
    return Beam(
        gain_dbi=float(gain_dbi(dish_diameter_m, efficiency, frequency_mhz)),
        beamwidth_deg=float(beamwidth_deg(dish_diameter_m, frequency_mhz)),
        diameter_in_wavelengths=float(dish_diameter_m / wavelength_m(frequency_mhz)),
    )


def gain_beam(gain_dbi: float, frequency_mhz: float, beamwidth_deg: float | None = None) -> Beam:
    """Beam of an antenna known by its gain: below 1 GHz an array of rods, above a dish, by common practice."""
    width = float(beamwidth_from_gain_deg(gain_dbi, frequency_mhz)) if beamwidth_deg is None else beamwidth_deg
    return Beam(gain_dbi, width, float(diameter_in_wavelengths(gain_dbi)), array=frequency_mhz < 1000.0)


def average_side_lobes_dbi(theta_deg: npt.ArrayLike, diameter_in_wavelengths: npt.ArrayLike) -> Array:
    """Average side lobes, dBi, of ITU-R F.1245 (recommends 2 and 3), never below -10 dBi; first plateau included.

    Shapes broadcast.
    """
    diameter_db = np.log10(np.asarray(diameter_in_wavelengths, dtype=float))
    # The floor on the angle only keeps the logarithm finite: the plateau G1 rules there.
    theta = np.maximum(np.asarray(theta_deg, dtype=float), 1e-3)
    large = diameter_db > 2.0
    near = np.where(large, 29.0, 39.0 - 5.0 * diameter_db) - 25.0 * np.log10(theta)
    far = np.where(large, -13.0, -3.0 - 5.0 * diameter_db)
    plateau = 2.0 + 15.0 * diameter_db
    return np.asarray(np.minimum(plateau, np.maximum(np.where(theta < 48.0, near, far), -10.0)))


def pattern_relative_db(
    theta_deg: npt.ArrayLike,
    gain_dbi: npt.ArrayLike,
    beamwidth_deg: npt.ArrayLike,
    diameter_in_wavelengths: npt.ArrayLike,
    array: npt.ArrayLike = False,
) -> Array:
    """Gain at `theta_deg` off the axis against the gain on the axis, dB, 0 or less.

    The larger of a Gaussian main lobe, -12 (theta / HPBW)^2, and the side lobes: those of ITU-R F.1245 for a dish; for
    an array 20 dB below the peak out to 2.5 beamwidths, then -10 dBi (judgement). All arguments broadcast.
    """
    theta = np.abs(np.asarray(theta_deg, dtype=float))
    gain = np.asarray(gain_dbi, dtype=float)
    in_beamwidths = theta / np.asarray(beamwidth_deg, dtype=float)
    dish = average_side_lobes_dbi(theta, diameter_in_wavelengths) - gain
    rods = array_side_lobes_dbi(in_beamwidths, gain) - gain
    side_lobes = np.where(np.asarray(array, dtype=bool), rods, dish)
    return np.asarray(np.maximum(-12.0 * in_beamwidths**2, side_lobes))


def array_side_lobes_dbi(in_beamwidths: npt.ArrayLike, gain_dbi: npt.ArrayLike) -> Array:
    """Side lobes of an array of rods, dBi: 20 dB below the peak to 2.5 beamwidths, then -10 dBi (judgement).

    Shapes broadcast.
    """
    gain = np.asarray(gain_dbi, dtype=float)
    return np.asarray(np.where(np.asarray(in_beamwidths, dtype=float) <= 2.5, gain - 20.0, -10.0))


def side_lobes_dbi(theta_deg: npt.ArrayLike, beam: Beam) -> Array:
    """Average side lobes of a beam, dBi, at angles of any shape off its axis."""
    if beam.array:
        return array_side_lobes_dbi(np.asarray(theta_deg, dtype=float) / beam.beamwidth_deg, beam.gain_dbi)
    return average_side_lobes_dbi(theta_deg, beam.diameter_in_wavelengths)


def pattern_ratio(theta_deg: npt.ArrayLike, beam: Beam) -> Array:
    """The same pattern of one beam as a power ratio G(theta) / G(0). Of any shape."""
    relative_db = pattern_relative_db(
        theta_deg, beam.gain_dbi, beam.beamwidth_deg, beam.diameter_in_wavelengths, beam.array
    )
    return np.asarray(10.0 ** (relative_db / 10.0))


def pointing_loss_db(error_deg: npt.ArrayLike, beamwidth_deg: npt.ArrayLike) -> Array:
    """Loss of one end, dB, by its total two-axis root mean square error: 12 (e / HPBW)^2, at most 25 dB.

    Shapes broadcast.
    """
    ratio = np.asarray(error_deg, dtype=float) / np.asarray(beamwidth_deg, dtype=float)
    return np.asarray(np.minimum(12.0 * ratio**2, SIDE_LOBES_DB))


def obstruction_loss_db(clearance_deg: npt.ArrayLike, beamwidth_deg: npt.ArrayLike) -> Array:
    """Signal lost behind the local horizon, dB; `clearance_deg` is the apparent elevation less the mask's.

    A Gaussian aperture field cut by an edge: -20 log10 Phi(h / s), s = HPBW / 2.355. Grazing costs 6 dB; never more
    than 40 dB. Shapes broadcast.
    """
    edge = np.asarray(clearance_deg, dtype=float) * HALF_POWER_IN_SIGMAS / np.asarray(beamwidth_deg, dtype=float)
    return np.asarray(np.minimum(-20.0 / np.log(10.0) * log_ndtr(edge), BEHIND_HILL_DB))


def disc_share(disc_deg: npt.ArrayLike, beamwidth_deg: npt.ArrayLike) -> Array:
    """Share of a Gaussian beam that a disc of that diameter, centred in it, fills: 1 - 2^-(d / HPBW)^2.

    Shapes broadcast.
    """
    ratio = np.asarray(disc_deg, dtype=float) / np.asarray(beamwidth_deg, dtype=float)
    return np.asarray(-np.expm1(-np.log(2.0) * ratio**2))


def main_beam_share(
    beamwidth_deg: npt.ArrayLike, gain_dbi: npt.ArrayLike, spillover_fraction: npt.ArrayLike = 0.0
) -> Array:
    """Share of the antenna's reception that comes through the main beam: its solid angle times G / 4 pi.

    At most what the spill-over leaves. Shapes broadcast.
    """
    solid_angle = GAUSSIAN_SOLID_ANGLE * np.radians(np.asarray(beamwidth_deg, dtype=float)) ** 2
    share = solid_angle * 10.0 ** (np.asarray(gain_dbi, dtype=float) / 10.0) / (4.0 * np.pi)
    return np.asarray(np.minimum(1.0 - np.asarray(spillover_fraction, dtype=float), share))


def narrow_beam_loss_db(
    disc_deg: npt.ArrayLike,
    beamwidth_a_deg: npt.ArrayLike,
    beamwidth_b_deg: npt.ArrayLike,
    lit_share: npt.ArrayLike,
) -> Array:
    """Echo that beams narrower than the lit part of the Moon miss, dB: -10 log10[(1 - e^-x) / x].

    x = ln 2 d^2 (1 / HPBW_A^2 + 1 / HPBW_B^2), d the lit part of the disc in degrees: the disc times `lit_share`, which
    is the echo's half-power width over its limb-to-limb width. Shapes broadcast.
    """
    lit_deg = np.asarray(disc_deg, dtype=float) * np.asarray(lit_share, dtype=float)
    widths = 1.0 / np.asarray(beamwidth_a_deg, dtype=float) ** 2 + 1.0 / np.asarray(beamwidth_b_deg, dtype=float) ** 2
    # The smallest double keeps 0 / 0 away where there is no disc.
    x = np.maximum(np.log(2.0) * lit_deg**2 * widths, np.finfo(float).tiny)
    return np.asarray(-10.0 * np.log10(-np.expm1(-x) / x))
