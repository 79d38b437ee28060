"""Moments as people say them: date, time of day and clock in any order, in the habits of many countries.

A text is taken apart into words and figures, each with everything that it can mean; what fits together is a reading.
All readings are handed on, those in a season alone where there are any. Names of months and days: Unicode CLDR (babel).
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import product
from zoneinfo import ZoneInfo

from pipeline.inputs.moment_pieces import UTC, Meaning, Piece, date_of, pieces_of

HOME, PARTNER, LOCAL = "home", "partner", "local"
# What a reading can hold beside the parts of a date.
DATE, CLOCK = "date", "clock"
ONE_DAY = dt.timedelta(days=1)
MOST_COMBINED = 4000
MOST_READINGS = 6


@dataclass(frozen=True)
class Reading:
    """One thing that a text can mean: a date, a time of day (24:00 is the end of the date), the clock it names.

    `zone` is one of the words above, an offset such as +02:00, a name of the time zone database, or empty.
    """

    date: dt.date | None
    time: str
    zone: str
    # Whether the weekday that was named is that of the date.
    is_its_day: bool = True

    @property
    def written(self) -> str:
        """Date and time as `2027-03-14 09:00`."""
        assert self.date is not None
        late = self.time == "24:00"
        return f"{self.date + ONE_DAY * late} {'00:00' if late else self.time}"

    def utc(self, zone: dt.tzinfo) -> str:
        """The instant by a clock, as `2027-03-14T09:00Z`."""
        local = dt.datetime.fromisoformat(self.written).replace(tzinfo=zone)
        return f"{local.astimezone(dt.UTC):%Y-%m-%dT%H:%M}Z"


@dataclass(frozen=True)
class Said:
    """What a text says: its readings, those that lie outside the season, and the words that nothing is known of."""

    readings: tuple[Reading, ...]
    outside: tuple[Reading, ...] = ()
    unread: tuple[str, ...] = ()


@dataclass(frozen=True)
class Season:
    """The dates between which a moment is looked for, and the date of today."""

    first: dt.date
    last: dt.date
    today: dt.date

    def holds(self, date: dt.date) -> bool:
        return self.first - ONE_DAY <= date <= self.last + ONE_DAY


def said_in(text: str, wanted: Iterable[str], season: Season | None = None, is_strict: bool = True) -> Said:
    """What a text says of the things wanted (DATE, CLOCK or both); words that are not known are passed over if allowed.

    A date without a year is one of the season, else the first such date after its beginning.
    """
    pieces, unread = pieces_of(text, season.today if season else None)
    if (unread and is_strict) or not pieces:
        return Said((), (), tuple(unread))
    found = _combined(pieces, set(wanted))
    readings = list(dict.fromkeys(one for meaning in found for one in _readings(meaning, season)))
    readings = [one for one in readings if one.is_its_day] or readings
    inside = [one for one in readings if season is None or one.date is None or season.holds(one.date)]
    kept = tuple((inside or readings)[:MOST_READINGS])
    return Said(kept, tuple(one for one in readings if one not in kept) if inside else (), tuple(unread))


def _combined(pieces: list[Piece], wanted: set[str]) -> list[Meaning]:
    """The meanings that use each piece once and say most of what is wanted and least of what is not."""
    best: list[Meaning] = []
    most = -99
    count = 0
    for choice in product(*pieces):
        count += 1
        if count > MOST_COMBINED:
            break
        meaning: Meaning = {}
        if not all(_joined(meaning, one) for one in choice):
            continue
        has = {DATE: _names_adate_of(meaning), CLOCK: "time" in meaning}
        loose = ("day" in meaning) != ("month" in meaning) or ("year" in meaning and "month" not in meaning)
        score = sum(6 for one in wanted if has[one]) - sum(4 for one in has if has[one] and one not in wanted)
        score -= loose + 2 * ("rare" in meaning)
        if score > most:
            best, most = [], score
        if score == most and meaning not in best:
            best.append(meaning)
    return best if most > 0 and all(best) else []


def _joined(meaning: Meaning, more: Meaning) -> bool:
    """Takes more into a meaning; false where it contradicts."""
    return all(meaning.setdefault(key, value) == value for key, value in more.items())


def _names_adate_of(meaning: Meaning) -> bool:
    return "weekday" in meaning or "day" in meaning or "date" in meaning


def _readings(meaning: Meaning, season: Season | None) -> Iterator[Reading]:
    time, zone = _by_side(str(meaning.get("time", "")), meaning.get("side")), str(meaning.get("zone", ""))
    if not _names_adate_of(meaning):
        yield Reading(None, time, zone)
        return
    for date in _dates(meaning, season):
        yield Reading(date, time, zone, meaning.get("weekday") in (None, date.weekday()))


def _by_side(time: str, side: object) -> str:
    """A time of day with the part of the day that stands beside it: 9 in the evening is 21:00."""
    hour = int(time[:2] or 0)
    late = (side == "evening" and 1 <= hour < 12) or (side == "night" and 6 <= hour < 12)
    return f"{hour + 12}{time[2:]}" if time and late else time


def _dates(meaning: Meaning, season: Season | None) -> list[dt.date]:
    """The dates of a meaning; where it has no year or month, those of the season."""
    if "date" in meaning:
        return [dt.date.fromisoformat(str(meaning["date"]))]
    year, month, day, weekday = (_number(meaning, key) for key in ("year", "month", "day", "weekday"))
    first, last = (season.first, season.last) if season else (None, None)
    if day is None:
        if first is None or last is None:
            return []
        days = [first + ONE_DAY * count for count in range(min((last - first).days, 800) + 1)]
        named = [one for one in days if one.weekday() == weekday and month in (None, one.month)]
        # Of a whole season's Saturdays none is meant; of a few each may be.
        return named if len(named) <= MOST_READINGS else []
    years = [year] if year is not None else sorted({first.year, last.year}) if first and last else []
    months = [month] if month is not None else sorted({first.month, last.month}) if first and last else []
    found = [date for one in years for each in months if (date := date_of(one, each, day))]
    if year is None and first and last and month is not None and not any(first <= one <= last for one in found):
        found = [date for one in (first.year, first.year + 1) if (date := date_of(one, month, day)) and date >= first][
            :1
        ]
    right = [one for one in found if weekday is None or one.weekday() == weekday]
    return right or found


def _number(meaning: Meaning, key: str) -> int | None:
    value = meaning.get(key)
    return value if isinstance(value, int) else None


def by_zone(zone: str, written: str) -> dt.tzinfo | None:
    """The zone of a reading that names one itself; None for the words home, partner and local, and for none."""
    if zone == UTC:
        return dt.UTC
    if offset := re.fullmatch(r"([+-])(\d\d):(\d\d)", zone):
        size = dt.timedelta(hours=int(offset[2]), minutes=int(offset[3]))
        return dt.timezone(-size if offset[1] == "-" else size)
    return ZoneInfo(zone) if "/" in zone else None


def instant_advice(text: str, home: dt.tzinfo | None = None) -> str | None:
    """What to write for an instant in UTC, by its own figures; None where the text names no sure date.

    Without a clock of its own it is told in UTC and, where `home` is known, by home's clock.
    """
    whole = [one for one in said_in(text, (DATE, CLOCK)).readings if one.date and one.time]
    if not whole:
        dates = [one.date for one in said_in(text, (DATE,)).readings if one.date and not one.time]
        return f"the time of day is missing; write for instance {dates[0]}T01:15Z." if dates else None
    sure = [one.utc(zone) for one in whole if (zone := by_zone(one.zone, one.written))]
    if sure:
        return f"write {' or '.join(dict.fromkeys(sure))}."
    own = " or ".join(one.utc(dt.UTC) for one in whole)
    if home is None:
        return f"write {own} if the time is UTC."
    return f"write {own} if the time is UTC, {' or '.join(one.utc(home) for one in whole)} if it is your own clock's."
