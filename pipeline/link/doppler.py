"""Echo delay and Doppler shift of a path over the Moon, from the light times up and down, and how fast the shift moves.

Geocentric: sender at its own epoch, Moon at the bounce, receiver at the instant of hearing; the shift is the rate of
the whole light time at the sender's frequency. Source: the light-time equation and its two derivatives; good to
0.001 Hz at 10 GHz, where barycentric one-way distances would be wrong by several hertz.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.sky import LIGHT_KM_PER_S, Sky, once_each
from pipeline.ephemeris.tracks import Sites

FloatArray = npt.NDArray[np.float64]

# Light needs 1.17 to 1.38 s from a station to the Moon.
USUAL_S = 1.28
EARTH_SPIN_RAD_PER_S = 7.292115e-5  # WGS84


@dataclass(frozen=True)
class EchoPath:
    """A path from sender to receiver, all (n,): delay, relative shift (times the frequency = Hz) and its rate per s."""

    delay_s: FloatArray
    relative_shift: FloatArray
    relative_shift_per_s: FloatArray

    def shift_hz(self, frequency_mhz: npt.ArrayLike) -> FloatArray:
        """Doppler shift at the receiver of a signal sent on this frequency. Shapes broadcast."""
        return self.relative_shift * np.asarray(frequency_mhz, dtype=float) * 1e6

    def shift_rate_hz_per_s(self, frequency_mhz: npt.ArrayLike) -> FloatArray:
        """How fast the shift moves. Shapes broadcast."""
        return self.relative_shift_per_s * np.asarray(frequency_mhz, dtype=float) * 1e6


def echo_path(sky: Sky, sender: Sites, receiver: Sites, received_s: npt.ArrayLike) -> EchoPath:
    """The path that arrives at `received_s`; sites and times broadcast.

    Positive shift: the path grows shorter, the signal is heard higher.
    """
    return echo_paths(sky, [sender], receiver, received_s)[0]


def echo_paths(sky: Sky, senders: Sequence[Sites], receiver: Sites, received_s: npt.ArrayLike) -> list[EchoPath]:
    """The paths from several senders that arrive at one receiver; the way down is theirs in common.

    Sites and times, s of the sky, broadcast.
    """
    time = np.asarray(received_s, dtype=float)
    ear = _station(sky, receiver, time)
    usual = Motion(*once_each(sky.moon_of_date_km, time - USUAL_S))
    down = _delay_s(ear.place_km, usual)
    moon = usual.after(USUAL_S - down)
    last = _leg(ear, moon)
    paths = []
    for sender in senders:
        left = _station(sky, sender, time - 2 * USUAL_S).after(USUAL_S - down)
        up = _delay_s(moon.place_km, left)
        first = _leg(moon, left.after(USUAL_S - up))
        # A second of hearing is one of sending times both slopes.
        slope = last.slower + first.slower - last.slower * first.slower
        bend = first.bend_per_s * (1.0 - last.slower) ** 2 + last.bend_per_s * (1.0 - first.slower)
        paths.append(EchoPath(delay_s=down + up, relative_shift=-slope, relative_shift_per_s=bend))
    return paths


@dataclass(frozen=True)
class Motion:
    """Something that moves, all (..., 3) and of one instant: place, its rate a second and how that changes in one."""

    place_km: FloatArray
    rate_km_per_s: FloatArray
    change_km_per_s2: FloatArray

    def after(self, time_s: FloatArray) -> Motion:
        """The same so many seconds later; vectors (..., 3). In 0.2 s at most the change stays to a part in 60,000."""
        later = time_s[..., None]
        place = self.place_km + later * (self.rate_km_per_s + later / 2 * self.change_km_per_s2)
        return Motion(place, self.rate_km_per_s + later * self.change_km_per_s2, self.change_km_per_s2)


@dataclass(frozen=True)
class Leg:
    """One way of a signal, all (...): `slower` is how many seconds fewer are sent in one that arrives.

    `bend_per_s` is how the seconds sent in one that arrives grow in a second.
    """

    slower: FloatArray
    bend_per_s: FloatArray


def _station(sky: Sky, sites: Sites, time_s: FloatArray) -> Motion:
    """Stations at times of the sky, which broadcast. Axes of date serve as inertial.

    They turn by 0.000002 arcsecond a second, which moves no station by more than 0.1 mm/s: 0.003 Hz at 10 GHz.
    """
    place = sky.from_earth(sites.place_km, time_s)
    x, y = place[..., 0], place[..., 1]
    rate = EARTH_SPIN_RAD_PER_S * np.stack([-y, x, np.zeros(x.shape)], axis=-1)
    return Motion(place, rate, -(EARTH_SPIN_RAD_PER_S**2) * np.stack([x, y, np.zeros(x.shape)], axis=-1))


def _delay_s(arrival_km: FloatArray, left: Motion) -> FloatArray:
    """Seconds, shape (...), to a place (..., 3) from what was at `left` a usual light time before; by iteration."""
    delay = np.full(np.broadcast_shapes(arrival_km.shape, left.place_km.shape)[:-1], USUAL_S)
    for _ in range(3):  # each round gains five digits: the Moon moves at 3e-6 of the speed of light
        delay = _length(arrival_km - left.after(USUAL_S - delay).place_km) / LIGHT_KM_PER_S
    return delay


def _leg(arrival: Motion, left: Motion) -> Leg:
    """The light-time equation of one way, differentiated twice by hand.

    A difference of light times would bring out their last bits, which each processor rounds in its own way.
    """
    way = arrival.place_km - left.place_km
    length = _length(way)
    along = way / length[..., None]
    still = LIGHT_KM_PER_S - _dot(along, left.rate_km_per_s)
    slower = _dot(along, arrival.rate_km_per_s - left.rate_km_per_s) / still
    sent = (1.0 - slower)[..., None]
    apart = arrival.rate_km_per_s - sent * left.rate_km_per_s
    across = _dot(apart, apart) - _dot(along, apart) ** 2
    pull = _dot(along, arrival.change_km_per_s2 - sent**2 * left.change_km_per_s2)
    return Leg(slower, -(across / length + pull) / still)


def _dot(one: FloatArray, other: FloatArray) -> FloatArray:
    return np.asarray(np.einsum("...i,...i->...", one, other))


def _length(vectors: FloatArray) -> FloatArray:
    return np.sqrt(_dot(vectors, vectors))
