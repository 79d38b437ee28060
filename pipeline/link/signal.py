"""What each end hears of the other: signal-to-noise ratio in 2500 Hz, and the margin that a mode leaves of it.

The link equation in decibels, term by term (any radio handbook); the spread's loss is a rule of thumb for combining
cells without their phase.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.link.constants import REPORT_BANDWIDTH_HZ
from pipeline.link.noise import noise_power_dbw

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class PathTerms:
    """Gains and losses of one way, dB, each (n,) or a number; the correction is what logs have taught of its ends."""

    path_loss_db: npt.ArrayLike
    gains_dbi: npt.ArrayLike
    air_db: npt.ArrayLike
    pointing_db: npt.ArrayLike
    obstruction_db: npt.ArrayLike
    narrow_beam_db: npt.ArrayLike
    polarization_db: npt.ArrayLike
    ground_gain_db: npt.ArrayLike = 0.0
    correction_db: npt.ArrayLike = 0.0

    @property
    def total_db(self) -> Array:
        """Received over transmitted power, dB (negative), of the common shape of the terms."""
        losses = (
            self.path_loss_db,
            self.air_db,
            self.pointing_db,
            self.obstruction_db,
            self.narrow_beam_db,
            self.polarization_db,
        )
        gains = (self.gains_dbi, self.ground_gain_db, self.correction_db)
        return np.asarray(_sum(gains) - _sum(losses))


def _sum(terms: Iterable[npt.ArrayLike]) -> Array:
    return np.asarray(np.sum(np.broadcast_arrays(*terms), axis=0), dtype=float)


def snr_db(
    power_w: float, path: PathTerms, loss_before_preamplifier_db: float, system_temperature_k: npt.ArrayLike
) -> Array:
    """Signal-to-noise ratio in 2500 Hz at the receiver, behind its loss ahead of the preamplifier.

    Shapes of the path's terms and the temperature broadcast.
    """
    signal = 10.0 * np.log10(power_w) + path.total_db - loss_before_preamplifier_db
    return np.asarray(signal - noise_power_dbw(system_temperature_k, REPORT_BANDWIDTH_HZ))


def spread_loss_db(half_power_width_hz: npt.ArrayLike, tone_spacing_hz: npt.ArrayLike) -> Array:
    """Loss of a mode whose tones stand closer than the echo is wide: 5 log10(1 + b / w); rule of thumb.

    Shapes broadcast.
    """
    ratio = np.asarray(half_power_width_hz, dtype=float) / np.asarray(tone_spacing_hz, dtype=float)
    return np.asarray(5.0 * np.log10(1.0 + ratio))
