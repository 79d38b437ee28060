"""A text of a moment taken apart: what each of its words and figures can mean, and the words that mean nothing here.

Names of months and days: Unicode CLDR (babel); of zones: the IANA time zone database.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from zoneinfo import available_timezones

from pipeline.inputs import dates_said, days_said
from pipeline.inputs.moment_words import (
    CLOCK_WORDS,
    EAST_SIDES,
    FILLERS,
    HALF_TO,
    HOURS,
    LEADS,
    RELATIVE,
    SIDES,
    ZONE_PHRASES,
    ZONES_CALLED,
    ZONES_OF,
)
from pipeline.inputs.odd_characters import plain
from pipeline.inputs.zones_said import FOREMOST, abbreviations, by_city

UTC = "utc"
FURTHEST_H = 14
Meaning = dict[str, object]
Piece = tuple[Meaning, ...]


def date_of(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


# The lexer: patterns in their order, each with what a match can mean; None where it is none of them after all.
Rule = tuple[re.Pattern[str], Callable[[re.Match[str]], Piece | None]]
SIDE = r"(?:\s*(?P<side>a\.?\s?m\b\.?|p\.?\s?m\b\.?))"
WORD = re.compile(r"[^\W\d_]+(?:['’/_][^\W\d_]+)*\.?")
GAP = re.compile(r"[\s,;()\[\]\"'`·|]+|[-./:@](?!\d)|(?<!\d)[-./:@]|(?<=\d)t(?=\d)|[-.:](?=\s)")


def _of(*meanings: Meaning) -> Piece:
    return meanings


def _each_once(meanings: list[Meaning]) -> Piece | None:
    return tuple({str(one): one for one in meanings}.values()) or None


def _full(year: str, month: str, day: str) -> Meaning | None:
    date = date_of(int(dates_said.full_year(year)), int(month), int(day))
    return {"date": date.isoformat()} if date else None


def _year_first(found: re.Match[str]) -> Piece | None:
    one = _full(found[1], found[2], found[3]) or _full(found[1], found[3], found[2])
    return (one,) if one else None


def _year_last(found: re.Match[str]) -> Piece | None:
    first, sign, second, year = found[1], found[2], found[3], found[4]
    orders = [(second, first)] if sign == "." else [(second, first), (first, second)]
    readings = [one for month, day in orders if (one := _full(year, month, day))]
    if len(year) == 2 and len(first) == 2 and (one := _full(first, second, year)):
        readings.append(one)
    if " " in found[0] and (time := _time(int(year[:2]), int(year[2:]))):
        # What stands behind a gap may be a time of day.
        readings += [{"day": int(day), "month": int(month), "time": time} for month, day in orders if int(month) <= 12]
    return _each_once(readings)


def _day_and_month(found: re.Match[str]) -> Piece | None:
    """`14.3.`, `14/3`, `3/14`; with a full stop and two figures behind it a time of day as well."""
    first, sign, second = int(found[1]), found[2], int(found[3])
    orders = [(first, second)] if sign == "." else [(first, second), (second, first)]
    readings: list[Meaning] = [{"day": day, "month": month} for day, month in orders if 1 <= day <= 31 >= month >= 1]
    readings = [one for one in readings if int(str(one["month"])) <= 12]
    if sign == "." and len(found[3]) == 2 and not found[0].endswith(".") and (time := _time(first, second)):
        readings.append({"time": time})
    return _each_once(readings)


def _time(hour: int, minute: int = 0, side: str | None = None) -> str | None:
    letter = (side or "")[:1]
    if letter and 1 <= hour <= 12:
        hour = hour % 12 + (12 if letter == "p" else 0)
    return f"{hour:02d}:{minute:02d}" if (hour < 24 and minute < 60) or (hour, minute) == (24, 0) else None


def _sure_time(found: re.Match[str]) -> Piece | None:
    groups = found.groupdict()
    time = _time(int(groups["hour"]), int(groups.get("minute") or 0), groups.get("side"))
    return ({"time": time},) if time else None


def _led(found: re.Match[str]) -> Piece | None:
    """A figure behind `at`: a time of day; a day where a month comes next."""
    time = _time(int(found["hour"]), int(found["minute"] or 0), found["side"])
    if time is None or (found["minute"] is None and int(found["hour"]) > 24):
        return None
    is_sure = found["minute"] or found["hours"] or found["side"]
    return _of({"time": time}) if is_sure else _of({"time": time}, {"day": int(found["hour"]), "rare": True})


def _half(found: re.Match[str]) -> Piece | None:
    time = _time((int(found["hour"]) - (1 if found["word"] in HALF_TO else 0)) % 24, 30)
    return ({"time": time},) if time else None


def _four(found: re.Match[str]) -> Piece | None:
    """Four figures: a year, or a time of day."""
    year, time = int(found[0]), _time(int(found[0][:2]), int(found[0][2:]))
    readings: list[Meaning] = [{"year": year}] if 2000 <= year < 2100 else []
    readings += [{"time": time}] if time else []
    return tuple(readings) or None


def _bare(found: re.Match[str]) -> Piece | None:
    """One or two figures: a day, an hour, the end of a year; a day alone where an ending says so."""
    number = int(found[1])
    day: list[Meaning] = [{"day": number}] if 1 <= number <= 31 else []
    if found[2]:
        return tuple(day) or None
    hour: list[Meaning] = [{"time": f"{number:02d}:00"}] if number < 24 else []
    year: list[Meaning] = [{"year": 2000 + number, "rare": True}] if number >= 20 else []
    return (*day, *hour, *year) or None


def _offset(found: re.Match[str]) -> Piece | None:
    hours, minutes = int(found["hours"]), int(found["minutes"] or 0)
    if hours > FURTHEST_H:
        return None
    return ({"zone": f"{found['sign']}{hours:02d}:{minutes:02d}"},)


def _east(found: re.Match[str]) -> Piece | None:
    number, sign = int(found[1]), found[2]
    key = "year" if sign in "年년" else "month" if sign in "月월" else "day"
    return ({key: number},)


def _east_time(found: re.Match[str]) -> Piece | None:
    time = _time(int(found[2]), 30 if found[4] else int(found[3] or 0), EAST_SIDES.get(found[1] or ""))
    return ({"time": time},) if time else None


def _rules() -> tuple[Rule, ...]:
    year, two, hour, minute = r"((?:19|20)\d\d)", r"(\d{1,2})", r"(?P<hour>\d{1,2})", r"(?P<minute>[0-5]\d)"
    hours = "|".join(sorted((re.escape(word) for word in HOURS), key=len, reverse=True))
    leads = "|".join(sorted((re.escape(word).replace(r"\ ", r"\s+") for word in LEADS), key=len, reverse=True))
    both = "|".join(sorted((re.escape(word) for word in HOURS if word in LEADS), key=len, reverse=True))
    # A word that may stand before its figure as well belongs to the one behind it, where there is one.
    an_hour = rf"(?!(?:{both})\s*\d)(?:{hours})(?!\w)"
    till = r"(?:-|bis|til|till|tot|et|and|und|y|og|och)"
    not_more = rf"(?!\d|\s*(?::\d|[ap]\.?m\b|{an_hour}))"
    offset = r"(?P<sign>[+-])\s?(?P<hours>\d{1,2})(?::?(?P<minutes>\d\d))?(?![\d.:/-])"
    table: tuple[tuple[str, Callable[[re.Match[str]], Piece | None]], ...] = (
        (rf"{year}(\d\d)(\d\d)(?=t?\d\d\d\d|[tz\W]|$)", _year_first),
        (rf"{year}\s?[-./]\s?{two}\s?[-./]\s?{two}(?!\d)", _year_first),
        (rf"(?<!\d){two}\s?([./-])\s?{two}\s?\2\s?{year}(?!\d)(?!\s*(?:(?:z|utc|gmt)\b|{an_hour}))", _year_last),
        (rf"(?<!\d){two}([./-]){two}\2(\d\d){not_more}", _year_last),
        (rf"(\d\d)()(\d\d){year}(?!\d)", _year_last),
        (r"(\d{1,4})\s?([年月日년월일号號])", _east),
        (rf"({'|'.join(EAST_SIDES)})?\s?(\d{{1,2}})\s?[時时點点시](?:\s?(\d{{1,2}})\s?[分분]|(半))?", _east_time),
        (rf"(?:utc|gmt|z)?\s?(?<=[\d\scz t]){offset}", _offset),
        (rf"{hour}(?:[:.]{minute})?(?:\s*{an_hour})?\s*{till}\s*\d{{1,2}}(?:[:.]\d\d)?\s*{an_hour}", _sure_time),
        (rf"{hour}:{minute}\s*{till}\s*\d{{1,2}}:\d\d", _sure_time),
        (rf"{hour}\s?[:hu]\s?{minute}(?:[:m]\s?\d\d)?m?{SIDE}?(?:\s*{an_hour})?", _sure_time),
        (rf"{hour}[.:]{minute}[.:][0-5]\d(?!\d)", _sure_time),
        (rf"{hour}\.{minute}(?:{SIDE}|\s*{an_hour})", _sure_time),
        (rf"{hour}{SIDE}", _sure_time),
        (rf"{hour}\s*{an_hour}\.?(?:\s*{minute}(?!\d|[.:/])\s*(?:min\w*|m)?)?", _sure_time),
        (r"[0-2]\d[0-5]\d(?=\s*(?:z|utc|gmt|lt|local)\b)", _four),
        (rf"(?P<hour>[0-2]\d){minute}\s*{an_hour}", _sure_time),
        (
            rf"(?<!\w)(?:{leads})\s*{hour}(?:[.,:h]?{minute}(?!\d))?{SIDE}?(?P<hours>\s*{an_hour})?(?![\d/.-])(?!\s*[ap]\.?m\b)",
            _led,
        ),
        (rf"(?P<word>half past|{'|'.join(HALF_TO)})\s+{hour}", _half),
        (rf"(?<!\d){two}\s?([./])\s?{two}\.?{not_more}", _day_and_month),
        (rf"(?<!\d){two}(-){two}{not_more}", _day_and_month),
        (r"\d{4}(?!\d)", _four),
        (rf"{hour},{minute}(?!\d)", _sure_time),
        (r"(\d{1,2})(st|nd|rd|th|er|ère|º|ª|°|\.|:a|-го)?(?!\d)", _bare),
    )
    return tuple((re.compile(pattern), made) for pattern, made in table)


RULES = _rules()


TIME_OF = re.compile(
    r"\b(?:(?P<before>[^\W\d_]+)\s+(?:time|zeit|tid|tijd)|(?:heure|hora|ora)\s+(?:de\s+|di\s+|d')?(?P<behind>[^\W\d_]+))\b"
)


def _time_of(found: re.Match[str]) -> str:
    """`Kyiv time`, `norsk tid`, `heure de Paris` as the name of their zone; any other words as they are."""
    place = found["before"] or found["behind"]
    zone = ZONES_OF.get(place) or (by_city(place) if len(place) > 3 else None)
    return f" {zone.casefold()} " if zone else found[0]


def pieces_of(text: str, today: dt.date | None) -> tuple[list[Piece], list[str]]:
    """What each word and figure of a text can mean, and the words that mean nothing here."""
    said = re.sub(r"\d", lambda found: str(int(found[0])), plain(text).casefold().replace("\u0307", "")).strip(" .!?")
    said = TIME_OF.sub(_time_of, re.sub(r"(?<=\d)_(?=\d)", " ", said))
    for phrase, zone in ZONE_PHRASES.items():
        said = re.sub(rf"(?<!\w)(?:{phrase})(?!\w)", f" zone{zone} ", said)
    said = re.sub(
        r"(?<=\d)-(?=[^\W\d])|(?<!utc)(?<!gmt)(?<=[^\W\d])-(?=\d)|(?<=20\d\d)-(?=\d{1,2}[:.h]\d\d)", " ", said
    )
    pieces: list[Piece] = []
    unread: list[str] = []
    place = 0
    while place < len(said):
        if gap := GAP.match(said, place):
            place = gap.end()
            continue
        place, piece = _next_piece(said, place, today, unread)
        piece = _near_years(piece, today) if piece and today else piece
        pieces += [piece] if piece else []
    return pieces, unread


def _near_years(piece: Piece, today: dt.date) -> Piece:
    """A piece without years of two figures that are far from today's."""
    kept = [one for one in piece if "rare" not in one or abs(int(str(one.get("year", today.year))) - today.year) < 3]
    return tuple({"year": one["year"]} if "year" in one and "rare" in one else one for one in kept)


def _next_piece(said: str, place: int, today: dt.date | None, unread: list[str]) -> tuple[int, Piece | None]:
    """Where the next piece ends, and what it can mean; None where it adds nothing."""
    for pattern, made in RULES:
        found = pattern.match(said, place)
        if found and (piece := made(found)):
            return found.end(), piece
    word = WORD.match(said, place)
    if word is None:
        end = re.compile(r"\S+").match(said, place)
        unread.append(end[0] if end else said[place:])
        return (end.end() if end else len(said)), None
    meanings = _word(word[0].rstrip("."), today)
    if meanings is None:
        unread.append(word[0])
    return word.end(), meanings or None


def _word(word: str, today: dt.date | None) -> Piece | None:
    """What a word can mean; nothing for one that says nothing, None for one that is not known."""
    if word.startswith("zone"):
        return ({"zone": word[4:]},)
    if word in CLOCK_WORDS:
        times = CLOCK_WORDS[word]
        return tuple({"time": time} for time in times)
    if word in ("utc", "z", "gmt", "zulu", "ut", "tu", "tuc", "utz"):
        return ({"zone": UTC},)
    if word in RELATIVE:
        return ({"date": (today + dt.timedelta(days=RELATIVE[word])).isoformat()},) if today else None
    if word in SIDES:
        return ({"side": SIDES[word]},) if SIDES[word] else ()
    if word in FILLERS:
        return ()
    zones = abbreviations().get(ZONES_CALLED.get(word, word).upper())
    # CET is a zone first, though it is a day's short name somewhere; an English day or month never is one.
    if zones and zones[0] in FOREMOST and not _is_english(word):
        return ({"zone": zones[0]},)
    found = _named(word)
    if found:
        return found
    if "/" in word:
        zone = next((name for name in available_timezones() if name.casefold() == word), "")
        return ({"zone": zone},) if zone else None
    return ({"zone": zones[0]},) if zones else None


def _is_english(word: str) -> bool:
    """Whether a word is an English day or month."""
    known = (days_said.words(kind).get(days_said.folded(word), {}) for kind in ("days", "months"))
    return any("English" in names for meanings in known for names in meanings.values())


def _named(word: str) -> Piece:
    """The months and weekdays that a word stands for, in whichever language."""
    bare = days_said.folded(word)
    if len(bare) < 2 and bare.isascii():
        return ()
    months = {number + 1 for number in days_said.words("months").get(bare, {})}
    days = set(days_said.words("days").get(bare, {}))
    if not months and not days:
        known = dates_said.month_of(word)
        months = {known} if known else set()
        days = set() if known else {days_said.DAYS.index(day) for day, _ in days_said.days_meant(word)}
    found: list[Meaning] = [{"month": one} for one in sorted(months)]
    found += [{"weekday": one} for one in sorted(days)]
    return tuple(found)
