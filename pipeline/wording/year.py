"""A year in words: why a weekend is worth keeping free, and where the year stands in the Moon's long course.

From the facts of `outlook.weekends`, told in their order, and the course of `outlook.lunar_course`.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from zoneinfo import ZoneInfo

import numpy as np

from pipeline.outlook.facts import Fact, FactKind
from pipeline.outlook.lunar_course import Course
from pipeline.wording import formats
from pipeline.wording.nights import PART_WORDS, can_be_met_words, place_words

LONGEST = 165


def weekend_words(facts: Sequence[Fact], zone: ZoneInfo) -> str:
    """A sentence a fact, as many as fit, in the order given; the hours are those of `zone`."""
    text = ""
    for fact in facts:
        words = _words(fact, zone)
        longer = f"{text} {words[0].upper()}{words[1:]}.".strip()
        if len(longer) <= LONGEST:
            text = longer
    return text


def no_weekend_words(best_if_free: str) -> str:
    """Why none is told; `best_if_free` is the best weekend for a home that is always free, empty without one."""
    words = "None earns a set-up within everybody's hours."
    return f"{words} Were you free, the best would be {best_if_free}." if best_if_free else words


def course_sentence(course: Course, year: int) -> str:
    """Where a year stands in the course, in one sentence; empty where the kernel does not cover the year."""
    if year not in course.years:
        return ""
    north, south = course.of(year)
    words = f"The Moon comes to {north:.1f} degrees north and {-south:.1f} degrees south in {year}"
    turning = course.next_turning(year)
    neighbours = course.north_deg[np.isin(course.years, [year - 1, year + 1])]
    if neighbours.size == 2 and (np.all(neighbours < north) or np.all(neighbours > north)):
        words += f", the {'most' if neighbours[0] < north else 'least'} of its course of 18.6 years"
    if turning is None:
        return words + "."
    when, limit = turning
    return f"{words}, {'rising' if limit > north else 'falling'} to {limit:.1f} degrees in {when}."


def _words(fact: Fact, zone: ZoneInfo) -> str:
    """One fact of a weekend without capital and full stop."""
    match fact.kind:
        case FactKind.HOME_AWAY:
            return f"home is away on {formats.listed([formats.weekday(date) for date in fact.nights])}"
        case FactKind.SUN_NEAR | FactKind.SUN_INSIDE_LIMIT:
            return f"the Sun comes within {math.ceil(fact.angle_deg)} degrees on {formats.weekday(fact.nights[0])}"
        case FactKind.NOBODY_FREE:
            return "nobody can be met within everybody's hours"
        case FactKind.NEAR_PERIGEE | FactKind.NEAR_APOGEE | FactKind.MOON_DISTANCE:
            return f"{place_words(fact)}, {_declinations(*fact.declinations_deg)}"
        case FactKind.NOISE:
            return f"{PART_WORDS[fact.part]} costs home {fact.loss_db:.1f} dB"
    who = can_be_met_words(fact) if fact.calls else "nobody is worth a set-up"
    return f"{who}{_when(fact, zone)}"


def _when(fact: Fact, zone: ZoneInfo) -> str:
    """The best night of a weekend and when the Moon is up on it."""
    if fact.best_night is None:
        return ""
    words = f", best on {formats.weekday(fact.best_night)}"
    if fact.moon_up is None:
        return words
    rise, set_ = formats.inward(*fact.moon_up)
    if set_ - rise > dt.timedelta(days=1):
        return f"{words}, Moon up all day"
    # The Moon of a night may rise on a neighbour's date: then it carries its weekday.
    start, end = formats.clock_of_night(rise, zone, fact.best_night), formats.clock(set_.astimezone(zone))
    return f"{words}, Moon up {start} to {end}"


def _declinations(low: float, high: float) -> str:
    """`21 to 27 degrees north`, `2 degrees south to 5 north`, `27 degrees south`."""
    first, last = round(low), round(high)
    if first < 0 < last:
        return f"{-first} degrees south to {last} north"
    side = "south" if first < 0 or last < 0 else "north"
    small, large = sorted((abs(first), abs(last)))
    return f"{large} degrees {side}" if small == large else f"{small} to {large} degrees {side}"
