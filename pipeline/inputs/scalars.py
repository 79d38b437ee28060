"""Single values from their text: numbers, calls, times, dates, zones. Each refusal says what would be right."""

from __future__ import annotations

import datetime as dt
import difflib
import math
import re
from collections.abc import Iterable
from functools import lru_cache
from importlib import resources
from typing import Literal
from zoneinfo import ZoneInfo

from pipeline.inputs.bands import MODES, band_of, band_table
from pipeline.inputs.languages import languages, named
from pipeline.inputs.locator import LocatorError, cells, spelled
from pipeline.inputs.yaml_tree import FORBIDDEN, printable

NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
CALL = re.compile(r"[A-Z0-9]+(/[A-Z0-9]+)*", re.ASCII)
MAIL = re.compile(r"[A-Za-z0-9.!#$%&'*+/=?^_`{|}~-]+@[A-Za-z0-9-]+(\.[A-Za-z0-9-]+)+", re.ASCII)
LONGEST_TEXT = 200
Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
WEEKDAYS: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


class Refusal(ValueError):
    """What would be right, as the second half of a sentence. `which` joins it to the first as a clause."""

    def __init__(self, advice: str, which: bool = False) -> None:
        super().__init__(advice)
        self.advice, self.which = advice, which


def nearest(word: str, names: Iterable[str]) -> str | None:
    """The name most like a word, letter case aside; None where none is near."""
    by_fold = {name.casefold(): name for name in names}
    found = difflib.get_close_matches(word.casefold(), list(by_fold), n=1, cutoff=0.6)
    return by_fold[found[0]] if found else None


def suggestion(word: str, names: Iterable[str]) -> str:
    """`did you mean 'x'?` or else the names that are accepted."""
    names = list(names)
    near = nearest(word, names)
    return f"did you mean '{near}'?" if near else f"accepted: {', '.join(names)}."


def number(text: str) -> float:
    """A finite decimal number."""
    if NUMBER.fullmatch(text):
        value = float(text)
        if math.isfinite(value):
            return value
        raise Refusal("a number of ordinary size is meant.")
    plain = text.replace("\u2212", "-").replace("\u2013", "-")
    if NUMBER.fullmatch(plain):
        raise Refusal(f"write {plain} with a plain hyphen as the minus sign.")
    if re.fullmatch(r"[+-]?\d+,\d+", plain, re.ASCII):
        raise Refusal(f"write {plain.replace(',', '.')} with a decimal point.")
    unit = re.fullmatch(r"([+-]?\d+\.?\d*)\s*([A-Za-z%\u00b0\u03a9\u00b5]+)", plain)
    if unit:
        raise Refusal(f"write the number alone ({unit[1]}, if the unit is the one in the key's name).")
    raise Refusal("a number is meant.")


def coordinate(text: str) -> float:
    """A latitude or longitude: a number, and no other way of writing degrees."""
    plain = text.replace("\u2212", "-")
    compass = re.fullmatch(r"(\d+\.?\d*)\s*\u00b0?\s*([NSEWnsew])", plain, re.ASCII)
    if compass:
        sign = "-" if compass[2] in "SWsw" else ""
        raise Refusal(f"write {sign}{compass[1]}; south and west are negative.")
    if re.match(r"\d+\s*[\u00b0:]\s*\d+", plain):
        raise Refusal("write degrees as one decimal number, south and west negative.")
    return number(text)


def whole_number(text: str) -> int:
    """An integer of at most nine digits."""
    if re.fullmatch(r"[+-]?\d{1,9}", text, re.ASCII):
        return int(text)
    number(text)
    raise Refusal("a whole number is meant.")


def truth(text: str) -> bool:
    """true or false, and what people write for them."""
    word = text.casefold()
    if word in ("true", "yes", "on"):
        return True
    if word in ("false", "no", "off"):
        return False
    raise Refusal("true or false is meant.")


def words(text: str) -> str:
    """One line of text that may go into file names and mail headers."""
    if "\n" in text or "\r" in text or "\t" in text or FORBIDDEN.search(text):
        raise Refusal("one line of text without tabs is meant.")
    if len(text) > LONGEST_TEXT:
        raise Refusal(f"at most {LONGEST_TEXT} characters are meant, and these are {len(text)}.")
    return text


def call_sign(text: str) -> str:
    """A call sign in capitals."""
    call = text.upper()
    if not CALL.fullmatch(call):
        raise Refusal("a call sign is meant: letters A to Z, digits and '/' between them.")
    if not 3 <= len(call) <= 20:
        raise Refusal("a call sign has 3 to 20 characters.")
    if call.isalpha() or not re.search("[A-Z]", call):
        raise Refusal("a call sign has at least one letter and one digit.")
    return call


def station_name(text: str) -> str:
    """A call or the stem of a file's name: what `home` may hold."""
    words(text)
    if len(text) > 100 or re.search(r"[\\:*?\"<>|]", text):
        raise Refusal("a call sign, or the name of a station file without .yaml, is meant.")
    return text


def mail_address(text: str) -> str:
    """One plain address."""
    if len(text) > 254 or not MAIL.fullmatch(text) or ".." in text:
        raise Refusal("one mail address is meant, such as ines@basalt-tor.example.")
    return text


def locator(text: str) -> str:
    """A Maidenhead locator in its usual spelling."""
    try:
        cells(text)
    except LocatorError as fault:
        raise Refusal(f"{fault}.") from None
    return spelled(text)


def time_of_day(text: str) -> dt.time:
    """Local time as 18:00; 24:00, the end of a day, is the next midnight."""
    found = re.fullmatch(r"(\d{1,2}):(\d{2})", text, re.ASCII)
    if found:
        hour, minute = int(found[1]), int(found[2])
        if hour < 24 and minute < 60:
            return dt.time(hour, minute)
        if (hour, minute) == (24, 0):
            return dt.time(0, 0)
        raise Refusal("a time of day is meant, 00:00 to 24:00.")
    loose = re.fullmatch(r"(\d{1,2})[.:h]?(\d{2})(?::\d{2})?", text, re.ASCII)
    if loose and int(loose[1]) < 24 and int(loose[2]) < 60:
        raise Refusal(f"write {int(loose[1]):02d}:{loose[2]}.")
    raise Refusal("a time of day is meant, such as 18:00.")


def date(text: str) -> dt.date:
    """A date as 2027-03-20, in the years 1900 to 2099."""
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, re.ASCII):
        try:
            day = dt.date.fromisoformat(text)
        except ValueError:
            raise Refusal("there is no such day.") from None
        if 1900 <= day.year <= 2099:
            return day
        raise Refusal("the year is meant to be 1900 to 2099.")
    raise Refusal("a date is meant, written as 2027-03-20.")


def date_range(text: str) -> tuple[dt.date, dt.date]:
    """First and last date of `2027-03-20/2027-03-22`, or of one date."""
    first, slash, last = text.partition("/")
    try:
        start = date(first.strip())
        end = date(last.strip()) if slash else start
    except Refusal as refusal:
        if refusal.advice.startswith("a date is meant"):
            raise Refusal("a date or two are meant, as 2027-03-20 or 2027-03-20/2027-03-22.") from None
        raise
    if end < start:
        raise Refusal(f"the first date comes after the last; write {end}/{start}.")
    return start, end


def month(text: str) -> str:
    """A month as 2027-03."""
    found = re.fullmatch(r"(\d{4})-(\d{2})", text, re.ASCII)
    if found and 1 <= int(found[2]) <= 12 and 1900 <= int(found[1]) <= 2099:
        return text
    loose = re.fullmatch(r"(\d{4})[-/.](\d{1,2})", text, re.ASCII)
    if loose and 1 <= int(loose[2]) <= 12:
        if not 1900 <= int(loose[1]) <= 2099:
            raise Refusal("a month from 1900 to 2099 is meant.")
        raise Refusal(f"write {loose[1]}-{int(loose[2]):02d}.")
    raise Refusal("a month is meant, written as 2027-03.")


def weekday(text: str) -> Weekday:
    """mon to sun."""
    day = text.casefold()
    for name in WEEKDAYS:
        if day == name:
            return name
    start = next((name for name in WEEKDAYS if day.startswith(name)), None)
    if start:
        raise Refusal(f"did you mean '{start}'?")
    raise Refusal(suggestion(text, WEEKDAYS))


def band_name(text: str) -> str:
    """A band of the table, letter case aside."""
    name = next((name for name in band_table() if name.casefold() == text.casefold()), None)
    if name:
        return name
    compact = text.replace(" ", "").casefold()
    if compact in band_table():
        raise Refusal(f"did you mean '{compact}'?")
    frequency = re.fullmatch(r"(\d+\.?\d*)([gm]hz)", compact, re.ASCII)
    if frequency:
        named = band_of(float(frequency[1]) * (1000 if frequency[2] == "ghz" else 1))
        if named:
            raise Refusal(f"did you mean '{named}'?")
    raise Refusal(suggestion(text, band_table()))


def mode(text: str) -> str:
    """A mode of the list, letter case aside."""
    name = next((name for name in MODES if name.casefold() == text.casefold()), None)
    if name:
        return name
    # A variant such as Q65-60C names its mode first.
    start = next((name for name in MODES if re.match(re.escape(name) + r"[^A-Za-z0-9]", text, re.IGNORECASE)), None)
    if start:
        raise Refusal(f"did you mean '{start}'?")
    raise Refusal(suggestion(text, MODES))


@lru_cache(maxsize=1)
def zone_names() -> tuple[str, ...]:
    """All time zone names of the package tzdata, so that the same ones are known on every machine."""
    return tuple(resources.files("tzdata").joinpath("zones").read_text(encoding="utf-8").split())


def time_zone(text: str) -> str:
    """A name of the time zone database that this machine can load."""
    if text in zone_names():
        try:
            ZoneInfo(text)
        except (ValueError, OSError, KeyError):
            raise Refusal("this machine has no data for that zone; reinstall the package tzdata.") from None
        return text
    if re.match(r"(utc|gmt|z)?\s*[+-]?\d", text, re.IGNORECASE) or text.casefold() == "z":
        raise Refusal("the name of a zone is meant, such as Europe/Berlin: an offset knows no summer time.")
    wanted = text.replace(" ", "_").casefold()
    for name in zone_names():
        if wanted in (name.casefold(), name.rsplit("/", 1)[-1].casefold()):
            raise Refusal(f"did you mean '{name}'?")
    near = nearest(wanted, zone_names()) or nearest_city(wanted)
    raise Refusal(f"did you mean '{near}'?" if near else "a zone's name is meant, such as America/Montevideo.")


def nearest_city(text: str) -> str | None:
    """The zone whose city is spelled most like the text's last part."""
    cities = {name.rsplit("/", 1)[-1].casefold(): name for name in zone_names() if "/" in name}
    near = nearest(text.rsplit("/", 1)[-1], cities)
    return cities[near] if near else None


def language(text: str) -> str:
    """A language of which there is a catalogue, by its ISO 639 code, letter case aside."""
    if text.casefold() in languages():
        return text.casefold()
    raise Refusal(f"one of these languages is meant: {named()}.")


def frequency(text: str, band: str | None) -> float:
    """A frequency in MHz within the band; hertz, kilohertz and gigahertz by mistake are told as such."""
    value = number(text)
    if value <= 0:
        raise Refusal("a frequency in megahertz is meant, such as 10368.1.")
    limits = band_table().get(band or "")
    named = band_of(value)
    if limits.holds(value) if limits else named:
        return value
    for factor, unit in ((1e-6, "hertz"), (1e-3, "kilohertz"), (1e3, "gigahertz")):
        scaled = value * factor
        if limits.holds(scaled) if limits else band_of(scaled):
            raise Refusal(f"looks like {unit}; write {scaled:.12g}.", which=True)
    if limits:
        place = f"; {printable(text)} lies in {named}" if named else ""
        raise Refusal(f"the band {limits.name} is {limits.lowest_mhz:g} to {limits.highest_mhz:g} MHz{place}.")
    raise Refusal(f"a frequency in megahertz inside a known band is meant ({', '.join(band_table())}).")


def instant(text: str) -> dt.datetime:
    """An instant in UTC, written as 2027-03-13T01:15Z, in whole minutes."""
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        raise Refusal("an instant is meant, written as 2027-03-13T01:15Z.") from None
    if "T" not in text.upper() and " " not in text:
        raise Refusal(f"the time of day is missing; write for instance {text}T01:15Z.")
    if moment.tzinfo is None:
        raise Refusal(f"the zone is missing; write {moment:%Y-%m-%dT%H:%M}Z if the time is UTC.")
    if not 1900 < moment.year < 2100:
        raise Refusal("the year is meant to be 1900 to 2099.")
    moment = moment.astimezone(dt.UTC)
    if moment.second or moment.microsecond:
        raise Refusal(f"whole minutes are meant, such as {moment:%Y-%m-%dT%H:%M}Z.")
    return moment
