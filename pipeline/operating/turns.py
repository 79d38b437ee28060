"""Who sends on which minutes or seconds of the clock, in plain words, from the opener and the mode's period.

Periods are counted from the full UTC hour, and the opener has the first of each two (common practice, no source): the
words then hold for every slot, whichever quarter hour it begins on, and for a fall-back as well. Until the opener's
first period nobody sends: in a slot from a quarter past, one minute is lost and no misunderstanding made.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from pipeline.inputs.modes import Mode

MINUTE_S, HOUR_S = 60.0, 3600.0
End = Literal["home", "partner"]


@dataclass(frozen=True)
class Periods:
    """Who sends when. Words follow "sends": `on even minutes (0, 2, 4 ...)`; starts are seconds after the UTC hour."""

    opener: End
    period_s: float
    home_words: str
    partner_words: str
    home_start_s: float
    partner_start_s: float

    def words(self, end: End) -> str:
        """When this end sends."""
        return self.home_words if end == "home" else self.partner_words

    def first_start(self, end: End, slot_start_utc: dt.datetime) -> dt.datetime:
        """When this end sends first in a slot: its first period that begins at or after the slot's start."""
        hour = slot_start_utc.replace(minute=0, second=0, microsecond=0)
        start = self.home_start_s if end == "home" else self.partner_start_s
        cycle = 2 * self.period_s
        gone = (slot_start_utc - hour).total_seconds() - start
        return hour + dt.timedelta(seconds=start + cycle * -(-gone // cycle))


def minutes_of(opener: str, mode: Mode) -> Periods:
    """The periods of a slot in this mode; `opener` is `home` or `partner`; ValueError for another word."""
    if opener not in ("home", "partner"):
        raise ValueError(f"the opener is home or partner, not '{opener}'")
    period = mode.period_s
    first, second = _starts_in_words(period, 0.0), _starts_in_words(period, period)
    home_opens = opener == "home"
    return Periods(
        opener="home" if home_opens else "partner",
        period_s=period,
        home_words=first if home_opens else second,
        partner_words=second if home_opens else first,
        home_start_s=0.0 if home_opens else period,
        partner_start_s=period if home_opens else 0.0,
    )


def _starts_in_words(period_s: float, start_s: float) -> str:
    """When the periods begin that start this long after the hour and then every second period."""
    cycle = 2 * period_s
    if period_s == MINUTE_S:
        return "on odd minutes (1, 3, 5 ...)" if start_s else "on even minutes (0, 2, 4 ...)"
    if MINUTE_S % cycle == 0:
        starts = [start_s + cycle * number for number in range(int(MINUTE_S // cycle))]
        if len(starts) == 1:
            return f"from second {starts[0]:g} to {starts[0] + period_s:g} of every minute"
        return f"for {period_s:g} s from second {_listed(starts)} of every minute"
    if cycle % MINUTE_S == 0 and period_s % MINUTE_S == 0 and HOUR_S % cycle == 0:
        starts = [(start_s + cycle * number) / MINUTE_S for number in range(3)]
        return f"for {period_s / MINUTE_S:g} minutes from minute {', '.join(f'{s:g}' for s in starts)} ... of the hour"
    turn = "second" if start_s else "first"
    return f"in the {turn} of every two periods of {period_s:g} s, counted from the full UTC hour"


def _listed(starts: list[float]) -> str:
    words = [f"{start:g}" for start in starts]
    return f"{', '.join(words[:-1])} and {words[-1]}"
