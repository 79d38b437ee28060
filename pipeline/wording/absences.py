"""Why a partner has no slot, as a sentence for the operator: from the cause, its figures and what would change it.

Sentences have no full stop. They may name other partners: letters never take them.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

from pipeline.absence.causes import (
    Absence,
    AfterLatestHour,
    Cause,
    EarnsTooLittle,
    HeldByOthers,
    HoursTooShort,
    NoCommonMode,
    OnlyOnDates,
    OthersWorthMore,
    SlotsOutsideHours,
    StretchTooShort,
    SunTooNear,
    TooWeak,
    WithoutWindow,
)
from pipeline.absence.counterfactuals import MOST_DB
from pipeline.absence.remedies import LargerDish, LongerHours, MoreNights, Room, Upgrade
from pipeline.inputs.model import WEEKDAYS
from pipeline.wording import formats
from pipeline.wording.no_windows import no_window_words

UPGRADES_SHOWN = 3
DATES_SHOWN = 3
OTHERS_SHOWN = 4
PLAIN = {
    Cause.NOT_WANTED: "no contact is wanted (contacts_wanted is 0)",
    Cause.WORKED: "it is worked",
    Cause.PAST: "all times at which it could have been worked are past",
    Cause.OFFERS_DECLINED: "what was offered is declined, and no other time of this period fits both ends",
    Cause.MOON_TOO_LOW: "within all rules the Moon never stands half a beam clear of the skyline for long enough",
    Cause.RULES_TOGETHER: "several rules together leave no time: your hours and nights, its hours,"
    " and the distance to the Sun",
    Cause.NIGHTS_EARN_TOO_LITTLE: "not worth a set-up: all it and others could earn on its nights is less than a night"
    " costs",
}


def partner_absence_words(absence: Absence, home: str, partner: str) -> str:
    """Why a partner has no slot; `home` and `partner` are the calls."""
    match absence:
        case WithoutWindow():
            return f"no window: {no_window_words(absence.no_window, home, partner)}"
        case NoCommonMode(home_modes=mine, partner_modes=theirs):
            modes = [formats.listed(list(some)) or "none" for some in (mine, theirs)]
            return f"no mode in common: home has {modes[0]}, {partner} has {modes[1]}"
        case HeldByOthers():
            return f"what is agreed with {_holders(absence)} holds the dish whenever it could be worked"
        case TooWeak():
            return _too_weak(absence, partner)
        case SunTooNear():
            return (
                f"the Sun is within {absence.limit_deg:g} degrees of the Moon whenever both ends could work;"
                f" a smaller limit would open {formats.count(absence.nights, 'night')}"
            )
        case AfterLatestHour():
            return f"only later than {latest_hour(absence.latest)}: {_dates(absence.dates)}"
        case OnlyOnDates():
            return f"{_only_on(absence.cause, partner)}: {_dates(absence.dates)}"
        case HoursTooShort(longer=longer, call=call):
            opens = formats.count(len(longer.nights), "night")
            return f"hours do not meet: {longer_hours(longer, call)} would open {opens}"
        case SlotsOutsideHours():
            return _slots_outside_hours(absence, partner)
        case StretchTooShort():
            longest = formats.count(absence.longest_minutes, "minute")
            return f"its longest stretch within all rules lasts {longest}; a slot needs {absence.needed_minutes}"
        case EarnsTooLittle():
            earns = worth(absence.worth, absence.night_cost)
            cost = f"a night costs {absence.night_cost:g}"
            return f"not worth a set-up: with its priority it earns {earns} at best, and {cost}"
        case OthersWorthMore():
            return _others_worth_more(absence)
    return PLAIN[absence.cause]


def _holders(absence: HeldByOthers) -> str:
    slots = [f"{call} {label}" for call, label in absence.slots]
    return formats.listed(slots) or "a station that is no partner now"


def _too_weak(absence: TooWeak, partner: str) -> str:
    """How many decibels are missing, and what would bring them."""
    when = "at whatever hour" if absence.at_any_hour else "at the hours that both ends have"
    if absence.missing_db is None:
        return f"far too weak {when}: even {MOST_DB:.0f} dB more both ways would not do"
    words = f"short by {absence.missing_db:.1f} dB {when}"
    upgrades = [_upgrade(one, partner) for one in absence.upgrades[:UPGRADES_SHOWN]]
    return f"{words}; what would do: {' or '.join(upgrades)}" if upgrades else words


def _upgrade(upgrade: Upgrade, partner: str) -> str:
    place = "home" if upgrade.end == "home" else partner
    if isinstance(upgrade, LargerDish):
        return f"a dish of {upgrade.diameter_m:.1f} m at {place}"
    return f"{upgrade.power_w:g} W at {place}"


def _only_on(cause: Cause, partner: str) -> str:
    if cause is Cause.HOME_AWAY:
        return "only when home is away"
    if cause is Cause.NIGHTS_LEFT_OUT:
        return "only on nights that your policy leaves out"
    return f"only when {partner} is away"


def _slots_outside_hours(absence: SlotsOutsideHours, partner: str) -> str:
    whose = {
        ("home",): "your hours",
        ("partner",): f"the hours of {partner}",
        ("home", "partner"): "your hours and its",
    }[absence.ends]
    clock = " to ".join(map(formats.clock, absence.clock)) if absence.clock else "any hour"
    return f"hours do not meet: good slots lie at {clock} your time, outside {whose}"


def _others_worth_more(absence: OthersWorthMore) -> str:
    words = f"worth less than {formats.listed(list(absence.calls[:OTHERS_SHOWN])) or 'nobody'}"
    if absence.room is not None:
        return f"{words}; {_room(absence.room)}"
    if absence.shares_nights:
        return f"{words} at every time it could have"
    return f"{words}, and one night or one slot a night more would not change that"


def _room(room: Room) -> str:
    if isinstance(room, MoreNights):
        return f"with {room.nights} nights it would have a slot"
    return f"with {room.slots} slots a night it would have one"


def _dates(dates: Sequence[dt.date]) -> str:
    """The first few nights by date."""
    shown = [f"{formats.WEEKDAYS[one.weekday()]} {one.day} {formats.MONTHS[one.month - 1]}" for one in dates]
    if len(shown) > DATES_SHOWN:
        return f"{', '.join(shown[:DATES_SHOWN])} and {len(shown) - DATES_SHOWN} more"
    return formats.listed(shown)


# What partners and nights share


def latest_hour(latest: dt.time | None) -> str:
    """`your latest hour before a working day (01:00)`."""
    return f"your latest hour before a working day ({formats.clock(latest) if latest else 'none'})"


def longer_hours(longer: LongerHours, call: str) -> str:
    """`the hours of QF4LUM beginning 45 minutes earlier on Saturdays`."""
    whose = "your hours" if longer.end == "home" else f"the hours of {call}"
    edge, direction = ("beginning", "earlier") if longer.edge == "before" else ("ending", "later")
    days = [f"{formats.WEEKDAYS_LONG[WEEKDAYS.index(day)]}s" for day in longer.days]
    when = f" on {formats.listed(days)}" if days else ""
    return f"{whose} {edge} {hours_and_minutes(longer.minutes)} {direction}{when}"


def hours_and_minutes(minutes: int) -> str:
    """`45 minutes`, `1 hour`, `1 hour 30 minutes`."""
    whole, rest = divmod(minutes, 60)
    parts = [formats.count(whole, "hour")] if whole else []
    return " ".join([*parts, *([formats.count(rest, "minute")] if rest else [])])


def worth(value: float, below: float) -> str:
    """`0.2 of a contact`: rounded up to a tenth, or finer where that would not lie below the limit it fails."""
    for digits in (1, 2, 3):
        shown = math.ceil(value * 10**digits - 1e-9) / 10**digits
        if shown < below:
            return contacts(f"{shown:.{digits}f}")
    return f"hardly less than {contacts(f'{below:g}')}"


def contacts(figure: str) -> str:
    """`0.2 of a contact`, `1 contact`, `3.2 contacts`."""
    value = float(figure)
    return f"{figure} of a contact" if value < 1.0 else "1 contact" if value == 1.0 else f"{figure} contacts"
