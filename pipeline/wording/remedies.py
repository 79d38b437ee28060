"""What would let a partner in, in words for the operator: the change, the slot it brings, and what to type to see it.

From the remedy that was tried (`absence/remedies.py`). Phrases have no full stop.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from pipeline.absence.remedies import (
    DatesGivenBack,
    LargerDish,
    LaterHour,
    LongerHours,
    LowerNightCost,
    ModeAdded,
    MoreNights,
    MorePower,
    MoreSlots,
    NightsAdded,
    Remedy,
    SmallerSunSeparation,
    Tried,
)
from pipeline.inputs.model import WEEKDAYS
from pipeline.wording import formats
from pipeline.wording.pasted import pasted


def tried_words(tried: Tried, partner: str, zone: dt.tzinfo, limits: tuple[float, ...] = ()) -> str:
    """`what would do: a dish of 2.4 m at QF4LUM: then Fri 5 March, chance 60 %`; the date by home's clock."""
    changes = formats.listed([remedy_words(one, partner) for one in tried.remedies])
    when = formats.day_and_month(tried.slot_start_utc.astimezone(zone).date())
    return f"what would do: {changes}: then {when}, chance {formats.chance(tried.chance, limits)}"


def remedy_words(remedy: Remedy, partner: str) -> str:
    """One change as a noun."""
    match remedy:
        case LongerHours():
            return longer_hours(remedy, partner)
        case DatesGivenBack(end="home", dates=dates):
            return f"you at home on {formats.date_runs(list(dates))}"
        case DatesGivenBack(dates=dates):
            return f"{partner} there on {formats.date_runs(list(dates))}"
        case LargerDish(end=end, diameter_m=diameter_m):
            return f"a dish of {diameter_m:.1f} m at {_place(end, partner)}"
        case MorePower(end=end, power_w=power_w):
            return f"{power_w:g} W at {_place(end, partner)}"
        case ModeAdded(end=end, mode=mode):
            return f"{mode} at {_place(end, partner)}"
        case NightsAdded(days=days):
            return f"{_plural(days)} among your nights"
        case LaterHour(latest=latest):
            return f"{formats.clock(latest)} as your latest hour before a working day"
        case SmallerSunSeparation(limit_deg=limit_deg):
            return f"{limit_deg:g} degrees as the least distance to the Sun"
        case MoreNights(nights=nights):
            return formats.count(nights, "night")
        case MoreSlots(slots=slots):
            return f"{formats.count(slots, 'slot')} a night"
        case LowerNightCost(night_cost=night_cost):
            return f"a night cost of {night_cost:g}"


def typed_changes(change: str) -> str:
    """`--what-if 'QF4LUM.available=[...]'`: the changes as a shell takes them, in quotes where it needs them."""
    return " ".join(f"--what-if {pasted(one)}" for one in change.split())


def longer_hours(longer: LongerHours, partner: str) -> str:
    """`the hours of QF4LUM beginning 45 minutes earlier on Saturdays`."""
    whose = "your hours" if longer.end == "home" else f"the hours of {partner}"
    edge, direction = ("beginning", "earlier") if longer.edge == "before" else ("ending", "later")
    when = f" on {_plural(longer.days)}" if longer.days else ""
    return f"{whose} {edge} {hours_and_minutes(longer.minutes)} {direction}{when}"


def hours_and_minutes(minutes: int) -> str:
    """`45 minutes`, `1 hour`, `1 hour 30 minutes`."""
    whole, rest = divmod(minutes, 60)
    parts = [formats.count(whole, "hour")] if whole else []
    return " ".join([*parts, *([formats.count(rest, "minute")] if rest else [])])


def _place(end: str, partner: str) -> str:
    return "home" if end == "home" else partner


def _plural(days: Sequence[str]) -> str:
    """`Fridays and Saturdays`."""
    return formats.listed([f"{formats.WEEKDAYS_LONG[WEEKDAYS.index(day)]}s" for day in days])
