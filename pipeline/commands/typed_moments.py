"""Instants, dates, times of day and months of the command line that are said otherwise than they are taken."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
from collections.abc import Iterable

from pipeline.commands.ways import Asked, Read, Way
from pipeline.inputs import dates_said
from pipeline.inputs.moment_pieces import UTC
from pipeline.inputs.moments_said import CLOCK, DATE, HOME, LOCAL, PARTNER, Reading, Said, Season, by_zone, said_in
from pipeline.wording import formats

OWN_CLOCK, IN_UTC = "your own clock is meant", "UTC is meant"
NEXT = ("next", "coming", "nächster", "nächsten", "prochain", "prochaine", "próximo", "prossimo", "volgende", "nästa")
NOW = ("now", "this", "current", "jetzt", "dieser", "diesen", "ce", "este", "questo", "deze", "denna")
SEVERAL = "one month is meant; several stand in the season file as months"
AN_EVENING = "21:00"
WHOSE = (("partner", "the partner's clock"), ("home", "your own clock"), ("utc", "UTC"))


def _day(date: dt.date) -> str:
    return f"{formats.day(date)} {date.year}"


def _why(text: str, said: Said, asked: Asked, told: str = "") -> str:
    """What was read."""
    season = asked.at_hand.season
    if asked.at_hand.inputs and said.readings and not any(one.date and season.holds(one.date) for one in said.readings):
        told += f", outside the season ({season.first} to {season.last})"
    readings = list(
        dict.fromkeys(f"{_day(one.date)}{one.time and f' {one.time}'}" for one in said.readings if one.date)
    )
    clause = f"{text} is {formats.listed(readings, 'or')}" if readings else text
    beyond = [
        one.date for one in said.outside if one.date and one.date.year == (said.readings[0].date or one.date).year
    ]
    if beyond:
        clause += f" ({formats.listed([_day(one) for one in dict.fromkeys(beyond)], 'and')} lies outside the season)"
    if said.unread:
        clause += f" ({' '.join(said.unread)} is not understood)"
    other = [one for one in said.readings if not one.is_its_day]
    if other:
        clause += ", another weekday than the one named"
    return clause + told


def said_read(text: str, asked: Asked) -> Read:
    """The time that a partner proposed: date and time, with the clock that is named or each that could be."""
    said = _whole(text, asked)
    whole = [one for one in said.readings if one.date and one.time]
    if not whole:
        return _part_missing(text, asked)
    ways: list[Way] = []
    clockless, whose = False, WHOSE if len(whole) < 3 else WHOSE[:1]
    for one in whole:
        when = f"{_day(one.date)} is meant" if one.date and len(whole) > 1 else ""
        sure, beyond = by_zone(one.zone, one.written), _its_month(one.date, asked)
        if sure is not None:
            ways.append(Way((f"{one.written.replace(' ', 'T')}{_ending(one, sure)}",), when, beyond))
        elif asked.names_zone or one.zone in (HOME, PARTNER):
            zone = () if asked.names_zone else ("--zone", one.zone)
            ways.append(Way(tuple(one.written.split()), when, (*zone, *beyond)))
        else:
            clockless = not one.zone
            by = f"{_day(one.date)} by " if when and one.date else ""
            for word, clock in whose:
                if word != "utc" or one.zone != LOCAL:
                    ways.append(Way(tuple(one.written.split()), f"{by}{clock} is meant", ("--zone", word, *beyond)))
    told = ", and no clock is named" if clockless else ""
    told += " (--zone home or utc for another than the partner's)" if told and len(whose) == 1 else ""
    return Read(tuple(ways), _why(text, said, asked, told))


def _whole(text: str, asked: Asked) -> Said:
    """Date and time of a text; where that wants it, words that nothing is known of are passed over."""
    said = said_in(text, (DATE, CLOCK), asked.at_hand.season)
    if said.readings:
        return said
    loose = said_in(text, (DATE, CLOCK), asked.at_hand.season, is_strict=False)
    return loose if any(one.date and one.time for one in loose.readings) else said


def _ending(one: Reading, zone: dt.tzinfo) -> str:
    """`Z`, or the offset of a clock at that time."""
    if one.zone == UTC:
        return "Z"
    offset = dt.datetime.fromisoformat(one.written).replace(tzinfo=zone).utcoffset() or dt.timedelta()
    minutes = round(offset.total_seconds() / 60)
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def _part_missing(text: str, asked: Asked) -> Read:
    """A date without a time of day, or a time without a date: an example by what there is."""
    season = asked.at_hand.season
    only = said_in(text, (DATE,), season)
    dates = [one.date for one in only.readings if one.date and not one.time]
    if dates:
        ways = tuple(_example(one, AN_EVENING, asked) for one in dates[:2])
        return Read(ways, f"{_why(text, only, asked)}; the time of day is missing, for instance 21:00")
    clocks = [one.time for one in said_in(text, (CLOCK,), season).readings if one.time and not one.date]
    if clocks:
        clock = "00:00" if clocks[0] == "24:00" else clocks[0]
        return Read((_example(season.first, clock, asked),), f"{text}: the day is missing, for instance {season.first}")
    return Read()


def _example(date: dt.date, clock: str, asked: Asked) -> Way:
    if asked.command == "propose":
        return Way((str(date), clock), "", () if asked.names_zone else ("--zone", "partner"))
    return Way((f"{date}T{clock}Z",))


def instant_read(text: str, asked: Asked) -> Read:
    """An instant with the clock that it names, else in UTC and by home's clock; a slot's letter is its beginning."""
    if text.casefold() in NOW:
        return Read((Way((f"{dt.datetime.now(dt.UTC):%Y-%m-%dT%H:%M}Z",)),), f"{text} is told as date and time in UTC")
    letter = re.fullmatch(r"(?i)(?:slot\s+)?([a-z]{1,2})", text)
    if letter and asked.call and (start := asked.at_hand.slot_start(asked.call, letter[1])):
        return Read(
            (Way((f"{start:%Y-%m-%dT%H:%M}Z",)),), f"slot {letter[1].upper()} begins {_day(start)} {start:%H:%M} UTC"
        )
    said = _whole(text, asked)
    whole = [one for one in said.readings if one.date and one.time]
    if not whole:
        return _part_missing(text, asked)
    ways: list[Way] = []
    clockless = False
    for one in whole:
        when = f"{_day(one.date)}, " if one.date and len(whole) > 1 else ""
        sure = by_zone(one.zone, one.written)
        theirs = asked.at_hand.zone_of(asked.call) if one.zone == PARTNER else None
        own = asked.at_hand.zone if one.zone in (HOME, LOCAL) else None
        if zone := sure or theirs or own:
            ways.append(Way((one.utc(zone),), when and f"{when}is meant".replace(", is", " is")))
            continue
        clockless = True
        ways.append(Way((one.utc(dt.UTC),), f"{when}{IN_UTC}"))
        if home := asked.at_hand.zone:
            ways.append(Way((one.utc(home),), f"{when}{OWN_CLOCK}"))
        dx = asked.at_hand.zone_of(asked.call)
        if dx and one.zone != LOCAL and (one.utc(dx),) not in [way.words for way in ways]:
            ways.append(Way((one.utc(dx),), f"{when}the clock of {asked.call.upper()} is meant"))
    return Read(tuple(ways), _why(text, said, asked, ", and no clock is named" if clockless else ""))


def date_read(text: str, asked: Asked) -> Read:
    """A date; a time of day beside that of a night says from when on it is planned again."""
    said = said_in(text, (DATE,), asked.at_hand.season)
    if not said.readings and asked.command == "night" and (both := dates_between(text, asked.at_hand.season)):
        told = f"{text}: a night is named by one date, that on which the Moon stands highest"
        told = told if (both[1] - both[0]).days == 1 else f"{text}: one night at a time"
        return Read(tuple(Way((str(one),), f"{_day(one)} is meant") for one in both), told)
    if asked.command == "night" and not asked.option and any(one.time for one in said.readings):
        return _night_and_hour(text, said, asked)
    dates = list(dict.fromkeys(one.date for one in said.readings if one.date))
    ways = tuple(
        Way((str(one),), f"{_day(one)} is meant" if len(dates) > 1 else "", _its_month(one, asked)) for one in dates
    )
    return Read(ways, _why(text, said, asked))


def dates_between(text: str, season: Season) -> tuple[dt.date, dt.date] | None:
    """The first and the last of several dates, a month or year that is left out being the season's; None for others."""
    stretch = dates_said.one_stretch(text) or ""
    if "/" in stretch:
        first, last = (dt.date.fromisoformat(one) for one in stretch.split("/"))
        return first, last
    for parts in (re.split(gap, text) for gap in (r"\s+-\s+|\s*(?:\.\.+|bis|to|au|al|t/m)\s*", r"\s*[-/]\s*", r"\s+")):
        ends = [said_in(part, (DATE,), season).readings for part in parts]
        if len(ends) == 2 and all(len(one) == 1 and one[0].date and not one[0].time for one in ends):
            low, high = sorted(one[0].date for one in ends if one[0].date)
            return (low, high) if low < high else None
    return None


def _its_month(date: dt.date | None, asked: Asked) -> tuple[str, ...]:
    """The option that names the month of a date beyond the season; none where the season is not known."""
    at_hand = asked.at_hand
    if date is None or at_hand.inputs is None or at_hand.names_month or at_hand.season.holds(date):
        return ()
    return ("--month", f"{date:%Y-%m}")


def _night_and_hour(text: str, said: Said, asked: Asked) -> Read:
    ways: list[Way] = []
    for one in (each for each in said.readings if each.date):
        asked_then = dataclasses.replace(asked, night=one.date, option="--after")
        hour = f"{one.time} {one.zone if one.zone not in (HOME, LOCAL) else LOCAL}".strip()
        found = clock_read(hour, asked_then).ways
        ways += [Way((str(one.date),), way.when, ("--after", *way.words)) for way in found]
    return Read(tuple(ways), f"{_why(text, said, asked)}; from when on a night is planned again stands behind --after")


def clock_read(text: str, asked: Asked) -> Read:
    """A time of day as UTC with Z."""
    if text.casefold() in NOW:
        return Read((Way((f"{dt.datetime.now(dt.UTC):%H:%M}Z",)),), f"{text} is told as a time in UTC")
    season = asked.at_hand.season
    night = asked.night or season.first
    said = said_in(text, (CLOCK,), season)
    times = [one for one in said.readings if one.time]
    ways: list[Way] = []
    for one in times:
        read = Reading(one.date or night, one.time, one.zone)
        form = "%Y-%m-%dT%H:%M" if one.date else "%H:%M"

        def written(zone: dt.tzinfo, read: Reading = read, form: str = form) -> str:
            return f"{dt.datetime.fromisoformat(read.utc(zone)[:-1]):{form}}Z"

        sure = by_zone(one.zone, read.written) or (asked.at_hand.zone if one.zone in (HOME, LOCAL) else None)
        if sure:
            ways.append(Way((written(sure),)))
            continue
        ways.append(Way((written(dt.UTC),), IN_UTC))
        if home := asked.at_hand.zone:
            ways.append(Way((written(home),), OWN_CLOCK))
    return Read(tuple(ways), f"{text}: a time in UTC with Z is meant" if ways else "")


def is_month_word(text: str) -> bool:
    """`next month`, `now`, `Q1 2027`, `032027`: a month in other words than its name."""
    words = text.casefold().split()
    relative = bool(words) and len(words) < 3 and words[0] in (*NEXT, *NOW)
    return relative or re.fullmatch(r"(?i)q[1-4](\s*20\d\d)?|(0[1-9]|1[0-2])20\d\d", text) is not None


def month_read(text: str, asked: Asked) -> Read:
    """A month; of several the first, with where several stand."""
    season = asked.at_hand.season
    months = dates_said.months_meant(text)
    if len(months) > 1:
        return Read((Way((months[0],)),), f"{text}: {SEVERAL}: [{', '.join(months)}]")
    if months:
        return Read((Way((months[0],)),))
    number = dates_said.month_of(text) or (int(text) if re.fullmatch(r"0?[1-9]|1[0-2]", text) else None)
    if number:
        year = season.first.year + (number < season.first.month)
        return Read((Way((f"{year}-{number:02d}",)),), f"{text} is taken for {year}")
    words = text.casefold().split()
    if words and words[0] in (*NEXT, *NOW) and len(words) < 3:
        first = season.today.replace(day=1)
        after = (first + dt.timedelta(days=32)).replace(day=1) if words[0] in NEXT else first
        return Read((Way((f"{after:%Y-%m}",)),))
    if packed := re.fullmatch(r"(0[1-9]|1[0-2])(20\d\d)", text):
        return Read((Way((f"{packed[2]}-{packed[1]}",)),))
    if quarter := re.fullmatch(r"(?i)q([1-4])\s*(20\d\d)?", text):
        first_month, year = 3 * int(quarter[1]) - 2, int(quarter[2] or season.first.year)
        months = [f"{year}-{month:02d}" for month in range(first_month, first_month + 3)]
        return Read((Way((months[0],)),), f"{text}: {SEVERAL}: [{', '.join(months)}]")
    return _month_of_date(said_in(text, (DATE,), season).readings, text)


def _month_of_date(readings: Iterable[Reading], text: str) -> Read:
    months = list(dict.fromkeys(f"{one.date:%Y-%m}" for one in readings if one.date))
    if not months:
        return Read()
    return Read(tuple(Way((one,)) for one in months[:2]), f"{text} is a day; a month is meant")
