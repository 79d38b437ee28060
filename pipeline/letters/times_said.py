"""A time as partners write it in a mail or a chat, read into an instant: ISO 8601, `Sat 13 Mar 08:00`, `08:00 Sat`.

The clock it is meant by stands in the text (`Z`, `UTC`, `+02:00`) or beside it (home's, UTC, the partner's). What could
be meant in two ways is never guessed. Zones by the IANA time-zone database.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from pipeline.inputs.bounds import TooMuch, in_utc
from pipeline.inputs.clocks_said import clock_meant
from pipeline.inputs.dates_said import dates_meant, month_of
from pipeline.inputs.odd_characters import plain
from pipeline.inputs.scalars import nearest
from pipeline.inputs.yaml_tree import printable
from pipeline.wording import formats

HOME, UTC, PARTNER = "home", "utc", "partner"
ZONES = (HOME, UTC, PARTNER)
FORMS = "2027-03-13T08:00Z, 2027-03-13 08:00 with --zone, or Sat 13 Mar 08:00 UTC"
CLOCK = re.compile(r"(\d{1,2}):(\d\d)(?::(\d\d))?(z?)|(\d\d)(\d\d)(z)", re.IGNORECASE | re.ASCII)
OFFSET = re.compile(r"(?:utc)?([+-])(\d{1,2})(?::?(\d\d))?", re.IGNORECASE | re.ASCII)
ISO_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
HOUR = re.compile(r"\d{1,2}h(\d\d)?|\d{1,2}(:\d\d)?[ap]m", re.IGNORECASE | re.ASCII)
WHOLE_DATE = re.compile(r"\d{1,4}([./-])\d{1,2}\1\d{2,4}\.?", re.ASCII)
DAY = re.compile(r"(\d{1,2})(?:st|nd|rd|th|\.)?", re.IGNORECASE | re.ASCII)
YEAR = re.compile(r"(?:19|20)\d\d", re.ASCII)
EAST = re.compile(r"(\d{1,4})([年月日년월일])", re.ASCII)
EAST_CLOCK = re.compile(r"(\d{1,2})[時时点點시](?:(\d{1,2})[分분]|(半))?", re.ASCII)
EAST_PIECES = {"年": "year", "月": "month", "日": "day", "년": "year", "월": "month", "일": "day"}
UTC_WORDS = ("utc", "z", "gmt")
LEAST_LETTERS = 3
ONE_DAY = dt.timedelta(days=1)


class TimeFault(ValueError):
    """A time that cannot be taken; the text is one sentence for the user."""


class ClockMissing(TimeFault):
    """A time that names no clock; `readings` are what it could mean, by the word of `--zone`."""

    def __init__(self, message: str, readings: dict[str, dt.datetime]) -> None:
        super().__init__(message)
        self.readings = readings


class BeyondSeason(TimeFault):
    """A time outside the season; `advice` is what to write for the next such date."""

    def __init__(self, message: str, advice: str) -> None:
        super().__init__(message)
        self.advice = advice


@dataclass(frozen=True)
class Clocks:
    """Whose clocks a time can be meant by, and the instants between which dates without a year are looked for."""

    home: ZoneInfo
    partner: ZoneInfo | None
    partner_call: str
    first: dt.datetime
    last: dt.datetime

    def zone(self, word: str) -> dt.tzinfo:
        """The zone of a word of `--zone`."""
        if word == PARTNER and self.partner is None:
            raise TimeFault(f"--zone partner: the file of {self.partner_call} names no time_zone; say the time in UTC.")
        return {HOME: self.home, UTC: dt.UTC, PARTNER: self.partner or dt.UTC}[word]


@dataclass
class Said:
    """The pieces of a text; None where it does not say them."""

    clock: dt.time | None = None
    zone: dt.tzinfo | None = None
    date: dt.date | None = None
    weekday: int | None = None
    month: int | None = None
    day: int | None = None
    year: int | None = None


def require_said(text: str) -> None:
    """TimeFault where a text is no time, before anything is known of clocks and nights."""
    _pieces(text, printable(text, 60))


def read_time(text: str, zone: str | None, clocks: Clocks) -> dt.datetime:
    """The instant, UTC, in whole minutes.

    Raises TimeFault with one sentence; ClockMissing where neither the text nor `zone` (a word of ZONES) names a clock
    and it matters.
    """
    shown = printable(text, 60)
    if zone is not None and zone not in ZONES:
        near = nearest(zone, ZONES)
        advice = f"did you mean {near}?" if near else "home, utc or partner is meant."
        raise TimeFault(f"--zone {printable(zone, 20)}: {advice}")
    said = _pieces(text, shown)
    if said.zone is not None:
        if zone is not None and not (zone == UTC and said.zone == dt.UTC):
            raise TimeFault(f"{shown} names its clock itself; leave --zone out.")
        return _instant(said, said.zone, clocks, shown)
    if zone is not None:
        return _instant(said, clocks.zone(zone), clocks, shown)
    return _by_any_clock(said, clocks, shown)


def _by_any_clock(said: Said, clocks: Clocks, shown: str) -> dt.datetime:
    """The instant where all clocks agree."""
    readings: dict[str, dt.datetime] = {}
    faults: list[TimeFault] = []
    for word in ZONES if clocks.partner is not None else (HOME, UTC):
        try:
            readings[word] = _instant(said, clocks.zone(word), clocks, shown)
        except TimeFault as fault:
            faults.append(fault)
    if not readings:
        raise faults[0]
    if len(set(readings.values())) == 1 and not faults:
        return readings[HOME]
    raise ClockMissing(f"{shown} names no clock; end it with Z for UTC, or say --zone home, utc or partner.", readings)


def _pieces(text: str, shown: str) -> Said:
    said = Said()
    # `2027-03-13T08:00` is a date and a time of day; a sign behind the time begins its offset.
    apart = re.sub(r"(\d{4}-\d\d-\d\d)[Tt](?=\d)", r"\1 ", text.replace(",", " "))
    apart = re.sub(r"(:\d\d)(?=[+-]\d)", r"\1 ", apart)
    apart = EAST.sub(r"\g<0> ", plain(apart))
    for word in apart.split():
        if not any(take(word, said) for take in TAKERS):
            raise TimeFault(f"{shown}: '{printable(word, 20)}' is no part of a time; write for instance {FORMS}.")
    if said.clock is None:
        raise TimeFault(f"{shown}: the time of day is missing; write for instance {FORMS}.")
    if said.date is None and said.weekday is None and (said.day is None or said.month is None):
        raise TimeFault(f"{shown}: the day is missing; write for instance {FORMS}.")
    if (said.day is None) != (said.month is None) or (said.date is not None and said.day is not None):
        raise TimeFault(f"{shown}: the date is not clear; write for instance {FORMS}.")
    return said


def _is_new(said: Said, name: str, value: object) -> bool:
    """Puts a piece in its place; false where that is taken."""
    if getattr(said, name) is not None:
        return False
    setattr(said, name, value)
    return True


def _take_clock(word: str, said: Said) -> bool:
    found = CLOCK.fullmatch(word)
    if HOUR.fullmatch(word) and (time := clock_meant(word)):
        return _take_clock(time, said)
    if found is None:
        return False
    hour, minute = (int(found[place] or found[place + 4]) for place in (1, 2))
    second = int(found[3] or 0)
    if hour > 23 or minute > 59 or second > 59:
        raise TimeFault(f"{printable(word)}: no time of day; 00:00 to 23:59 is meant.")
    if second:
        raise TimeFault(f"{printable(word)}: whole minutes are meant, such as {hour:02d}:{minute:02d}.")
    is_utc = bool(found[4] or found[7])
    return _is_new(said, "clock", dt.time(hour, minute)) and (not is_utc or _is_new(said, "zone", dt.UTC))


def _take_zone(word: str, said: Said) -> bool:
    if word.casefold() in UTC_WORDS:
        return _is_new(said, "zone", dt.UTC)
    found = OFFSET.fullmatch(word)
    if found is None:
        return False
    offset = dt.timedelta(hours=int(found[2]), minutes=int(found[3] or 0))
    if offset > dt.timedelta(hours=14):
        raise TimeFault(f"{printable(word)}: no zone is as far from UTC; at most 14 hours are meant.")
    return _is_new(said, "zone", dt.timezone(-offset if found[1] == "-" else offset))


def _take_date(word: str, said: Said) -> bool:
    if ISO_DATE.fullmatch(word):
        return _is_new(said, "date", _date(word, *map(int, word.split("-"))))
    if YEAR.fullmatch(word):
        return _is_new(said, "year", int(word))
    whole = dates_meant(word) if WHOLE_DATE.fullmatch(word) else []
    if len(whole) > 1:
        raise TimeFault(f"{printable(word)} is {' or '.join(whole)}; write the one that is meant.")
    if whole:
        return _is_new(said, "date", dt.date.fromisoformat(whole[0]))
    found = DAY.fullmatch(word)
    return found is not None and _is_new(said, "day", int(found[1]))


def _take_name(word: str, said: Said) -> bool:
    """A weekday or a month by its first letters, a month also by its name in other languages."""
    begun = word.rstrip(".").casefold()
    if len(begun) < LEAST_LETTERS:
        return False
    for name, known in (("weekday", formats.WEEKDAYS_LONG), ("month", formats.MONTHS)):
        for place, one in enumerate(known):
            if one.casefold().startswith(begun):
                return _is_new(said, name, place if name == "weekday" else place + 1)
    month = month_of(begun)
    return month is not None and _is_new(said, "month", month)


def _take_east(word: str, said: Said) -> bool:
    """`2027年`, `3月`, `14日`, `9時`, `9時30分` of East Asian keyboards."""
    if clock := EAST_CLOCK.fullmatch(word):
        return _take_clock(f"{clock[1]}:{'30' if clock[3] else (clock[2] or '0').rjust(2, '0')}", said)
    found = EAST.fullmatch(word)
    return found is not None and _is_new(said, EAST_PIECES[found[2]], int(found[1]))


TAKERS: Sequence[Callable[[str, Said], bool]] = (_take_east, _take_clock, _take_zone, _take_date, _take_name)


def _date(shown: str, year: int, month: int, day: int) -> dt.date:
    try:
        return dt.date(year, month, day)
    except ValueError:
        raise TimeFault(f"{shown}: there is no such date.") from None


def _instant(said: Said, zone: dt.tzinfo, clocks: Clocks, shown: str) -> dt.datetime:
    """The one instant that is meant by a clock."""
    assert said.clock is not None
    dates = _dates(said, zone, clocks, shown)
    if said.date is not None or said.year is not None:
        return _on_clock(dates[0], said.clock, zone, shown)
    known = {date: _on_clock(date, said.clock, zone, shown) for date in dates}
    inside = {date: instant for date, instant in known.items() if clocks.first <= instant < clocks.last}
    if not inside:
        last = clocks.last.astimezone(zone).date()
        span = " to ".join(f"{edge.astimezone(clocks.home):%Y-%m-%d}" for edge in (clocks.first, clocks.last))
        advice = _next_one(said, last)
        raise BeyondSeason(f"{shown} lies outside this season ({span}); {advice}.", advice)
    if len(inside) > 1:
        days = formats.listed([formats.day(date) for date in inside], "or")
        raise TimeFault(f"{shown} could be {days}; name the date.")
    return next(iter(inside.values()))


def _next_one(said: Said, last: dt.date) -> str:
    """What to write for the next such date after a season, or that the year is to be named."""
    years = [year for year in (last.year, last.year + 1) if said.day is not None and _exists(said, year)]
    later = [date for year in years if (date := dt.date(year, said.month or 1, said.day or 1)) > last]
    if not later or said.weekday not in (None, later[0].weekday()):
        return "name the year if you mean another"
    return f"for the next one write the date as {later[0]}, and --month {later[0]:%Y-%m}"


def _dates(said: Said, zone: dt.tzinfo, clocks: Clocks, shown: str) -> list[dt.date]:
    """The dates that could be meant; one where the text gives all of it."""
    first, last = (edge.astimezone(zone).date() for edge in (clocks.first, clocks.last))
    if said.date is not None:
        dates = [said.date]
    elif said.day is not None and said.month is not None:
        years = [said.year] if said.year is not None else range(first.year, last.year + 1)
        # 29 February is a date of some years only.
        dates = [_date(shown, year, said.month, said.day) for year in years if said.year or _exists(said, year)]
    else:
        dates = [first + ONE_DAY * day for day in range((last - first).days + 1)]
        return [date for date in dates if date.weekday() == said.weekday]
    wrong = [date for date in dates if said.weekday is not None and date.weekday() != said.weekday]
    if wrong and len(wrong) == len(dates):
        raise TimeFault(f"{shown}: {formats.day(wrong[0])} {wrong[0].year} is the day of that date; which is meant?")
    if not dates:
        raise TimeFault(f"{shown}: there is no such date.")
    return [date for date in dates if date not in wrong]


def _exists(said: Said, year: int) -> bool:
    try:
        dt.date(year, said.month or 1, said.day or 1)
    except ValueError:
        return False
    return True


def _on_clock(date: dt.date, clock: dt.time, zone: dt.tzinfo, shown: str) -> dt.datetime:
    """The instant at which a clock shows a time; refused where it shows it twice or never."""
    local = dt.datetime.combine(date, clock, tzinfo=zone)
    try:
        early, late = (in_utc(local.replace(fold=fold)) for fold in (0, 1))
    except TooMuch as much:
        raise TimeFault(f"{shown}: {much}.") from None
    if early == late:
        return early
    if early > late:
        raise TimeFault(f"{shown}: the clocks go forward then and never show that time; say it in UTC.")
    both = " or ".join(f"{one:%Y-%m-%dT%H:%M}Z" for one in (early, late))
    raise TimeFault(f"{shown}: the clocks go back then and show that time twice; {both} is meant.")
