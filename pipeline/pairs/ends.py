"""Both ends of one pair at the pair's samples, with everything the link formulas ask of them; made once, used by all.

From scene, rules and equipment; air by the reference atmosphere of the station's latitude and each sample's month.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.refraction import refraction_deg
from pipeline.ephemeris.tracks import Geocentre, Sites, bodies_at, see_from_centre
from pipeline.inputs.model import BandEquipment, Station
from pipeline.link.noise import Receiver
from pipeline.link.polarization import Look
from pipeline.pairs.corrections import correction_of
from pipeline.pairs.equipment import activity_of, pair_frequency_mhz, receiver_of
from pipeline.pairs.pattern_met import Antenna, PatternMet, antenna_of, pattern_met
from pipeline.radio_sky.air import Names, air_loss_db, reference_atmospheres, zenith_air_loss_db
from pipeline.record.inputs import Inputs
from pipeline.record.model import Correction
from pipeline.windows.samples import End, Steps
from pipeline.windows.scene import Scene, Standpoints

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True)
class PairEnd:
    """One end at the pair's samples, arrays (n,). Clearance: apparent elevation less the mask's, degrees.

    `pattern` is what the whole antenna pattern meets, `correction` what logs have taught of the station on this band.
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
    pattern: PatternMet
    correction: Correction | None = None

    def take(self, rows: IntArray) -> PairEnd:
        """The same end at some of its samples, by index (m,)."""
        names = ("clearance_deg", "sun_is_up", "atmosphere", "air_db", "zenith_air_db", "sun_air_db")
        return dataclasses.replace(
            self,
            sites=self.sites.take(rows),
            seen=self.seen.take(rows),
            pattern=self.pattern.take(rows),
            **{name: getattr(self, name)[rows] for name in names},
        )

    @property
    def antenna(self) -> Antenna:
        """The receiving antenna where it stands."""
        return antenna_of(self.station, self.receiver, self.frequency_mhz)

    @property
    def look(self) -> Look:
        """Where this end stands and sees the Moon."""
        place, moon = self.station.position, self.seen.moon
        return Look(moon.azimuth_deg, moon.elevation_deg, place.latitude_deg, place.longitude_deg)

    @property
    def transmit_mhz(self) -> float:
        """This station's own transmit frequency."""
        return self.equipment.frequency_mhz or self.frequency_mhz


@dataclass(frozen=True)
class Pair:
    """Home and a partner on a band at the pair's steps (n,), with the Moon's elongation as the Earth's centre sees it.

    `solar_activity` is the season's, as the flux table takes it.
    """

    band: str
    home: PairEnd
    partner: PairEnd
    steps: Steps
    elongation_deg: FloatArray
    solar_activity: str | float


def make_pair(inputs: Inputs, partner: int, band: str, scene: Scene, home: PairEnd | None = None) -> Pair:
    """Home and the station at the standpoint `partner`; all steps (n,) of the scene are this pair's.

    `home` is that end at these steps, where it is known.
    """
    stands, months = scene.standpoints, scene.months
    return Pair(
        band=band,
        home=home or make_pair_end(inputs, band, stands, 0, scene.home, months),
        partner=make_pair_end(inputs, band, stands, partner, scene.partner, months),
        steps=scene.steps,
        elongation_deg=scene.centre.elongation_deg,
        solar_activity=activity_of(inputs.season.policy),
    )


def home_alone(inputs: Inputs, band: str, standpoints: Standpoints, time_s: FloatArray) -> tuple[PairEnd, Geocentre]:
    """Home, and what the Earth's centre sees, at any times (n,), s of the sky: for its own echo."""
    bodies = bodies_at(standpoints.sky, time_s)
    months = standpoints.sky.month(time_s)
    return make_pair_end(inputs, band, standpoints, 0, standpoints.home_sees(bodies), months), see_from_centre(bodies)


def make_pair_end(
    inputs: Inputs, band: str, standpoints: Standpoints, index: int, seen: End, months: IntArray
) -> PairEnd:
    """One end; `index` is the station's standpoint, `seen` its Moon and Sun (n,), `months` (n,) as those of a scene."""
    station, frequency_mhz = (inputs.home, *inputs.partners)[index], pair_frequency_mhz(inputs, band)
    owner = np.full(seen.refraction_deg.size, index)
    height = station.position.height_m
    atmosphere = reference_atmospheres(station.position.latitude_deg, months, inputs.season.policy.atmosphere)
    receiver = receiver_of(station, band, frequency_mhz)
    sun_apparent = seen.sun.elevation_deg + refraction_deg(seen.sun.elevation_deg, height)
    return PairEnd(
        station=station,
        equipment=station.bands[band],
        receiver=receiver,
        sites=standpoints.sites.take(owner),
        seen=seen,
        frequency_mhz=frequency_mhz,
        clearance_deg=seen.apparent_elevation_deg - standpoints.rules.mask(owner, seen.moon.azimuth_deg),
        sun_is_up=sun_apparent >= standpoints.rules.mask(owner, seen.sun.azimuth_deg),
        atmosphere=atmosphere,
        air_db=air_loss_db(frequency_mhz, atmosphere, height, seen.apparent_elevation_deg),
        zenith_air_db=zenith_air_loss_db(frequency_mhz, atmosphere, height),
        sun_air_db=air_loss_db(frequency_mhz, atmosphere, height, sun_apparent),
        pattern=pattern_met(station, antenna_of(station, receiver, frequency_mhz), atmosphere, seen),
        correction=correction_of(inputs, station.call, band),
    )
