"""A station's figures on a band as the formulas take them: beam, receiver, frequency.

From station files by way of the formulas of `link`; every figure a file leaves out is already its band's default.
"""

from __future__ import annotations

from pipeline.inputs.bands import band_table
from pipeline.inputs.model import Policy, SolarFlux, Station
from pipeline.link.antenna import Beam, dish_beam, gain_beam
from pipeline.link.exposure import Radiator
from pipeline.link.noise import Receiver
from pipeline.record.inputs import Inputs


def beam_of(station: Station, band: str, frequency_mhz: float) -> Beam:
    """Gain and beamwidth from the dish, or from the gain given."""
    antenna = station.bands[band].antenna
    if antenna.dish_diameter_m is not None:
        return dish_beam(antenna.dish_diameter_m, antenna.aperture_efficiency, frequency_mhz)
    return gain_beam(antenna.gain_dbi or 0.0, frequency_mhz, antenna.beamwidth_deg)


def receiver_of(station: Station, band: str, frequency_mhz: float) -> Receiver:
    """The receiving side of a station on a band."""
    equipment = station.bands[band]
    return Receiver(
        beam=beam_of(station, band, frequency_mhz),
        noise_figure_db=equipment.noise_figure_db,
        loss_before_preamplifier_db=equipment.loss_before_preamplifier_db,
        spillover_fraction=equipment.spillover_fraction,
    )


def radiator_of(station: Station, band: str, frequency_mhz: float) -> Radiator:
    """The sending side of a station on a band, for the field in front of it."""
    equipment = station.bands[band]
    return Radiator(
        power_w=equipment.power_w,
        gain_dbi=beam_of(station, band, frequency_mhz).gain_dbi,
        frequency_mhz=frequency_mhz,
        dish_diameter_m=equipment.antenna.dish_diameter_m,
        aperture_efficiency=equipment.antenna.aperture_efficiency,
    )


def activity_of(policy: Policy) -> str | float:
    """The season's solar activity as the flux table takes it: a word, or the 10.7 cm flux."""
    activity = policy.solar_activity
    return activity.flux_10_7_cm if isinstance(activity, SolarFlux) else activity


def pair_frequency_mhz(inputs: Inputs, band: str) -> float:
    """The frequency home works on this band: the season's, else the station's own, else the band's usual one."""
    season, equipment = inputs.season, inputs.home.bands.get(band)
    if season.frequency_mhz is not None and band == season.band:
        return season.frequency_mhz
    if equipment is not None and equipment.frequency_mhz is not None:
        return equipment.frequency_mhz
    return band_table()[band].typical_mhz


def frequency_of_mhz(inputs: Inputs, station: Station, band: str) -> float:
    """The station's own frequency, else the one on which home works the band."""
    return station.bands[band].frequency_mhz or pair_frequency_mhz(inputs, band)


def pair_transmit_mhz(inputs: Inputs, partner_index: int) -> tuple[float, float]:
    """Home's and the partner's own transmit frequency; where a file names none, that of the pair."""
    band = inputs.bands[partner_index]
    common = pair_frequency_mhz(inputs, band)
    home, partner = inputs.home.bands.get(band), inputs.partners[partner_index].bands.get(band)
    return (
        (home.frequency_mhz if home else None) or common,
        (partner.frequency_mhz if partner else None) or common,
    )
