"""With what means a station's own echo can be found: by ear, on an averaged spectrum, or not tonight.

The ear's limit is the mode table's for CW with the loss by spread; the average follows the radiometer equation
(Kraus, Radio Astronomy): power in a width b stands out by 5 sigma after t = 25 / (x^2 b), x the ratio in that width.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from pipeline.link.constants import REPORT_BANDWIDTH_HZ
from pipeline.link.signal import spread_loss_db

# Five standard deviations: a bump nobody doubts.
SIGMAS = 5.0
# Bursts end before the echo comes back, 2.4 s later, so that half of the time is listened to.
LISTENING_SHARE = 0.5
LONGEST_MINUTES = 10.0


@dataclass(frozen=True)
class Finding:
    """How the echo is found; `minutes` of bursts for the averaged spectrum, at least one."""

    means: Literal["by ear", "averaged", "not"]
    minutes: float
    ear_limit_db: float

    @property
    def short_db(self) -> float:
        """How far the echo lies under what the longest average shows, dB; negative where it is shown."""
        return 5.0 * math.log10(self.minutes / LONGEST_MINUTES)


def averaging_minutes(echo_db: float, width_hz: float) -> float:
    """Minutes of bursts until the echo (dB in 2500 Hz, spread over `width_hz`) stands out of the noise by 5 sigma."""
    # Narrower than a burst's own width nothing is: half a hertz for two seconds.
    width = max(width_hz, 0.5)
    ratio = 10.0 ** (echo_db / 10.0) * REPORT_BANDWIDTH_HZ / width
    return SIGMAS**2 / (ratio**2 * width) / LISTENING_SHARE / 60.0


def find_echo(echo_db: float, width_hz: float, ear_needs_db: float, ear_width_hz: float) -> Finding:
    """The easiest means; `ear_needs_db` and `ear_width_hz` are what CW needs in the mode table, and its width."""
    limit = ear_needs_db + float(spread_loss_db(width_hz, ear_width_hz))
    minutes = averaging_minutes(echo_db, width_hz)
    if echo_db >= limit:
        return Finding("by ear", minutes, limit)
    return Finding("averaged" if minutes <= LONGEST_MINUTES else "not", max(minutes, 1.0), limit)
