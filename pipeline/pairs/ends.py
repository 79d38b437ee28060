"""One end of one pair at the pair's samples, with everything the link formulas ask of it; made once, used by all.

From samples, rules and equipment; air by the reference atmosphere of the station's latitude and each sample's month.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.refraction import refraction_deg
from pipeline.ephemeris.tracks import Sites
from pipeline.inputs.model import BandEquipment, Station
from pipeline.link.noise import Receiver
from pipeline.pairs.corrections import correction_of
from pipeline.pairs.equipment import receiver_of
from pipeline.radio_sky.air import Names, air_loss_db, reference_atmospheres, zenith_air_loss_db
from pipeline.record.inputs import Inputs
from pipeline.record.model import Correction
from pipeline.windows.rules import Rules
from pipeline.windows.samples import End

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True)
class PairEnd:
    """One end at the pair's samples, arrays (n,). Clearance: apparent elevation less the mask's, degrees.

    `correction` is what logs have taught of the station on this band.
    """

    station: Station
    equipment: BandEquipment
    receiver: Receiver
    sites: Sites
    seen: End
    frequency_mhz: float
    clearance_deg: FloatArray
    sun_is_up: npt.NDArray[np.bool_]
    atmosphere: Names
    air_db: FloatArray
    zenith_air_db: FloatArray
    sun_air_db: FloatArray
    correction: Correction | None = None

    @property
    def transmit_mhz(self) -> float:
        """This station's own transmit frequency."""
        return self.equipment.frequency_mhz or self.frequency_mhz


def make_pair_end(
    inputs: Inputs,
    station: Station,
    index: int,
    band: str,
    frequency_mhz: float,
    rules: Rules,
    sites: Sites,
    seen: End,
    months: IntArray,
) -> PairEnd:
    """One end; `index` is the station's place among rules and sites, `seen` its Moon and Sun at the samples.

    `months` (n,) pick each sample's air: the month (UTC) in which its window begins, outside windows that of the
    instant. So a window has the same figures in whatever period it is planned.
    """
    owner = np.full(seen.refraction_deg.size, index)
    chosen = sites.take(owner)
    height = station.position.height_m
    atmosphere = reference_atmospheres(station.position.latitude_deg, months, inputs.season.policy.atmosphere)
    sun_apparent = seen.sun.elevation_deg + refraction_deg(seen.sun.elevation_deg, height)
    return PairEnd(
        station=station,
        equipment=station.bands[band],
        receiver=receiver_of(station, band, frequency_mhz),
        sites=chosen,
        seen=seen,
        frequency_mhz=frequency_mhz,
        clearance_deg=seen.apparent_elevation_deg - rules.mask(owner, seen.moon.azimuth_deg),
        sun_is_up=sun_apparent >= rules.mask(owner, seen.sun.azimuth_deg),
        atmosphere=atmosphere,
        air_db=air_loss_db(frequency_mhz, atmosphere, height, seen.apparent_elevation_deg),
        zenith_air_db=zenith_air_loss_db(frequency_mhz, atmosphere, height),
        sun_air_db=air_loss_db(frequency_mhz, atmosphere, height, sun_apparent),
        correction=correction_of(inputs, station.call, band),
    )
