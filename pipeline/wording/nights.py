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
# So many partners are told by name.
NAMED = 3
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
        case FactKind.NOBODY_FREE:
            return f"{_partners(fact.partners)} could be heard, but not within the hours of both ends"
        case FactKind.NOBODY_STRONG_ENOUGH:
            return f"{_partners(fact.partners)} in sight, none with a chance better than unlikely"
        case FactKind.CAN_BE_MET:
            return can_be_met_words(fact)
        case FactKind.ONLY_NOW:
            return f"{formats.listed(calls)} can be met on this night alone"
        case FactKind.HOURS_LOST:
            return f"{fact.partners} more could be heard, outside the hours of one end"
        case FactKind.NEAR_PERIGEE | FactKind.NEAR_APOGEE | FactKind.MOON_DISTANCE:
            return f"{place_words(fact)}, {loss} short of the best case"
        case FactKind.NOISE:
            return f"{PART_WORDS[fact.part]} costs {loss}"
        case FactKind.POLARIZATION_LOSS:
            return f"polarization costs {calls[0]} {loss}"
        case FactKind.SPREAD_LOSS:
            return f"Doppler spread costs {calls[0]} {loss}"
        case FactKind.BEST_CHANCE:
            chances = formats.chance(fact.chance), formats.chance(fact.next_chance)
            return f"the best night for {calls[0]}: chance {chances[0]}, elsewhere {chances[1]} at most"
        case FactKind.LOW_MOON:
            return f"{calls[0]} has the Moon at {fact.angle_deg:.0f} degrees in its best slot"
    raise ValueError(f"no words for {fact.kind}")


def can_be_met_words(fact: Fact) -> str:
    """`QF4LUM and QG8FEN of 9 partners can be met`; `5 of 9 partners can be met`; `all 9 partners can be met`."""
    met, every = len(fact.calls), fact.of_partners
    if met == every and every > 2:
        return f"all {every} partners can be met"
    if met <= NAMED:
        of_all = f" of {every} partners" if every > met else ""
        return f"{formats.listed(fact.calls)}{of_all} can be met"
    return f"{met} of {every} partners can be met"


def _partners(count: int) -> str:
    return formats.count(count, "partner")


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
