"""What each end's whole pattern meets at every sample: shares of ground, air and open sky, and how bright that sky is.

From the station's skyline and air by the integrals of `link.surroundings`; below 1 GHz, where the Galaxy outshines the
receiver, the survey is averaged under the part of main beam, side lobes and back that stands above the skyline.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from pipeline.inputs.model import Station, mask_arrays
from pipeline.link.noise import Met, Receiver
from pipeline.link.pattern import Rings, back_rings, directions, main_rings, part_shares, side_rings
from pipeline.link.polarization import parallactic_angle_deg
from pipeline.link.surroundings import RestTable, Shares, Surroundings, rest_table, shares_at
from pipeline.radio_sky.air import Names, air_loss_db
from pipeline.radio_sky.sky_brightness import (
    beam_sky,
    coldest_sky_k,
    mean_408_k,
    mean_sky_k,
    offset_icrs_deg,
    scale_to_band_k,
    sky_temperature_k,
)
from pipeline.windows.samples import End

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# Elevations at which the air is asked: its loss bends most near the horizon.
AIR_NODES_DEG = np.concatenate([np.linspace(0.0, 5.0, 51), np.linspace(5.5, 20.0, 30), np.linspace(22.0, 90.0, 35)])
# From here on the receiver and the background outshine the Galaxy outside the main beam.
GALAXY_FADES_MHZ = 1000.0
# Side lobes and back are broad: the survey is smoothed to their rings' spacing, the main beam's to a third of it.
REST_SMOOTHING_DEG, MAIN_SMOOTHING = 8.0, 0.35
# The sky is smoother than the ground: fewer rings and points of the rest stand for it, T_rest within 1 %.
REST_RINGS, REST_POINTS = 8, 16


@dataclass(frozen=True)
class PatternMet:
    """Shares (n,) of the pattern, over the skyline and over flat ground; open sky in main beam and rest, K, (n,)."""

    shares: Shares
    flat_shares: Shares
    sky_k: FloatArray
    rest_k: FloatArray

    def take(self, rows: IntArray) -> PatternMet:
        """The same at some of the samples, by index (m,)."""
        shares = self.shares.take(rows)
        flat = shares if self.flat_shares is self.shares else self.flat_shares.take(rows)
        return PatternMet(shares, flat, self.sky_k[rows], self.rest_k[rows])


@dataclass(frozen=True)
class Antenna:
    """A station's receiving antenna where it stands: what the integrals ask of it."""

    receiver: Receiver
    frequency_mhz: float
    height_m: float
    azimuth_deg: tuple[float, ...]
    skyline_deg: tuple[float, ...]

    def surroundings(self, atmosphere: str) -> Surroundings:
        """Skyline and air."""
        loss_db = air_loss_db(self.frequency_mhz, atmosphere, self.height_m, AIR_NODES_DEG)
        return Surroundings(
            np.array(self.azimuth_deg), np.array(self.skyline_deg), AIR_NODES_DEG, 10.0 ** (-loss_db / 10.0)
        )

    def over_flat_ground(self) -> Antenna:
        """The same antenna without a skyline."""
        return Antenna(self.receiver, self.frequency_mhz, self.height_m, (0.0,), (0.0,))


def antenna_of(station: Station, receiver: Receiver, frequency_mhz: float) -> Antenna:
    """A station's antenna with its skyline; flat ground where none was surveyed."""
    azimuth, elevation = (tuple(map(float, axis)) for axis in mask_arrays(station))
    return Antenna(receiver, frequency_mhz, station.position.height_m, azimuth, elevation)


@lru_cache(maxsize=512)
def _table(antenna: Antenna, atmosphere: str) -> RestTable:
    beam = antenna.receiver.beam
    return rest_table(antenna.surroundings(atmosphere), beam, part_shares(beam, antenna.receiver.spillover_fraction))


def shares_of(antenna: Antenna, atmosphere: str | Names, azimuth_deg: FloatArray, elevation_deg: FloatArray) -> Shares:
    """Shares of the pattern at aims (n,): azimuth and apparent elevation; one atmosphere or one each."""
    names = np.broadcast_to(np.asarray(atmosphere, dtype=object), azimuth_deg.shape)
    parts = part_shares(antenna.receiver.beam, antenna.receiver.spillover_fraction)
    columns = np.zeros((5, azimuth_deg.size))
    for name in dict.fromkeys(names):
        mine = np.flatnonzero(names == name)
        found = shares_at(_table(antenna, name), antenna.receiver.beam, parts, azimuth_deg[mine], elevation_deg[mine])
        columns[:, mine] = found.ground, found.air, found.main_open, found.rest_open, found.main_ground
    return Shares(*columns)


def zenith_shares(antenna: Antenna, atmosphere: str | Names) -> Shares:
    """Straight up over flat ground, in the shape (n,) of the atmospheres."""
    every = np.atleast_1d(np.asarray(atmosphere, dtype=object))
    names, place = np.array(list(dict.fromkeys(every)), dtype=object), np.zeros(every.shape, dtype=np.int64)
    for number, name in enumerate(names):
        place[every == name] = number
    found = shares_of(antenna.over_flat_ground(), names, np.zeros(names.size), np.full(names.size, 90.0))
    return found.take(place)


def cold_sky(antenna: Antenna, atmosphere: str, azimuth_deg: npt.ArrayLike, elevation_deg: npt.ArrayLike) -> Met:
    """What the pattern meets on the coldest sky at aims (n,), or at one, with no Moon and no Sun in it."""
    azimuth, elevation = (np.atleast_1d(np.asarray(angle, dtype=float)) for angle in (azimuth_deg, elevation_deg))
    shares = shares_of(antenna, atmosphere, azimuth, elevation)
    frequency = antenna.frequency_mhz
    return Met(shares, coldest_sky_k(antenna.receiver.beam.beamwidth_deg, frequency), mean_sky_k(frequency))


def pattern_met(station: Station, antenna: Antenna, atmosphere: Names, seen: End) -> PatternMet:
    """What the pattern meets with the antenna on the Moon, at samples (n,)."""
    elevation = seen.apparent_elevation_deg
    shares = shares_of(antenna, atmosphere, seen.moon.azimuth_deg, elevation)
    level = antenna.over_flat_ground()
    flat = shares if level == antenna else shares_of(level, atmosphere, seen.moon.azimuth_deg, elevation)
    if antenna.frequency_mhz >= GALAXY_FADES_MHZ:
        rest_k = np.full(elevation.shape, mean_sky_k(antenna.frequency_mhz))
        return PatternMet(shares, flat, whole_beam_sky_k(antenna, seen), rest_k)
    return PatternMet(shares, flat, *_open_sky_k(station, antenna, atmosphere, seen))


def pattern_at_zenith(antenna: Antenna, atmosphere: Names, seen: End) -> PatternMet:
    """The same with the sky behind the Moon as it is, but the antenna looking straight up over flat ground."""
    rest = np.full(atmosphere.shape, mean_sky_k(antenna.frequency_mhz))
    shares = zenith_shares(antenna, atmosphere)
    return PatternMet(shares, shares, whole_beam_sky_k(antenna, seen), rest)


def whole_beam_sky_k(antenna: Antenna, seen: End) -> FloatArray:
    """The sky averaged over the whole main beam around the Moon, K, (n,)."""
    return sky_temperature_k(
        seen.right_ascension_deg, seen.declination_deg, antenna.receiver.beam.beamwidth_deg, antenna.frequency_mhz
    )


def _open_sky_k(station: Station, antenna: Antenna, atmosphere: Names, seen: End) -> tuple[FloatArray, FloatArray]:
    """Main beam and the rest, K, both (n,): each the mean of the sky above the skyline, weighted by the air's t."""
    if not atmosphere.size:
        return np.zeros(0), np.zeros(0)
    beam = antenna.receiver.beam
    around = antenna.surroundings(str(atmosphere[0]))
    turn = parallactic_angle_deg(seen.moon.azimuth_deg, seen.moon.elevation_deg, station.position.latitude_deg)
    parts = part_shares(beam, antenna.receiver.spillover_fraction)
    rest = ((side_rings(beam, REST_RINGS, REST_POINTS), parts.side), (back_rings(REST_RINGS, REST_POINTS), parts.back))
    main_k = _mean_408_k(around, seen, turn, ((main_rings(beam), 1.0),), MAIN_SMOOTHING * beam.beamwidth_deg)
    rest_k = _mean_408_k(around, seen, turn, rest, REST_SMOOTHING_DEG)
    return scale_to_band_k(main_k, antenna.frequency_mhz), scale_to_band_k(rest_k, antenna.frequency_mhz)


def _mean_408_k(
    around: Surroundings, at: End, turn_deg: FloatArray, parts: tuple[tuple[Rings, float], ...], smoothing_deg: float
) -> FloatArray:
    """Mean T408 of the open sky under parts of the pattern at samples (m,), K; the whole sky's where none is open."""
    sky = beam_sky(smoothing_deg)
    bright, weight = np.zeros(turn_deg.size), np.zeros(turn_deg.size)
    for rings, share in parts:
        elevation, turned = directions(rings, rings.around_deg, at.apparent_elevation_deg)
        is_open = elevation > around.skyline_deg(at.moon.azimuth_deg[:, None, None] + turned)
        passed = np.where(is_open, around.passed(elevation), 0.0) * (
            rings.share[:, None] * share / rings.around_deg.size
        )
        # Up to the right in the sky is west of north: the zenith's position angle less the turn from it.
        angle = turn_deg[:, None, None] - rings.around_deg
        where = offset_icrs_deg(
            at.right_ascension_deg[:, None, None], at.declination_deg[:, None, None], rings.off_axis_deg[:, None], angle
        )
        bright += (passed * sky.at(*where)).sum(axis=(1, 2))
        weight += passed.sum(axis=(1, 2))
    return np.where(weight > 1e-9, bright / np.maximum(weight, 1e-9), mean_408_k())
