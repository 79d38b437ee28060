"""A year in words: who can be met on a weekend and why it is worth keeping free, and the Moon's long course.

From the facts of `outlook.weekends`, told in their order, and the course of `outlook.lunar_course`; the alternative
texts of the year's pictures stand here as well.
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
# A row has room for so many calls and letters; then the others are counted.
MOST_CALLS, MOST_LETTERS = 6, 42
WEEKEND_NAMES = list(formats.WEEKDAYS_LONG[4:])


def weekend_words(facts: Sequence[Fact], zone: ZoneInfo) -> str:
    """A sentence a fact, as many as fit, in the order given; the hours are those of `zone`."""
    text = ""
    for fact in facts:
        words = _words(fact, zone)
        longer = f"{text} {words[0].upper()}{words[1:]}.".strip()
        if len(longer) <= LONGEST:
            text = longer
    return text


def with_whom(calls: Sequence[str]) -> str:
    """The first calls, as many as there is room for, and how many more."""
    for shown in range(min(len(calls), MOST_CALLS), 0, -1):
        words = " ".join(calls[:shown])
        if shown < len(calls):
            words += f" and {len(calls) - shown} more"
        if len(words) <= MOST_LETTERS or shown == 1:
            return words
    return ""


def away_words(away: Sequence[dt.date], nights: int) -> str:
    """On which of so many nights home is away: `away`, `away Fri`, `away 2 nights`; empty for none."""
    if not away:
        return ""
    if len(away) == nights:
        return "away"
    return f"away {formats.WEEKDAYS[away[0].weekday()]}" if len(away) == 1 else f"away {len(away)} nights"


def row_words(days: Sequence[str]) -> str:
    """What a row of weekends is: `a row a weekend, the nights named Friday, Saturday and Sunday`."""
    names = _weekdays(days)
    if names == WEEKEND_NAMES:
        return "a row a weekend, Friday to Sunday night"
    return f"a row a week, the {'night' if len(names) == 1 else 'nights'} named {formats.listed(names)}"


def named_nights(days: Sequence[str]) -> str:
    """Which nights a row holds, as one of them: `a weekend night`, `a night named Tuesday or Wednesday`."""
    names = _weekdays(days)
    return "a weekend night" if names == WEEKEND_NAMES else f"a night named {formats.listed(names, 'or')}"


def _weekdays(days: Sequence[str]) -> list[str]:
    return [formats.WEEKDAYS_LONG[[day.lower() for day in formats.WEEKDAYS].index(one)] for one in days]


def weekends_title(dates: str, count: str, best: Sequence[tuple[str, float]], without: int) -> str:
    """The message of the picture of so many weekends or weeks; `best` are dates and contacts, the best first."""
    words = f"Contacts to expect, {dates}"
    if best:
        words += f": most on {formats.listed([f'{date} ({formats.contacts(value)})' for date, value in best])}"
    return f"{words}; on {without} of {count} nobody can be met. The figures stand in the table."


def marks_title(partners: Sequence[tuple[str, str]], if_free: str) -> str:
    """A weekend's marks: each call with the word of its chance."""
    met = formats.listed([f"{call} {word}" for call, word in partners]) or "Nobody"
    return f"{met}; {if_free} if you were free"


def months_title_words(dates: str, best: Sequence[tuple[str, float]], quietest: str) -> str:
    """The message of the picture of nights; `best` are nights and contacts, the best first."""
    words = f"Every night, {dates}, a row a month: contacts to expect from it alone"
    words += (
        f", most on {formats.listed([f'{day} ({formats.contacts(value)})' for day, value in best])}" if best else ""
    )
    return f"{words}{f'; quietest at home on {quietest}' if quietest else ''}. The figures stand in year.csv."


def course_title(course: Course, year: int) -> str:
    """The message of the picture of years."""
    north = course.north_deg
    most, least = int(np.argmax(north)), int(np.argmin(north))
    words = f"The Moon's most northern declination of each year, {course.years[0]} to {course.years[-1]}: "
    words += f"most in {course.years[most]} ({north[most]:.1f} degrees), least in {course.years[least]} ("
    words += f"{north[least]:.1f} degrees)"
    return f"{words}, {course.of(year)[0]:.1f} degrees in {year}." if year in course.years else f"{words}."


def no_weekend_words(best_if_free: str) -> str:
    """Why none is told; `best_if_free` is the best weekend for a home that is always free, empty without one."""
    words = "None earns a set-up within everybody's hours."
    if not best_if_free:
        return f"{words} None would if you were free at any hour."
    return f"{words} Were you free, the best would be {best_if_free}."


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
