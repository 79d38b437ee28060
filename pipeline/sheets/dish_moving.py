"""How often the dish moves, how to aim ahead, and the aim above a low Moon that hears it best.

From the night's track; the gain of the higher aim by `pairs.listening_aim`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from pipeline.operating.night_track import NightTrack
from pipeline.pairs.equipment import pair_frequency_mhz, receiver_of
from pipeline.pairs.listening_aim import WORTH_DB, listening_lift
from pipeline.pairs.pattern_met import antenna_of
from pipeline.radio_sky.air import reference_atmosphere
from pipeline.wording import formats

if TYPE_CHECKING:
    from pipeline.plan.views import NightView


def step_s(half_beam_s: float) -> float:
    """How often to move, rounded down: half minutes from a minute, five seconds below."""
    step = 30.0 if half_beam_s >= 60.0 else 5.0
    return max(math.floor(half_beam_s / step + 1e-9) * step, 1.0)


def step_words(seconds: float) -> str:
    """`4 minutes`, `2 min 30 s`, `45 s`."""
    if seconds < 60.0:
        return f"{seconds:g} s"
    minutes, rest = divmod(int(seconds), 60)
    if rest:
        return f"{minutes} min {rest} s"
    return "minute" if minutes == 1 else f"{minutes} minutes"


def listening(night: NightView, track: NightTrack) -> tuple[str, ...]:
    """The aim above a low Moon that hears it best, where it gains anything to speak of."""
    home = night.inputs.home
    frequency = pair_frequency_mhz(night.inputs, night.band)
    atmosphere = reference_atmosphere(
        home.position.latitude_deg, track.time_utc[0].month, night.inputs.season.policy.atmosphere
    )
    antenna = antenna_of(home, receiver_of(home, night.band, frequency), frequency)
    lift, gain = listening_lift(antenna, atmosphere, track.moon.azimuth_deg, track.apparent_elevation_deg)
    worth = np.flatnonzero(track.clear & (gain >= WORTH_DB))
    if not worth.size:
        return ()
    best, below = worth[np.argmax(gain[worth])], float(track.apparent_elevation_deg[worth].max())
    return (
        f"For listening below {formats.plain(math.ceil(below))}°, aim {formats.plain(round(float(lift[best]), 1))}° "
        f"above the Moon: {gain[best]:.1f} dB less noise. To send, aim at it.",
    )


def moving(track: NightTrack, antenna: str) -> tuple[str, ...]:
    """How often to move the dish and how to aim ahead."""
    beam = formats.plain(round(track.beamwidth_deg, 1))
    return (
        f"Move the {antenna} every {step_words(step_s(track.half_beam_s))}: by then the Moon has gone half of the "
        f"{beam}° beam.",
        "Aim ahead: set the figures for the middle of the coming step. The Moon is then never more than a quarter of "
        "the beam off, 0.8 dB each way at most. Between two lines share the difference.",
    )
