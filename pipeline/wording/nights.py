"""Why a night is good or bad, in one or two plain sentences, and what a period's nights are worth, in one.

From the facts of `outlook.reasons` with their weights: the weightiest that fit are told, in that order.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

import pandas as pd

from pipeline.outlook.facts import NEAR_SUN_DEG, Fact, FactKind
from pipeline.wording import formats

LONGEST = 170
FACTS = 4
PART_WORDS = {
    "sky": "a noisy patch of sky behind the Moon",
    "moon": "the Moon's own warmth",
    "sun": "the Sun's noise",
    "ground": "ground noise at low elevation",
    "air": "the air at low elevation",
}


def no_night_words(rises: dt.datetime | None, date: dt.date, zone: dt.tzinfo) -> str:
    """`no night: Moonrise 03:29 on Thursday`: why a date has none; `rises` is the next Moonrise after its noon, UTC."""
    if rises is None:
        return "no night"
    there = rises.astimezone(zone)
    when = "" if there.date() == date else f" on {formats.weekday(there.date())}"
    return f"no night: Moonrise {formats.clock(there.replace(second=0))}{when}"


def night_words(facts: Sequence[Fact]) -> str:
    """Two facts a sentence, two sentences, within the length; a fact that does not fit makes room for the next."""
    told: list[str] = []
    for fact in facts:
        words = _words(fact)
        if len(told) < FACTS and len(_sentences([*told, words])) <= LONGEST:
            told.append(words)
    return _sentences(told)


def month_sentence(nights: pd.DataFrame, planned_from: dt.date | None = None) -> str:
    """What the nights that can be used are worth: says so when they are bad, or when there are none.

    Those before `planned_from` are past.
    """
    if planned_from is not None:
        nights = nights[[night >= planned_from for night in nights["night"]]]
        if nights.empty:
            return "All nights are past."
        return f"From {formats.day_and_month(planned_from)} on: {month_sentence(nights)}"
    if "possible" in nights.columns:
        nights = nights[nights["possible"].astype(bool)]
    if nights.empty:
        return "Not one night can be used: home is away, or your nights leave it out."
    counts = {word: int((nights["outcome"] == word).sum()) for word in ("strong", "workable", "marginal")}
    if counts["strong"]:
        return f"{formats.count(counts['strong'], 'strong night')}, {counts['workable']} workable."
    if counts["workable"]:
        return f"No strong night; {formats.count(counts['workable'], 'workable one')}."
    if counts["marginal"]:
        return "A poor period: no night is better than marginal."
    return "A bad period: not one night is worth setting up for."


def place_words(fact: Fact) -> str:
    """`near perigee (366,000 km)`, `the Moon at 384,000 km`."""
    distance = formats.kilometres(fact.distance_km)
    if fact.kind is FactKind.MOON_DISTANCE:
        return f"the Moon at {distance}"
    return f"near {'perigee' if fact.kind is FactKind.NEAR_PERIGEE else 'apogee'} ({distance})"


def _sentences(facts: Sequence[str]) -> str:
    texts = ["; ".join(facts[first : first + 2]) for first in range(0, len(facts), 2)]
    return " ".join(text[0].upper() + text[1:] + "." for text in texts)


def _words(fact: Fact) -> str:
    """One fact of a night without capital and full stop."""
    calls, loss = fact.calls, f"{fact.loss_db:.1f} dB"
    match fact.kind:
        case FactKind.HOME_AWAY:
            return "home is away on this date"
        case FactKind.NOT_YOUR_NIGHT:
            return f"{formats.weekday(fact.nights[0])} is not one of your nights"
        case FactKind.NOBODY_IN_REACH:
            return "no partner has the Moon in sight together with home"
        case FactKind.DECLINATION:
            return f"the Moon's declination is {_declination(fact.angle_deg)}"
        case FactKind.SUN_NEAR | FactKind.SUN_INSIDE_LIMIT:
            return _sun(fact)
        case FactKind.SUN_TAKES_ALL_SLOTS:
            return "your limit to the Sun leaves no partner a slot"
        case FactKind.SUN_TAKES_SLOTS:
            who = formats.listed(calls) if len(calls) <= 2 else f"{len(calls)} partners"
            return f"your limit to the Sun leaves {who} no slot"
        case FactKind.ALL_IN_REACH:
            return f"{'both' if fact.partners == 2 else f'all {fact.partners}'} partners in reach"
        case FactKind.ONLY_IN_REACH:
            return f"only {formats.listed(calls)} in reach"
        case FactKind.SOME_IN_REACH:
            return f"{fact.partners} of {fact.of_partners} partners in reach"
        case FactKind.NOT_IN_REACH:
            return f"{fact.partners} partners in reach, not {formats.listed(calls, 'or')}"
        case FactKind.NO_COMMON_MODE:
            return f"{calls[0]} shares no mode with home"
        case FactKind.PARTNER_TOO_WEAK:
            return f"{calls[0]}'s signal is {loss} short{_power(fact, 'its')}"
        case FactKind.HOME_TOO_WEAK:
            power = _power(fact, "home's")
            return f"home's signal is {loss} short at {calls[0]}{power}"
        case FactKind.SHORT_WINDOW:
            minutes = max(1, math.floor(fact.duration_min))
            return f"{calls[0]}'s window lasts only {formats.count(minutes, 'minute')}"
        case FactKind.NEAR_PERIGEE | FactKind.NEAR_APOGEE | FactKind.MOON_DISTANCE:
            return f"{place_words(fact)}, {loss} short of the best case"
        case FactKind.NOISE:
            return f"{PART_WORDS[fact.part]} costs {loss} on average"
        case FactKind.POLARIZATION_LOSS:
            return f"polarization costs {calls[0]} {loss}"
        case FactKind.SPREAD_LOSS:
            return f"Doppler spread costs {calls[0]} {loss}"
        case FactKind.BEST_CHANCE:
            return f"the best night for {formats.listed(calls)}"
        case FactKind.LOW_MOON:
            verb = "sees" if len(calls) == 1 else "see"
            return f"{formats.listed(calls)} never {verb} the Moon above {_up(fact.angle_deg)} degrees"


def _sun(fact: Fact) -> str:
    inside = fact.kind is FactKind.SUN_INSIDE_LIMIT
    away = _degrees_below(fact.angle_deg, fact.limit_deg) if inside else f"{fact.angle_deg:.0f}"
    words = f"the Sun is {away} degrees away"
    words += f", inside your limit of {fact.limit_deg:g} degrees" if inside else ""
    if fact.nights:
        until = formats.day_and_month(fact.nights[-1])
        words += f"{',' if inside else ''} and stays within {NEAR_SUN_DEG:.0f} degrees until {until}"
    return words


def _degrees_below(value: float, limit: float) -> str:
    """Whole degrees, finer where rounding would reach the limit."""
    return f"{value:.0f}" if round(value) < limit else f"{math.floor(value * 10) / 10:.1f}"


def _declination(value_deg: float) -> str:
    whole = round(value_deg)
    return f"{abs(whole)} degrees {'north' if whole > 0 else 'south'}" if whole else "0 degrees"


def _power(fact: Fact, whose: str) -> str:
    if math.isnan(fact.power_factor):
        return ""
    return f" ({fact.power_factor:.1f} times {whose} power would mend it)"


def _up(value: float) -> int:
    """Rounded up, with room for what lies between two samples: "never above 8" must hold."""
    return math.ceil(value + 0.02)
