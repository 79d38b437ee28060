"""How far above a low Moon an antenna hears it best: what the beam's edge loses against the ground that it leaves.

The lift d is least in 12 (d / beamwidth)^2 + 10 log10 T_sys(E + d), cold sky behind the Moon; sending costs 12 (d /
beamwidth)^2, so that the lift is for listening alone.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import numpy.typing as npt

from pipeline.link.antenna import pointing_loss_db
from pipeline.link.constants import MOON_MEAN_DISTANCE_KM
from pipeline.link.noise import system_temperature
from pipeline.link.path_loss import moon_disc_deg
from pipeline.pairs.pattern_met import Antenna, cold_sky
from pipeline.radio_sky.moon_brightness import moon_fit

# A lift that gains less is not worth a thought (judgement).
WORTH_DB = 0.2

FloatArray = npt.NDArray[np.float64]

# In beamwidths: beyond, the Moon is lost faster than any ground.
LIFTS = np.linspace(0.0, 0.6, 25)


def listening_lift(
    antenna: Antenna, atmosphere: str, azimuth_deg: FloatArray, elevation_deg: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The best lift, degrees, and what it gains in signal-to-noise ratio, dB, at aims (n,)."""
    width = antenna.receiver.beam.beamwidth_deg
    lift = LIFTS * width
    azimuth, aim = np.broadcast_arrays(azimuth_deg[:, None], elevation_deg[:, None] + lift)
    cold = cold_sky(antenna, atmosphere, azimuth.ravel(), np.minimum(aim, 90.0).ravel())
    met = dataclasses.replace(
        cold, moon_k=moon_fit(antenna.frequency_mhz)[0], moon_disc_deg=moon_disc_deg(np.array(MOON_MEAN_DISTANCE_KM))
    )
    noise_db = 10.0 * np.log10(system_temperature(antenna.receiver, met).total_k).reshape(aim.shape)
    cost_db = pointing_loss_db(lift, width) + noise_db
    best = np.argmin(cost_db, axis=1)
    return lift[best], cost_db[:, 0] - np.take_along_axis(cost_db, best[:, None], axis=1)[:, 0]
