"""What both ends set on their dials, by the season's convention, so that each signal is heard where it is looked for.

From the Doppler shifts of both directions and both own echoes, each at its sender's own frequency, as samples.csv has
them. Every figure is absolute, in hertz. Source: the first-order shift f (1 + d), solved exactly for what is sent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.ephemeris.sky import Sky
from pipeline.ephemeris.tracks import Sites
from pipeline.link.doppler import echo_path

FloatArray = npt.NDArray[np.float64]

EACH_FOLLOWS, HOME_FOLLOWS, AT_THE_MOON = CONVENTIONS = (
    "each-follows-what-it-hears",
    "home-follows-for-both",
    "meet-at-the-moon",
)
# Samples nearer together than this (an edge beside a step) add rounding and no knowledge to a smooth curve.
NEAREST_SAMPLES_S = 30.0


@dataclass(frozen=True)
class Dialing:
    """Frequencies to set on each dial, absolute Hz, each (n,)."""

    home_transmit_hz: FloatArray
    home_receive_hz: FloatArray
    partner_transmit_hz: FloatArray
    partner_receive_hz: FloatArray


@dataclass(frozen=True)
class Shifts:
    """Doppler shifts in Hz for the clock's instants, each (n,) and at its sender's own frequency.

    `home_to_partner_hz` and `partner_to_home_hz` are those of what is heard now; `sent_home_to_partner_hz` that of
    what home sends now and the partner hears an echo delay later. An own echo is the one heard half an echo delay from
    now: the mean of its two legs is then that of a station standing where it stands now.
    """

    home_to_partner_hz: FloatArray
    partner_to_home_hz: FloatArray
    home_echo_hz: FloatArray
    partner_echo_hz: FloatArray
    sent_home_to_partner_hz: FloatArray


def dial_shifts(convention: str, home_transmit_mhz: float, partner_transmit_mhz: float, shifts: Shifts) -> Dialing:
    """Dials, Hz, (n,), by a convention of `policy.dialing`; ValueError for another word.

    Of shifts (n,) worked out for the clock's instants: good to 0.1 Hz at 10 GHz.
    """
    home, partner = home_transmit_mhz * 1e6, partner_transmit_mhz * 1e6
    there, back = shifts.home_to_partner_hz, shifts.partner_to_home_hz
    zero = np.zeros(there.shape)
    if convention == EACH_FOLLOWS:
        return Dialing(home + zero, partner + back, partner + zero, home + there)
    if convention == HOME_FOLLOWS:
        # f - shift would leave f d^2, 0.05 Hz at 10 GHz; the quotient leaves nothing.
        return Dialing(
            home / (1.0 + shifts.sent_home_to_partner_hz / home) + zero, partner + back, partner + zero, home + zero
        )
    if convention == AT_THE_MOON:
        # Half of the own echo's shift is that of one leg, as a share of the frequency.
        legs = shifts.home_echo_hz / home / 2, shifts.partner_echo_hz / partner / 2
        return Dialing(
            home / (1.0 + legs[0]) + zero,
            partner * (1.0 + legs[0]) + zero,
            partner / (1.0 + legs[1]) + zero,
            home * (1.0 + legs[1]) + zero,
        )
    raise ValueError(f"no convention '{convention}'; {', '.join(CONVENTIONS)} are known")


def shifts_of_sky(
    sky: Sky, home: Sites, partner: Sites, time_s: FloatArray, home_transmit_mhz: float, partner_transmit_mhz: float
) -> Shifts:
    """Shifts by light times at the clock's instants (n,), seconds since the sky's start; sites of one station each."""
    there, back = echo_path(sky, home, partner, time_s), echo_path(sky, partner, home, time_s)
    own = [echo_path(sky, end, end, time_s + there.delay_s / 2) for end in (home, partner)]
    return Shifts(
        home_to_partner_hz=there.shift_hz(home_transmit_mhz),
        partner_to_home_hz=back.shift_hz(partner_transmit_mhz),
        home_echo_hz=own[0].shift_hz(home_transmit_mhz),
        partner_echo_hz=own[1].shift_hz(partner_transmit_mhz),
        sent_home_to_partner_hz=echo_path(sky, home, partner, time_s + there.delay_s).shift_hz(home_transmit_mhz),
    )


def shifts_of_samples(samples: pd.DataFrame, time_utc: pd.DatetimeIndex) -> Shifts:
    """The same from a partner's rows of one window in samples.csv (n >= 1, by time), at `time_utc` (m,) among them.

    A smooth curve of third order through the samples: 0.1 Hz at 10 GHz for steps up to half an hour.
    """
    instants = pd.DatetimeIndex(samples["time_utc"])
    origin = instants[0]
    at = np.asarray((instants - origin) / pd.Timedelta(seconds=1), dtype=float)
    now = np.asarray((time_utc - origin) / pd.Timedelta(seconds=1), dtype=float)
    delay = np.interp(now, at, samples["echo_delay_s"].to_numpy(dtype=float))

    def curve(name: str, time_s: FloatArray) -> FloatArray:
        return _smooth(at, samples[name].to_numpy(dtype=float), time_s)

    return Shifts(
        home_to_partner_hz=curve("doppler_home_to_partner_hz", now),
        partner_to_home_hz=curve("doppler_partner_to_home_hz", now),
        home_echo_hz=curve("home_echo_doppler_hz", now + delay / 2),
        partner_echo_hz=curve("partner_echo_doppler_hz", now + delay / 2),
        sent_home_to_partner_hz=curve("doppler_home_to_partner_hz", now + delay),
    )


def _smooth(at: FloatArray, values: FloatArray, time_s: FloatArray) -> FloatArray:
    from scipy.interpolate import make_interp_spline

    kept = np.ones(at.size, dtype=bool)
    kept[1:-1] = (np.diff(at)[:-1] >= NEAREST_SAMPLES_S) & (at[-1] - at[1:-1] >= NEAREST_SAMPLES_S)
    if at.size == 1 or at[-1] <= at[0]:
        return np.full(time_s.shape, values[0])
    order = min(3, int(kept.sum()) - 1)
    return np.asarray(make_interp_spline(at[kept], values[kept], k=order)(time_s), dtype=float)
