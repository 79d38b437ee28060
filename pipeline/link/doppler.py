"""Echo delay and Doppler shift of a path over the Moon, from the light times up and down, and how fast the shift moves.

Geocentric: sender at its own epoch, Moon at the bounce, receiver at the instant of hearing; the shift is the rate of
the whole light time at the sender's frequency. Source: the light-time equation; good to 0.01 Hz at 10 GHz, where
barycentric one-way distances would be wrong by several hertz.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.sky import LIGHT_KM_PER_S, Sky, once_each
from pipeline.ephemeris.tracks import Sites

FloatArray = npt.NDArray[np.float64]

# Central difference: the third derivative of the light time leaves 0.001 Hz at 10 GHz, rounding a thousandth of that.
DIFFERENCE_S = 5.0
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
    # The three instants of the differences stand in a first axis, so that all is worked out at once.
    time = np.stack([np.asarray(received_s, dtype=float) + step for step in (-DIFFERENCE_S, 0.0, DIFFERENCE_S)])
    return [
        EchoPath(
            delay_s=middle,
            relative_shift=-(last - first) / (2 * DIFFERENCE_S),
            relative_shift_per_s=-(last - 2 * middle + first) / DIFFERENCE_S**2,
        )
        for first, middle, last in light_times_s(sky, senders, receiver, time)
    ]


def light_times_s(sky: Sky, senders: Sequence[Sites], receiver: Sites, received_s: FloatArray) -> list[FloatArray]:
    """Seconds from sending to hearing, by way of the Moon's centre, for each sender; solved by iteration.

    Moon and sender are placed once, where they are after a usual light time, and moved from there by their rates: the
    real one differs by 0.12 s at most, in which a rate changes a place by 0.02 mm (Moon) or 0.4 mm (station). Axes of
    date serve as inertial: they turn by 0.00001 arcsecond a second, which moves no distance by a micrometre. Sites and
    times broadcast.
    """
    ear = sky.from_earth(receiver.place_km, received_s)
    usual, moon_rate = once_each(sky.moon_of_date_km, received_s - USUAL_S)
    down = np.full(np.shape(received_s), USUAL_S)
    for _ in range(3):  # each round gains five digits: the Moon moves at 3e-6 of the speed of light
        down = _length(usual + (USUAL_S - down)[..., None] * moon_rate - ear) / LIGHT_KM_PER_S
    moon = usual + (USUAL_S - down)[..., None] * moon_rate
    times = []
    for sender in senders:
        place = sky.from_earth(sender.place_km, received_s - 2 * USUAL_S)
        rate = EARTH_SPIN_RAD_PER_S * np.stack([-place[..., 1], place[..., 0], np.zeros(place.shape[:-1])], axis=-1)
        up = down
        for _ in range(3):
            up = _length(moon - place - (2 * USUAL_S - down - up)[..., None] * rate) / LIGHT_KM_PER_S
        times.append(np.asarray(down + up))
    return times


def _length(vectors: FloatArray) -> FloatArray:
    return np.sqrt(np.einsum("...i,...i->...", vectors, vectors))
