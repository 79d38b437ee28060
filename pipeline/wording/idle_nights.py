"""Why a night has no slot, as a sentence for the operator: from the cause and its figures.

Sentences have no full stop.
"""

from __future__ import annotations

from pipeline.absence.causes import (
    Absence,
    AfterLatestHour,
    Cause,
    EarnsTooLittle,
    NoHomeHours,
    OnlyWorthItsCost,
    OtherNightsWorthMore,
    PartnersAway,
    PartnersOutsideHours,
    Rule,
    RulesTogether,
    SunTooNear,
    Taken,
    Unlikely,
    WeekdayLeftOut,
)
from pipeline.wording import formats
from pipeline.wording.absences import latest_hour, worth

CALLS_SHOWN = 3
PLAIN = {
    Cause.PAST: "it is past",
    Cause.HOME_AWAY: "home is away",
    Cause.NOBODY_IN_SIGHT: "no partner has the Moon in sight together with home",
    Cause.OFFERS_DECLINED: "what could be worked was declined",
    Cause.HELD_OR_DECLINED: "what is agreed holds the dish, or was declined",
    Cause.NOTHING_TO_ADD: "everybody within reach has a slot already, and another would hardly better the chance",
}
RULES = {
    Rule.HOURS: "hours",
    Rule.DATES_AWAY: "dates away",
    Rule.LATEST_HOUR: "latest hour",
    Rule.SUN_SEPARATION: "distance to the Sun",
}


def idle_night_words(absence: Absence) -> str:
    """Why a night has no slot."""
    match absence:
        case WeekdayLeftOut(weekday=weekday):
            return f"{formats.WEEKDAYS_LONG[weekday]}s are not among your nights"
        case SunTooNear(limit_deg=limit_deg):
            return f"the Sun is within {limit_deg:g} degrees of the Moon"
        case AfterLatestHour(latest=latest, calls=calls):
            return f"{_calls(calls)} could be worked only later than {latest_hour(latest)}"
        case PartnersAway(calls=calls):
            return f"{_calls(calls)} could be worked, but {'is' if len(calls) == 1 else 'are'} away"
        case Taken(files=files, calls=calls):
            return f"{formats.listed(list(files))} says busy; {_calls(calls)} could be worked"
        case RulesTogether(calls=calls, rules=rules):
            together = formats.listed([RULES[rule] for rule in rules])
            return f"several rules together leave no time for {_calls(calls)}: {together}"
        case NoHomeHours(weekday=weekday, calls=calls):
            day = formats.WEEKDAYS_LONG[weekday]
            return f"you give no hours for {day} nights; {_calls(calls)} could be worked"
        case PartnersOutsideHours():
            return f"hours do not meet: {_calls(absence.calls)} could be worked only outside {_whose_hours(absence)}"
        case Unlikely(best=None):
            return "no partner in reach has a chance better than unlikely, at whatever hour"
        case Unlikely(best=best):
            return f"no chance is better than unlikely; the best partner would be {best}"
        case OtherNightsWorthMore(maximum_nights=1):
            return "the one night that your policy allows is worth more on another date"
        case OtherNightsWorthMore(maximum_nights=most):
            return f"the {most} nights that your policy allows are worth more on other dates"
        case EarnsTooLittle(worth=gain, night_cost=cost):
            return f"by your priorities it could add at most {worth(gain, cost)}, and a set-up must earn {cost:g}"
        case OnlyWorthItsCost(night_cost=cost):
            return f"all it could add to this agenda is worth no more than a set-up, {cost:g}"
    return PLAIN[absence.cause]


def _calls(calls: tuple[str, ...]) -> str:
    """The first few calls."""
    return formats.listed(list(calls[:CALLS_SHOWN]))


def _whose_hours(absence: PartnersOutsideHours) -> str:
    own, theirs = ("its own hours", "its") if len(absence.calls) == 1 else ("their own hours", "theirs")
    if len(absence.ends) > 1:
        return f"your hours and {theirs}"
    return "your hours" if absence.ends == ("home",) else own
