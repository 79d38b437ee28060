"""How far the noise rises from cold sky to warm ground, to the Sun and to the Moon, each with its doubt.

One system temperature over another (radiometer sum, Kraus, Radio Astronomy). What table, flux, air and the station's
own figures may be off by is taken as independent and added in quadrature.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from math import ceil

import numpy as np

from pipeline.link.constants import REFERENCE_TEMPERATURE_K
from pipeline.link.noise import Met, Receiver, receiver_temperature_k, system_temperature
from pipeline.link.sun_noise import sun_antenna_temperature_k, sun_rise_db, sun_rise_range_db
from pipeline.pairs.pattern_met import Antenna, cold_sky

# Gain over system temperature of a station known by its figures, dB (judgement).
STATION_DB = 0.5
# The table of the quiet Sun is sure to this share; so is a noise figure in dB, as meters differ (common practice).
SUN_TABLE_SHARE, NOISE_FIGURE_DB = 0.12, 0.2
# Tonight's air against its reference atmosphere, and spill-over and back lobes against the pattern's (judgement).
AIR_SHARE, COLD_GROUND_SHARE = 0.3, 0.3
# Ground by night and by day, and the RATAN-600 fit of the Moon.
GROUND_K, MOON_K = 10.0, 10.0
# So many beamwidths under the skyline the main beam meets nothing but ground, and at least so many degrees.
UNDER_BEAMWIDTHS, UNDER_LEAST_DEG = 2.0, 2.0


@dataclass(frozen=True)
class Rise:
    """A rise over cold sky and by how much it may be off, both dB."""

    rise_db: float
    doubt_db: float

    @property
    def told_doubt_db(self) -> float:
        """In tenths, rounded up: a doubt is never told smaller than it is."""
        return ceil(self.doubt_db * 10.0 - 1e-9) / 10.0


@dataclass(frozen=True)
class GroundAim:
    """Where the whole main beam meets ground: azimuth, and apparent elevation of the aim, degrees."""

    azimuth_deg: float
    elevation_deg: float


def ground_aim(antenna: Antenna) -> GroundAim:
    """Under the highest point of the skyline: there a dish has to look down least."""
    at = int(np.argmax(antenna.skyline_deg))
    under = max(UNDER_BEAMWIDTHS * antenna.receiver.beam.beamwidth_deg, UNDER_LEAST_DEG)
    return GroundAim(antenna.azimuth_deg[at] % 360.0, max(antenna.skyline_deg[at] - under, -90.0))


def ground_rise(antenna: Antenna, atmosphere: str, cold_elevation_deg: float = 90.0) -> Rise:
    """From cold sky, straight up or as high as the mount goes, to warm ground; no aim has to be right for it."""
    receiver, aim = antenna.receiver, ground_aim(antenna)
    hot, cold = (
        system_temperature(receiver, cold_sky(antenna, atmosphere, azimuth, elevation))
        for azimuth, elevation in ((aim.azimuth_deg, aim.elevation_deg), (aim.azimuth_deg + 180.0, cold_elevation_deg))
    )
    hot_k, cold_k = hot.total_k.item(), cold.total_k.item()
    noisier_k = float(receiver_temperature_k(receiver.noise_figure_db + NOISE_FIGURE_DB)) - float(
        receiver_temperature_k(receiver.noise_figure_db)
    )
    others = (
        (hot_k + noisier_k, cold_k + noisier_k),
        (hot_k + hot.ground_k.item() * GROUND_K / REFERENCE_TEMPERATURE_K, cold_k),
        (hot_k, cold_k + COLD_GROUND_SHARE * cold.ground_k.item()),
        (hot_k, cold_k + AIR_SHARE * cold.air_k.item()),
    )
    rise = _decibels(hot_k, cold_k)
    return Rise(rise, float(np.hypot.reduce([_decibels(*other) - rise for other in others])))


def sun_rise(
    receiver: Receiver, frequency_mhz: float, flux_sfu: float, flux_uncertainty: float, met: Met, air_db: float
) -> Rise:
    """From cold sky as high as the Sun, `met`, to the Sun; `air_db` is the air's loss there."""
    cold = system_temperature(receiver, met).total_k.item()
    sun_k = sun_antenna_temperature_k(flux_sfu, frequency_mhz, receiver.beam, 0.0)
    rise = float(sun_rise_db(cold, sun_k, receiver.loss_before_preamplifier_db, air_db))
    table_db = 10.0 * np.log10(1.0 + SUN_TABLE_SHARE)
    return _with_doubt(rise, flux_uncertainty, float(np.hypot(table_db, AIR_SHARE * air_db)))


def moon_rise(receiver: Receiver, moon_k: float, moon_disc_deg: float, met: Met, air_db: float = 0.0) -> Rise:
    """From cold sky as high as the Moon, `met`, to the Moon; its brightness is known to about 10 K."""
    on_moon = dataclasses.replace(met, moon_k=moon_k, moon_disc_deg=moon_disc_deg)
    hot, cold = (system_temperature(receiver, one).total_k.item() for one in (on_moon, met))
    return _with_doubt(_decibels(hot, cold), MOON_K / moon_k, AIR_SHARE * air_db)


def _with_doubt(rise_db: float, share: float, other_db: float) -> Rise:
    low, high = sun_rise_range_db(rise_db, share, float(np.hypot(STATION_DB, other_db)))
    return Rise(rise_db, (float(high) - float(low)) / 2.0)


def _decibels(hot_k: float, cold_k: float) -> float:
    return float(10.0 * np.log10(hot_k / cold_k))
