"""Where a partner would be heard who holds the frequency by another rule than agreed, kilohertz from our dial.

From the shifts of a slot: a partner who corrects nothing, for one leg (the frequency at the Moon), or for its whole own
echo (the frequency at its own end). The first-order shift f (1 + d), solved exactly for what is sent.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt

from pipeline.operating.dialing import AT_THE_MOON, Shifts

FloatArray = npt.NDArray[np.float64]


class Holds(Enum):
    """Where a partner holds its frequency; the value is the number of legs for which it corrects what it sends."""

    WHAT_IT_SENDS = 0
    AT_THE_MOON = 1
    AT_ITS_OWN_END = 2


@dataclass(frozen=True)
class OtherSpot:
    """`receive_hz` at home's dial, (n,), by another rule, and how far that lies from the dial agreed."""

    holds: Holds
    receive_hz: FloatArray
    away_hz: FloatArray


def other_spots(
    convention: str, partner_mhz: float, shifts: Shifts, home_receive_hz: FloatArray
) -> tuple[OtherSpot, ...]:
    """The two rules that the season has not agreed; `home_receive_hz` (n,) is the dial agreed."""
    sent = partner_mhz * 1e6
    leg = shifts.partner_echo_hz / sent / 2
    agreed = Holds.AT_THE_MOON if convention == AT_THE_MOON else Holds.WHAT_IT_SENDS
    found = []
    for holds in Holds:
        if holds is not agreed:
            heard = sent * (1.0 + shifts.partner_to_home_hz / sent) / (1.0 + holds.value * leg)
            found.append(OtherSpot(holds, heard, heard - home_receive_hz))
    return tuple(found)
