"""Who sends on which minutes or seconds of the clock, from the opener and the mode's period.

Periods are counted from the full UTC hour, and the opener has the first of each two (common practice, no source): what
is agreed then holds for every slot, whichever quarter hour it begins on, and for a fall-back as well. Until the
opener's first period nobody sends: in a slot from a quarter past, one minute is lost and no misunderstanding made.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from pipeline.inputs.modes import Mode

MINUTE_S = 60.0
End = Literal["home", "partner"]


@dataclass(frozen=True)
class Turns:
    """Who sends when: periods of this length, the opener's the first of each two, counted from the full UTC hour."""

    opener: End
    period_s: float

    def start_s(self, end: End) -> float:
        """Seconds after the UTC hour at which this end's first period begins."""
        return 0.0 if end == self.opener else self.period_s

    def first_start(self, end: End, slot_start_utc: dt.datetime) -> dt.datetime:
        """When this end sends first in a slot: its first period that begins at or after the slot's start."""
        hour = slot_start_utc.replace(minute=0, second=0, microsecond=0)
        start = self.start_s(end)
        cycle = 2 * self.period_s
        gone = (slot_start_utc - hour).total_seconds() - start
        return hour + dt.timedelta(seconds=start + cycle * -(-gone // cycle))


def turns_of(opener: str, mode: Mode) -> Turns:
    """The turns of a slot in this mode; `opener` is `home` or `partner`; ValueError for another word."""
    if opener not in ("home", "partner"):
        raise ValueError(f"the opener is home or partner, not '{opener}'")
    return Turns("home" if opener == "home" else "partner", mode.period_s)
