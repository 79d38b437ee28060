"""What the Sun adds to an antenna's noise, through the main lobe or a side lobe, and the check on it before a night.

From the Sun's flux (`pipeline.radio_sky.sun_flux`) and the beam's pattern, averaged over the Sun's disc.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from pipeline.link.antenna import Beam, pattern_ratio, wavelength_m
from pipeline.link.constants import BOLTZMANN_J_K, SFU_W_M2_HZ, SUN_DISC_DEG

Array = npt.NDArray[np.float64]

# Rings of the disc and points on half a ring, for a beam as wide as the disc; narrower beams need more.
RINGS, POINTS = 10, 6


def disc_mean_table(beam: Beam, disc_deg: float = SUN_DISC_DEG) -> tuple[Array, Array]:
    """Separations from the beam's axis, degrees, 0 to 180, and there the mean of G(theta) / G(0) over a disc, dB.

    The nodes are close where the main lobe falls off and wide apart in the far side lobes. Both (n,).
    """
    main = min(2.0 * beam.beamwidth_deg + disc_deg, 179.0)
    near, far = np.linspace(0.0, main, 60, endpoint=False), np.geomspace(main, 180.0, 60)
    narrow = max(1.0, disc_deg / beam.beamwidth_deg)
    mean = np.concatenate(
        [
            _disc_mean(beam, disc_deg, near, int(np.ceil(RINGS * narrow)), int(np.ceil(POINTS * narrow))),
            # Far side lobes hardly change over the disc.
            _disc_mean(beam, disc_deg, far, RINGS, POINTS),
        ]
    )
    return np.concatenate([near, far]), 10.0 * np.log10(mean)


def _disc_mean(beam: Beam, disc_deg: float, separation_deg: Array, rings: int, points: int) -> Array:
    """Mean of the pattern's ratio over the disc by midpoints, in the shape (n,) of the separations."""
    radius = np.radians(disc_deg / 2.0 * (np.arange(rings) + 0.5) / rings)
    # Both halves of a ring are alike.
    turn = np.pi * (np.arange(points) + 0.5) / points
    axis = np.radians(separation_deg)[:, None, None]
    # Haversine of the angle from the axis to each point of the disc: exact, and steady near the axis.
    haversine = (
        np.sin((axis - radius[:, None]) / 2.0) ** 2 + np.sin(axis) * np.sin(radius)[:, None] * np.sin(turn / 2.0) ** 2
    )
    theta_deg = np.degrees(2.0 * np.arcsin(np.sqrt(np.clip(haversine, 0.0, 1.0))))
    by_ring = pattern_ratio(theta_deg, beam).mean(axis=2)
    # A ring's area grows with its radius.
    return np.asarray(by_ring @ radius / radius.sum())


def sun_antenna_temperature_k(
    flux_sfu: npt.ArrayLike, frequency_mhz: float, beam: Beam, separation_deg: npt.ArrayLike
) -> Array:
    """Antenna temperature by the Sun, K, ahead of air and losses, at any separation from the beam's axis.

    T = S A_e / (2 k) times the mean of G(theta) / G(0) over the disc of 0.533 degree, A_e = G lambda^2 / 4 pi; the 2
    is for the one polarization that is received of an unpolarized source. Shapes of flux and separation broadcast.
    """
    nodes_deg, mean_db = disc_mean_table(beam)
    mean = 10.0 ** (np.interp(np.asarray(separation_deg, dtype=float), nodes_deg, mean_db) / 10.0)
    aperture_m2 = 10.0 ** (beam.gain_dbi / 10.0) * wavelength_m(frequency_mhz) ** 2 / (4.0 * np.pi)
    flux_w_m2_hz = np.asarray(flux_sfu, dtype=float) * SFU_W_M2_HZ
    return np.asarray(flux_w_m2_hz * aperture_m2 / (2.0 * BOLTZMANN_J_K) * mean)


def sun_rise_db(
    cold_system_k: npt.ArrayLike,
    sun_antenna_k: npt.ArrayLike,
    loss_before_preamplifier_db: npt.ArrayLike = 0.0,
    air_loss_db: npt.ArrayLike = 0.0,
) -> Array:
    """Noise rise from cold sky to the Sun (the Y factor), dB.

    `cold_system_k` is the system temperature on cold sky, behind the loss ahead of the preamplifier; `sun_antenna_k`
    is ahead of it; the air's loss is that at the Sun's elevation. Shapes broadcast.
    """
    cold = np.asarray(cold_system_k, dtype=float)
    loss_db = np.asarray(loss_before_preamplifier_db, dtype=float) + np.asarray(air_loss_db, dtype=float)
    sun = np.asarray(sun_antenna_k, dtype=float) * 10.0 ** (-loss_db / 10.0)
    return np.asarray(10.0 * np.log10((cold + sun) / cold))


def sun_rise_range_db(rise_db: npt.ArrayLike, flux_uncertainty: float, station_db: float = 0.5) -> tuple[Array, Array]:
    """Lower and upper noise rise, dB: flux off by its share, and the ratio of gain to temperature off by `station_db`.

    The two are taken as independent and added in quadrature. Shapes broadcast.
    """
    ratio = 10.0 ** (np.asarray(rise_db, dtype=float) / 10.0) - 1.0
    factor = 10.0 ** (np.hypot(10.0 * np.log10(1.0 + flux_uncertainty), station_db) / 10.0)
    return 10.0 * np.log10(1.0 + ratio / factor), 10.0 * np.log10(1.0 + ratio * factor)
