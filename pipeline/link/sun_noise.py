"""What the Sun adds to an antenna's noise, through the main lobe or a side lobe, and the check on it before a night.

From the Sun's flux (`pipeline.radio_sky.sun_flux`) and the beam's pattern, averaged over the Sun's disc.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from pipeline.link.antenna import Beam, pattern_ratio, wavelength_m
from pipeline.link.constants import BOLTZMANN_J_K, SFU_W_M2_HZ, SUN_DISC_DEG
from pipeline.link.pattern import meets_side_lobes_deg

Array = npt.NDArray[np.float64]

# Where the pattern bends, in half-power widths off the axis: the main lobe, then the side lobes, ever wider apart.
BENDS_IN_BEAMWIDTHS = np.array([0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 4.0, 8.0, 16.0])
# Nodes between two bends: within 0.002 dB of three times as many down to beams of 0.08 degree.
NODES = 12


@lru_cache(maxsize=256)
def disc_mean_table(beam: Beam, disc_deg: float = SUN_DISC_DEG) -> tuple[Array, Array]:
    """Separations from the beam's axis, degrees, 0 to 180, and there the mean of G(theta) / G(0) over a disc, dB.

    The nodes are close where the main lobe falls off and wide apart in the far side lobes. Both (n,), not to be written
    to: each beam's table is made once.
    """
    main = min(2.0 * beam.beamwidth_deg + disc_deg, 179.0)
    separation = np.concatenate([np.linspace(0.0, main, 60, endpoint=False), np.geomspace(main, 180.0, 60)])
    mean_db = 10.0 * np.log10(_disc_mean(beam, disc_deg, separation))
    separation.flags.writeable = mean_db.flags.writeable = False
    return separation, mean_db


def _disc_mean(beam: Beam, disc_deg: float, separation_deg: Array) -> Array:
    """Mean of the pattern's ratio over the disc, in the shape (n,) of the separations.

    By rings about the axis, each counted by that part of it that lies in the disc; Gauss nodes between the bends of the
    pattern and of that part, so that a beam as narrow as any asks for no more of them.
    """
    radius, apart = np.radians(disc_deg / 2.0), np.radians(separation_deg)[:, None]
    nearest = np.where(apart < radius, 0.0, apart - radius)
    farthest = np.minimum(apart + radius, np.pi)
    bends = np.append(beam.beamwidth_deg * BENDS_IN_BEAMWIDTHS, meets_side_lobes_deg(beam))
    bends = np.broadcast_to(np.radians(bends), (apart.size, bends.size))
    whole = [np.abs(radius - apart), np.abs(2.0 * np.pi - apart - radius)]
    edges = np.sort(np.clip(np.concatenate([nearest, farthest, *whole, bends], axis=1), nearest, farthest), axis=1)
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    # The part of a ring begins and ends like a square root, which nodes by a sine take in their stride.
    half = np.diff(edges, axis=1)[..., None] / 2.0
    theta = edges[:, :-1, None] + half * (1.0 + np.sin(np.pi / 2.0 * nodes))
    apart = apart[..., None]
    # Haversines, steady near the axis: of half the arc of a ring that lies in the disc.
    inside = np.sin((radius + theta - apart) / 2.0) * np.sin((radius - theta + apart) / 2.0)
    share = np.clip(inside / np.maximum(np.sin(apart) * np.sin(theta), np.finfo(float).tiny), 0.0, 1.0)
    weight = half * weights * np.cos(np.pi / 2.0 * nodes) * np.arcsin(np.sqrt(share)) * np.sin(theta)
    mean = (pattern_ratio(np.degrees(theta), beam) * weight).sum(axis=(1, 2)) / weight.sum(axis=(1, 2))
    return np.asarray(mean)


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
