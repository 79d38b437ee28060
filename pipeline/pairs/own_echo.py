"""How strong a station's own echo should be, with its beam's axis on the Moon; from the link equation of `link`."""

from __future__ import annotations

import numpy as np

from pipeline.inputs.model import Station
from pipeline.link import antenna
from pipeline.link.path_loss import moon_disc_deg, path_loss_db
from pipeline.link.polarization import polarization_loss
from pipeline.link.signal import PathTerms, snr_db
from pipeline.link.spread import half_power_share
from pipeline.pairs.equipment import receiver_of


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
