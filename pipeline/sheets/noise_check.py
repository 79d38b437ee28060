"""What Sun and Moon should add to the noise, and how far off the dish points when they fall short.

The rises are those of `pairs.noise_rises`, moved by what was measured of the station before.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.link.antenna import Beam
from pipeline.link.constants import SUN_DISC_DEG
from pipeline.link.noise import Met, Receiver
from pipeline.pairs.noise_rises import FILE_DOUBT_DB, Rise, SunFlux, moon_rise, off_axis_deg, sun_rise

SHORTFALLS_DB = (0.5, 1.0, 3.0)
# A rise below this drowns in the gain's drift (common practice, no source).
MEASURABLE_DB = 0.1


@dataclass(frozen=True)
class Known:
    """What is known of the station beyond its file: decibels of source against system, and their doubt."""

    by_db: float
    doubt_db: float


BY_FILE = Known(0.0, FILE_DOUBT_DB)


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


def _check(rise: Rise, known: Known, beam: Beam, disc_deg: float) -> NoiseCheck:
    middle, (low, high) = rise.moved(known.by_db), rise.within(known.doubt_db, known.by_db)
    shortfalls = tuple(off_axis_deg(middle, short, beam, disc_deg) for short in SHORTFALLS_DB)
    return NoiseCheck(middle, low, high, shortfalls)


def sun_check(
    receiver: Receiver,
    frequency_mhz: float,
    flux: SunFlux,
    cold_sky: Met,
    air_db: float,
    known: Known = BY_FILE,
) -> NoiseCheck:
    """From cold sky at the Sun's elevation to the Sun; `air_db` is the air's loss there."""
    return _check(sun_rise(receiver, frequency_mhz, flux, cold_sky, air_db), known, receiver.beam, SUN_DISC_DEG)


def moon_check(
    receiver: Receiver, moon_k: float, moon_disc_deg: float, cold_sky: Met, known: Known = BY_FILE
) -> NoiseCheck:
    """From cold sky at the Moon's elevation to the Moon."""
    return _check(moon_rise(receiver, moon_k, moon_disc_deg, cold_sky), known, receiver.beam, moon_disc_deg)
