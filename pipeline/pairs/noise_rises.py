"""What ground, Sun and Moon should add to a station's noise over cold sky, and how strong its own echo should be.

From the receiver and what its pattern meets, by the radiometer's sum; check, sheets, `measure` and review take these.
A rise is hot over cold: 10^(rise / 10) - 1 is the source against the system, which gain and noise scale as decibels.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.inputs.model import Station
from pipeline.link import antenna
from pipeline.link.antenna import Beam
from pipeline.link.constants import REFERENCE_TEMPERATURE_K
from pipeline.link.noise import Met, Receiver, system_temperature
from pipeline.link.path_loss import moon_disc_deg, path_loss_db
from pipeline.link.polarization import polarization_loss
from pipeline.link.signal import PathTerms, snr_db
from pipeline.link.spread import half_power_share
from pipeline.link.sun_noise import disc_mean_table, sun_antenna_temperature_k, sun_rise_db
from pipeline.pairs.equipment import receiver_of
from pipeline.radio_sky.sun_flux import flux_sfu, flux_uncertainty

FloatArray = npt.NDArray[np.float64]

# The Moon's brightness is known to about 10 K (RATAN-600 fit).
MOON_DOUBT_K = 10.0
# Ground fills not quite all of a pattern turned to it, and is not quite at 290 K: a twentieth (judgement).
GROUND_SHARE = 0.05
# Figures of a station's file that nobody measured: gain over temperature (judgement).
FILE_DOUBT_DB = 0.5


@dataclass(frozen=True)
class Rise:
    """An expected rise, dB, and how far the source alone may be off, dB of source against system."""

    rise_db: float
    source_doubt_db: float

    def moved(self, by_db: float) -> float:
        """The rise of a station that is better by so many decibels of source against system."""
        return float(rise_of_db(ratio_of_db(self.rise_db) + by_db))

    def within(self, station_db: float = FILE_DOUBT_DB, by_db: float = 0.0) -> tuple[float, float]:
        """Lower and upper rise, dB: source and station off by their doubts, taken as independent."""
        doubt = float(np.hypot(self.source_doubt_db, station_db))
        return self.moved(by_db - doubt), self.moved(by_db + doubt)


def ratio_of_db(rise_db: npt.ArrayLike) -> FloatArray:
    """Source against system, dB, of rises of any shape; far down where nothing rises."""
    ratio = np.expm1(np.asarray(rise_db, dtype=float) * np.log(10.0) / 10.0)
    return np.asarray(10.0 * np.log10(np.maximum(ratio, 1e-6)))


def rise_of_db(ratio_db: npt.ArrayLike) -> FloatArray:
    """Rises, dB, of source against system in dB, of any shape."""
    return np.asarray(10.0 * np.log10(1.0 + 10.0 ** (np.asarray(ratio_db, dtype=float) / 10.0)))


@dataclass(frozen=True)
class SunFlux:
    """The Sun's flux on a band, solar flux units, and the share by which it may be off."""

    sfu: float
    share: float

    @classmethod
    def at(cls, frequency_mhz: float, activity: str | float) -> SunFlux:
        """By a word of activity or a 10.7 cm flux."""
        return cls(float(flux_sfu(frequency_mhz, activity)), flux_uncertainty(activity))

    @property
    def doubt_db(self) -> float:
        """That share in decibels."""
        return float(10.0 * np.log10(1.0 + self.share))


def cold_system_k(receiver: Receiver, cold_sky: Met) -> float:
    """The whole system on cold sky, K."""
    return float(system_temperature(receiver, cold_sky).total_k.item())


def ground_rise(receiver: Receiver, cold_sky: Met) -> Rise:
    """From cold sky to a pattern full of ground: the receiver is the same, so that noise alone counts and no gain."""
    cold = system_temperature(receiver, cold_sky)
    through = 10.0 ** (-receiver.loss_before_preamplifier_db / 10.0)
    hot = REFERENCE_TEMPERATURE_K * through + receiver.temperature_k
    rise = 10.0 * np.log10(hot / cold.total_k.item())
    return Rise(float(rise), float(10.0 * np.log10(1.0 + GROUND_SHARE)))


def sun_rise(receiver: Receiver, frequency_mhz: float, flux: SunFlux, cold_sky: Met, air_db: float) -> Rise:
    """From cold sky to the Sun on the beam's axis; `air_db` is the air's loss towards it."""
    sun_k = sun_antenna_temperature_k(flux.sfu, frequency_mhz, receiver.beam, 0.0)
    cold = cold_system_k(receiver, cold_sky)
    return Rise(float(sun_rise_db(cold, sun_k, receiver.loss_before_preamplifier_db, air_db)), flux.doubt_db)


def moon_rise(receiver: Receiver, moon_k: float, moon_disc_deg: float, cold_sky: Met) -> Rise:
    """From cold sky to the Moon on the beam's axis."""
    on_moon = dataclasses.replace(cold_sky, moon_k=moon_k, moon_disc_deg=moon_disc_deg)
    rise = 10.0 * np.log10(cold_system_k(receiver, on_moon) / cold_system_k(receiver, cold_sky))
    return Rise(float(rise), float(10.0 * np.log10(1.0 + MOON_DOUBT_K / moon_k)))


def own_echo_db(
    station: Station, band: str, frequency_mhz: float, range_km: float, air_db: float, system_k: float
) -> float:
    """A station's own echo in 2500 Hz, dB, with nothing in its way and the beam's axis on the Moon.

    `air_db` is that of both ways; what pointing costs is not in it.
    """
    equipment, receiver = station.bands[band], receiver_of(station, band, frequency_mhz)
    width, feed = receiver.beam.beamwidth_deg, equipment.polarization
    terms = PathTerms(
        path_loss_db=path_loss_db(range_km, range_km, frequency_mhz),
        gains_dbi=2.0 * receiver.beam.gain_dbi,
        air_db=air_db,
        pointing_db=0.0,
        obstruction_db=0.0,
        narrow_beam_db=antenna.narrow_beam_loss_db(
            moon_disc_deg(np.array(range_km)), width, width, half_power_share(frequency_mhz)
        ),
        polarization_db=polarization_loss(np.zeros(1), feed, feed, frequency_mhz).for_signal_db().item(),
    )
    return float(snr_db(equipment.power_w, terms, receiver.loss_before_preamplifier_db, system_k))


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
