"""What Sun and Moon should add to the noise, and how far off the dish points when they fall short.

The rise is that of `link.sun_noise`; the pointing is the inverse of the beam's pattern averaged over the disc, with
the rise's own saturation: at a high rise a loss of gain shows in full, at a low one only in part.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np

from pipeline.link.antenna import Beam
from pipeline.link.constants import SUN_DISC_DEG
from pipeline.link.noise import Met, Receiver, system_temperature
from pipeline.link.sun_noise import disc_mean_table, sun_antenna_temperature_k, sun_rise_db, sun_rise_range_db

SHORTFALLS_DB = (0.5, 1.0, 3.0)
# A rise below this drowns in the gain's drift (common practice, no source).
MEASURABLE_DB = 0.1


@dataclass(frozen=True)
class NoiseCheck:
    """Expected rise in dB with its range, and the pointing error behind each shortfall; None where there is none."""

    rise_db: float
    low_db: float
    high_db: float
    off_axis_deg: tuple[float | None, ...]

    @property
    def is_measurable(self) -> bool:
        """Whether a power meter at the receiver can show the rise at all."""
        return self.rise_db >= MEASURABLE_DB


def off_axis_deg(rise_db: float, shortfall_db: float, beam: Beam, disc_deg: float) -> float | None:
    """Degrees off the axis at which a source's rise reads `shortfall_db` less; None where the rise is not so large.

    10^(rise/10) - 1 is the source against the rest; the pattern's mean over the disc scales it.
    """
    ratio = 10.0 ** (rise_db / 10.0) - 1.0
    left = 10.0 ** ((rise_db - shortfall_db) / 10.0) - 1.0
    if left <= 0.0:
        return None
    nodes_deg, mean_db = disc_mean_table(beam, disc_deg)
    wanted_db = mean_db[0] + 10.0 * np.log10(left / ratio)
    if wanted_db < mean_db.min():
        return None
    # The first place where the pattern has fallen this far; it never rises again by more than rounding.
    falling = np.minimum.accumulate(mean_db)
    return float(np.interp(-wanted_db, -falling, nodes_deg))


def _check(rise_db: float, low_db: float, high_db: float, beam: Beam, disc_deg: float) -> NoiseCheck:
    shortfalls = tuple(off_axis_deg(rise_db, short, beam, disc_deg) for short in SHORTFALLS_DB)
    return NoiseCheck(rise_db, low_db, high_db, shortfalls)


def sun_check(
    receiver: Receiver,
    frequency_mhz: float,
    flux_sfu: float,
    flux_uncertainty: float,
    cold_sky: Met,
    air_db: float,
) -> NoiseCheck:
    """From cold sky at the Sun's elevation to the Sun; `air_db` is the air's loss there."""
    cold = system_temperature(receiver, cold_sky).total_k.item()
    sun_k = sun_antenna_temperature_k(flux_sfu, frequency_mhz, receiver.beam, 0.0)
    rise = sun_rise_db(cold, sun_k, receiver.loss_before_preamplifier_db, air_db)
    low, high = sun_rise_range_db(rise, flux_uncertainty)
    return _check(float(rise), float(low), float(high), receiver.beam, SUN_DISC_DEG)


def moon_check(
    receiver: Receiver,
    moon_k: float,
    moon_disc_deg: float,
    cold_sky: Met,
    moon_uncertainty_k: float = 10.0,
) -> NoiseCheck:
    """From cold sky at the Moon's elevation to the Moon; its brightness is known to about 10 K (RATAN-600 fit)."""
    on_moon = dataclasses.replace(cold_sky, moon_k=moon_k, moon_disc_deg=moon_disc_deg)
    hot, cold = (system_temperature(receiver, met).total_k.item() for met in (on_moon, cold_sky))
    rise = 10.0 * np.log10(hot / cold)
    share = moon_uncertainty_k / moon_k
    low, high = sun_rise_range_db(rise, share)
    return _check(float(rise), float(low), float(high), receiver.beam, moon_disc_deg)
