"""Why a partner has fewer slots than it wants, for the operator: the causes as words, and as sentences with what helps.

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
    NightsFull,
    NoCommonMode,
    OnlyOnDates,
    OthersWorthMore,
    SlotsOutsideHours,
    StretchTooShort,
    SunTooNear,
    Taken,
    TooWeak,
    Unstated,
    WithoutWindow,
)
from pipeline.absence.counterfactuals import MOST_DB
from pipeline.wording import formats
from pipeline.wording.no_windows import no_window_words
from pipeline.wording.remedies import tried_words

DATES_SHOWN = 3
OTHERS_SHOWN = 4
PLAIN = {
    Cause.NOT_WANTED: "no contact is wanted (contacts_wanted is 0)",
    Cause.WORKED: "it is worked",
    Cause.PAST: "all times at which it could have been worked are past",
    Cause.OFFERS_DECLINED: "what was offered is declined, and no other time of this period fits both ends",
    Cause.MOON_TOO_LOW: "within all rules the Moon never stands half a beam clear of the skyline for long enough",
    Cause.NO_FURTHER_WINDOW: "no other window holds a further slot",
    Cause.RULES_TOGETHER: "three rules or more leave no time only together: of hours, dates away, nights, latest hour"
    " and distance to the Sun",
    Cause.NIGHTS_EARN_TOO_LITTLE: "not worth a set-up: all it and others could earn on its nights is less than a night"
    " costs",
}
# The words of absences.csv.
NO_WINDOW, NO_MODE, NO_HOURS, AWAY = "no window", "no shared mode", "hours do not meet", "away"
NIGHTS_OUT, SUN, WEAK, OTHERS = "nights left out", "Sun too near", "chance below marginal", "other slots take the time"
FULL, NOT_WORTH = "nights full", "night not worth it"
CAUSE_WORDS = {
    Cause.NO_WINDOW: NO_WINDOW,
    Cause.NO_FURTHER_WINDOW: NO_WINDOW,
    Cause.MOON_TOO_LOW: NO_WINDOW,
    Cause.PAST: NO_WINDOW,
    Cause.NO_COMMON_MODE: NO_MODE,
    Cause.HOURS_DO_NOT_MEET: NO_HOURS,
    Cause.AFTER_LATEST_HOUR: NO_HOURS,
    Cause.STRETCH_TOO_SHORT: NO_HOURS,
    Cause.RULES_TOGETHER: NO_HOURS,
    Cause.OFFERS_DECLINED: NO_HOURS,
    Cause.HOME_AWAY: AWAY,
    Cause.PARTNER_AWAY: AWAY,
    Cause.TAKEN: AWAY,
    Cause.NIGHTS_LEFT_OUT: NIGHTS_OUT,
    Cause.SUN_TOO_NEAR: SUN,
    Cause.TOO_WEAK: WEAK,
    Cause.HELD_BY_OTHERS: OTHERS,
    Cause.OTHERS_WORTH_MORE: OTHERS,
    Cause.NIGHTS_FULL: FULL,
    Cause.EARNS_TOO_LITTLE: NOT_WORTH,
    Cause.NIGHTS_EARN_TOO_LITTLE: NOT_WORTH,
}
UNSTATED = {
    Unstated.HOURS: "hours",
    Unstated.SKYLINE: "skyline",
    Unstated.EQUIPMENT: "equipment",
    Unstated.MODES: "modes",
}
# Of two that are in the way only together.
TOGETHER = {
    Cause.HOURS_DO_NOT_MEET: "the hours",
    Cause.AFTER_LATEST_HOUR: "your latest hour before a working day",
    Cause.HOME_AWAY: "your dates away",
    Cause.PARTNER_AWAY: "its dates away",
    Cause.TAKEN: "the calendars that say busy",
    Cause.NIGHTS_LEFT_OUT: "the nights that your policy leaves out",
    Cause.SUN_TOO_NEAR: "the distance to the Sun",
    Cause.TOO_WEAK: "the weak signal",
}
# What stands in the way besides.
BESIDES = {
    Cause.NIGHTS_FULL: "all nights that your policy allows are in use",
    Cause.OTHERS_WORTH_MORE: "others have the slots of these nights",
    Cause.NIGHTS_EARN_TOO_LITTLE: "it would not earn a set-up",
}


def partner_absence_words(
    absence: Absence, home: str, partner: str, zone: dt.tzinfo, limits: tuple[float, ...] = ()
) -> str:
    """Why a partner has no slot, or too few, and what would do; `home` and `partner` are the calls, the zone home's.

    `limits` are those of the outcome words, as in `formats.chance`.
    """
    told = [_cause_words(absence, home, partner) + unstated_words(absence.unstated)]
    if absence.second in BESIDES:
        told.append(f"besides, {BESIDES[absence.second]}")
    if absence.tried is not None:
        told.append(tried_words(absence.tried, partner, zone, limits))
    has = f"only {absence.has} of {absence.wanted} slots: " if absence.has else ""
    return has + "; ".join(told)


def unstated_words(unstated: Sequence[Unstated]) -> str:
    """` (its hours are assumed: ask it)`; empty where nothing is."""
    if not unstated:
        return ""
    verb = "is" if list(unstated) in ([Unstated.SKYLINE], [Unstated.EQUIPMENT]) else "are"
    return f" (its {formats.listed([UNSTATED[one] for one in unstated])} {verb} assumed: ask it)"


def _cause_words(absence: Absence, home: str, partner: str) -> str:
    """The cause, or two causes that only together are one."""
    if absence.second in TOGETHER:
        if absence.cause is absence.second is Cause.TAKEN:
            return f"calendars of yours and of {partner} take all good slots"
        if absence.cause is absence.second:
            return f"hours do not meet: good slots lie outside your hours and those of {partner}"
        causes = formats.listed([TOGETHER[absence.cause], TOGETHER[absence.second]])
        return f"two things together leave no time: {causes}"
    match absence:
        case WithoutWindow():
            return f"no window: {no_window_words(absence.no_window, home, partner)}"
        case NoCommonMode(home_modes=mine, partner_modes=theirs):
            modes = [formats.listed(list(some)) or "none" for some in (mine, theirs)]
            return f"no mode in common: home has {modes[0]}, {partner} has {modes[1]}"
        case HeldByOthers():
            return f"what is agreed with {_holders(absence)} holds the dish whenever it could be worked"
        case TooWeak():
            return _too_weak(absence)
        case SunTooNear():
            return f"the Sun is within {absence.limit_deg:g} degrees of the Moon whenever both ends could work"
        case AfterLatestHour():
            return f"only later than {latest_hour(absence.latest)}: {_dates(absence.dates)}"
        case OnlyOnDates():
            return f"{_only_on(absence.cause, partner)}: {_dates(absence.dates)}"
        case Taken(files=files):
            return f"{formats.listed(list(files))} says busy whenever it could be worked: {_dates(absence.dates)}"
        case SlotsOutsideHours():
            return _slots_outside_hours(absence, partner)
        case StretchTooShort():
            longest = formats.count(absence.longest_minutes, "minute")
            return f"its longest stretch within all rules lasts {longest}; a slot needs {absence.needed_minutes}"
        case EarnsTooLittle():
            earns = worth(absence.worth, absence.night_cost)
            cost = f"a night costs {absence.night_cost:g}"
            return f"not worth a set-up: with its priority it earns {earns} at best, and {cost}"
        case OthersWorthMore(calls=calls):
            them = f"worth less than {_calls(calls)}" if calls else "its other slots are worth more"
            return f"{them} at the times it could have"
        case NightsFull(maximum_nights=most, calls=calls):
            nights, verb = ("the one night", "is") if most == 1 else (f"all {most} nights", "are")
            what = f"worth more with {_calls(calls)}" if calls else "in use"
            return f"{nights} that your policy allows {verb} {what}"
    return PLAIN[absence.cause]


def _holders(absence: HeldByOthers) -> str:
    slots = [f"{call} {label}" for call, label in absence.slots]
    return formats.listed(slots) or "a station that is no partner now"


def _too_weak(absence: TooWeak) -> str:
    """How many decibels are missing."""
    when = "at whatever hour" if absence.at_any_hour else "at the hours that both ends have"
    if absence.missing_db is None:
        return f"far too weak {when}: even {MOST_DB:.0f} dB more both ways would not do"
    return f"short by {absence.missing_db:.1f} dB {when}"


def _calls(calls: Sequence[str]) -> str:
    """The first few calls."""
    return formats.listed(list(calls[:OTHERS_SHOWN]))


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


def _dates(dates: Sequence[dt.date]) -> str:
    """The first few nights by date."""
    shown = list(map(formats.day_and_month, dates))
    if len(shown) > DATES_SHOWN:
        return f"{', '.join(shown[:DATES_SHOWN])} and {len(shown) - DATES_SHOWN} more"
    return formats.listed(shown)


# What partners and nights share


def latest_hour(latest: dt.time | None) -> str:
    """`your latest hour before a working day (01:00)`."""
    return f"your latest hour before a working day ({formats.clock(latest) if latest else 'none'})"


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
