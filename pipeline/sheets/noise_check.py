"""What Sun and Moon should add to the noise, and how far off the dish points when they fall short.

Rises and doubts are those of `pairs.noise_rises`; the pointing is the inverse of the beam's pattern averaged over the
disc, with the rise's own saturation: at a high rise a loss of gain shows in full, at a low one only in part.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, log10, radians

import numpy as np

from pipeline.inputs.model import Mount
from pipeline.link.antenna import Beam
from pipeline.link.constants import SUN_DISC_DEG
from pipeline.link.noise import Met, Receiver
from pipeline.link.sun_noise import disc_mean_table
from pipeline.pairs.noise_rises import Rise, ground_rise, moon_rise, sun_rise
from pipeline.pairs.pattern_met import Antenna
from pipeline.pairs.source_ratios import Known

SHORTFALLS_DB = (0.5, 1.0, 3.0)
# A smaller rise drowns in the drift of a receiver's gain while the dish is turned (common practice, no source).
MEASURABLE_DB = 0.5
# So near the zenith a swing in azimuth hardly leaves the Sun (judgement).
SWINGS_BELOW_DEG = 75.0


@dataclass(frozen=True)
class NoiseCheck:
    """Expected rise with its doubt in dB, and the pointing error behind each shortfall.

    The error is None where there is none, and where the shortfall lies inside the doubt: it teaches nothing.
    """

    rise_db: float
    doubt_db: float
    off_axis_deg: tuple[float | None, ...]

    @property
    def is_measurable(self) -> bool:
        """Whether a power meter at the receiver can show the rise at all."""
        return self.rise_db >= MEASURABLE_DB

    def is_inside_doubt(self, shortfall_db: float) -> bool:
        """Whether falling short by so much teaches nothing."""
        return shortfall_db <= self.doubt_db


@dataclass(frozen=True)
class Swing:
    """Half of the Sun's power is lost `fall_db` below its peak: so far to each side, in degrees of both dials.

    `azimuth_deg` is None near the zenith.
    """

    fall_db: float
    elevation_deg: float
    azimuth_deg: float | None


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


def sun_swing(rise_db: float, beam: Beam, sun_elevation_deg: float) -> Swing | None:
    """How the noise falls on both sides of the Sun; None where the beam is too wide to swing out of it."""
    fall_db = rise_db - 10.0 * log10((10.0 ** (rise_db / 10.0) + 1.0) / 2.0)
    half_deg = off_axis_deg(rise_db, fall_db, beam, SUN_DISC_DEG)
    if half_deg is None:
        return None
    across = half_deg / cos(radians(sun_elevation_deg)) if sun_elevation_deg < SWINGS_BELOW_DEG else None
    return Swing(fall_db, half_deg, across)


def _check(rise: Rise, beam: Beam, disc_deg: float, known: Known | None) -> NoiseCheck:
    rise = known.of(rise) if known else rise
    shortfalls = tuple(
        None if short <= rise.doubt_db else off_axis_deg(rise.rise_db, short, beam, disc_deg) for short in SHORTFALLS_DB
    )
    return NoiseCheck(rise.rise_db, rise.doubt_db, shortfalls)


def ground_check(antenna: Antenna, atmosphere: str, mount: Mount, known: Known | None = None) -> NoiseCheck:
    """From cold sky as high as the mount goes to warm ground; no pointing error stands behind a shortfall."""
    rise = ground_rise(antenna, atmosphere, min(mount.maximum_elevation_deg, 90.0))
    rise = known.of(rise) if known else rise
    return NoiseCheck(rise.rise_db, rise.doubt_db, (None,) * len(SHORTFALLS_DB))


def sun_check(
    receiver: Receiver,
    frequency_mhz: float,
    flux_sfu: float,
    flux_uncertainty: float,
    cold_sky: Met,
    air_db: float,
    known: Known | None = None,
) -> NoiseCheck:
    """From cold sky at the Sun's elevation to the Sun; `air_db` is the air's loss there, `known` what readings tell."""
    rise = sun_rise(receiver, frequency_mhz, flux_sfu, flux_uncertainty, cold_sky, air_db)
    return _check(rise, receiver.beam, SUN_DISC_DEG, known)


def moon_check(
    receiver: Receiver,
    moon_k: float,
    moon_disc_deg: float,
    cold_sky: Met,
    air_db: float = 0.0,
    known: Known | None = None,
) -> NoiseCheck:
    """From cold sky at the Moon's elevation to the Moon; `air_db` is the air's loss there."""
    return _check(moon_rise(receiver, moon_k, moon_disc_deg, cold_sky, air_db), receiver.beam, moon_disc_deg, known)
