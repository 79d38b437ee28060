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

from pipeline.inputs import angles_said, bounds, clocks_said, dates_said, days_said, moments_said
from pipeline.inputs.addresses_said import with_its_signs
from pipeline.inputs.bands import MODES, band_of, band_table, bands_meant
from pipeline.inputs.languages import language_named, languages, named
from pipeline.inputs.locator import LocatorError, cells, spelled
from pipeline.inputs.numbers_said import LEAVE_OUT, is_unknown
from pipeline.inputs.odd_characters import plain
from pipeline.inputs.operator_words import words_table
from pipeline.inputs.quantities import readings
from pipeline.inputs.yaml_tree import FORBIDDEN, printable

NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
CALL = re.compile(r"[A-Z0-9]+(/[A-Z0-9]+)*", re.ASCII)
MAIL = re.compile(r"[A-Za-z0-9.!#$%&'*+/=?^_`{|}~-]+@[A-Za-z0-9-]+(\.[A-Za-z0-9-]+)+", re.ASCII)
LONGEST_TEXT = 200
Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
WEEKDAYS: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


NO_ZONE = "a zone's name is meant, such as America/Montevideo."


class Refusal(ValueError):
    """What would be right, as the second half of a sentence. `which` joins it to the first as a clause."""

    def __init__(self, advice: str, which: bool = False) -> None:
        super().__init__(advice)
        self.advice, self.which = advice, which


def nearest(word: str, names: Iterable[str], least: float = 0.6) -> str | None:
    """The name most like a word, letter case aside; None where none is near. `least` is difflib's ratio."""
    by_fold = {name.casefold(): name for name in names}
    found = difflib.get_close_matches(word.casefold(), list(by_fold), n=1, cutoff=least)
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
    bare = plain(text)
    if NUMBER.fullmatch(bare) and bare[0] == "-":
        raise Refusal(f"write {bare} with a plain hyphen as the minus sign.")
    unit = re.fullmatch(r"([+-]?[\d.,]*\d)\s*[A-Za-z%\u00b0\u03a9\u00b5]*", bare)
    if unit and len(readings(unit[1])) == 1:
        figure = f"{readings(unit[1])[0]:.9g}"
        raise Refusal(f"write the number alone ({figure}, if the unit is the one that is meant).")
    raise Refusal(LEAVE_OUT if is_unknown(text) else "a number is meant.")


def latitude(text: str) -> float:
    """A latitude, with what it is most likely meant to be."""
    return on_axis(angles_said.LATITUDE, text)


def longitude(text: str) -> float:
    """A longitude, likewise."""
    return on_axis(angles_said.LONGITUDE, text)


def on_axis(axis: str, text: str) -> float:
    """A coordinate; minutes, seconds and compass letters are told in degrees."""
    try:
        return number(text)
    except Refusal:
        advice = None if plain(text).lstrip("-+").replace(".", "").isdigit() else angles_said.advice(axis, text)
        if advice is None:
            raise
        raise Refusal(advice) from None


def whole_number(text: str) -> int:
    """An integer of at most nine digits."""
    if re.fullmatch(r"[+-]?\d{1,9}", text, re.ASCII):
        return int(text)
    word = words_table()["numbers"].get(text.casefold().strip(" ."))
    if word is not None:
        raise Refusal(f"write {word}.")
    number(text)
    raise Refusal("a whole number is meant.")


def truth(text: str) -> bool:
    """true or false, and what people write for them."""
    word = text.casefold()
    if word in ("true", "yes", "on"):
        return True
    if word in ("false", "no", "off"):
        return False
    if word in ("y", "1", "x", "ja", "oui", "si", "s\u00ed", "sim", "j", "enabled", "\u2713"):
        raise Refusal("write true.")
    if word in ("n", "0", "nein", "non", "n\u00e3o", "nao", "nej", "disabled"):
        raise Refusal("write false.")
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
        near = call_inside(call)
        advice = f"; did you mean {near}?" if near else "."
        raise Refusal(f"a call sign is meant: letters A to Z, digits and '/' between them{advice}")
    if not 3 <= len(call) <= 20:
        raise Refusal("a call sign has 3 to 20 characters.")
    if call.isalpha() or not re.search("[A-Z]", call):
        raise Refusal("a call sign has at least one letter and one digit.")
    return call


def call_inside(text: str) -> str | None:
    """The call in a text with a struck-out zero, gaps, full-width letters or words behind it; None where none shows."""
    bare = re.sub(r"\.ya?ml$", "", plain(text), flags=re.IGNORECASE).upper().replace("\u00d8", "0").replace("\\", "/")
    # Gaps part a call in short pieces; a longer word is none of it.
    whole = "" if re.search(r"(?<![^\s._-])[A-Z]{5,}(?![^\s._-])", bare) else re.sub(r"[\s._-]", "", bare)
    for one in (whole, *re.split(r"[\s,;(]+", bare)[:1]):
        if CALL.fullmatch(one) and 3 <= len(one) <= 10 and not one.isalpha() and re.search("[A-Z]", one):
            return one
    return None


def station_name(text: str) -> str:
    """A call or the stem of a file's name: what `home` may hold."""
    words(text)
    if len(text) > 100 or re.search(r"[\\:*?\"<>|]", text):
        raise Refusal("a call sign, or the name of a station file without .yaml, is meant.")
    return text


def mail_address(text: str) -> str:
    """One plain address."""
    if len(text) > 254 or not MAIL.fullmatch(text) or ".." in text:
        if is_unknown(text):
            raise Refusal(LEAVE_OUT)
        near = with_its_signs(text)
        inside = MAIL.findall(near) and [found[0] for found in re.finditer(MAIL, near)]
        told = f"; write {inside[0].removeprefix('mailto:').rstrip('.')}." if inside and "\n" not in text else "."
        raise Refusal(f"one mail address is meant{told if told != '.' else ', such as ines@basalt-tor.example.'}")
    return text


def locator(text: str) -> str:
    """A Maidenhead locator in its usual spelling."""
    try:
        cells(text)
    except LocatorError as fault:
        if is_unknown(text):
            raise Refusal(LEAVE_OUT) from None
        near = locator_meant(text)
        raise Refusal(f"{fault}{f'; did you mean {near}?' if near else '.'}") from None
    return spelled(text)


def locator_meant(text: str) -> str | None:
    """A locator with gaps, or with letters for digits that look like them; None where it is none even so."""
    whole = plain(text)
    begun = re.match(r"[A-Ra-r]{2}\d\d(?:[A-Xa-x]{2}(?:\d\d)?)?(?=[\s,;/?!(.]|$)", whole)
    bare = begun[0].upper() if begun else re.sub(r"[\s._/-]", "", whole).upper()
    pairs = [bare[at : at + 2] for at in range(0, len(bare), 2)]
    turned = [
        pair.translate(str.maketrans("OI", "01") if number % 2 else str.maketrans("01", "OI"))
        for number, pair in enumerate(pairs)
    ]
    near = "".join(turned)
    try:
        cells(near)
    except LocatorError:
        return None
    return spelled(near)


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
    raise Refusal(
        clocks_said.clock_advice(text)
        or clocks_said.by_the_sky(text)
        or unknown_or(text, "a time of day is meant, such as 18:00.")
    )


def unknown_or(text: str, advice: str) -> str:
    """The advice, or to leave out what nobody knows."""
    return LEAVE_OUT if is_unknown(text) else advice


def date(text: str) -> dt.date:
    """A date as 2027-03-20, in the years 1900 to 2099."""
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, re.ASCII):
        try:
            day = dt.date.fromisoformat(text)
        except ValueError:
            raise Refusal("there is no such day.") from None
        if bounds.FIRST_YEAR <= day.year <= bounds.LAST_YEAR:
            return day
        raise Refusal(f"the year is meant to be {bounds.FIRST_YEAR} to {bounds.LAST_YEAR}.")
    advice = dates_said.date_advice(text) or dates_said.range_advice(text)
    raise Refusal(advice or unknown_or(text, "a date is meant, written as 2027-03-20."))


def date_range(text: str) -> tuple[dt.date, dt.date]:
    """First and last date of `2027-03-20/2027-03-22`, or of one date."""
    first, slash, last = text.partition("/")
    try:
        start = date(first.strip())
        end = date(last.strip()) if slash else start
    except Refusal as refusal:
        if dates_said.ISO.fullmatch(text.strip()) or refusal.advice.startswith("there is no such day"):
            raise
        told = "a date or two are meant, as 2027-03-20 or 2027-03-20/2027-03-22."
        raise Refusal(dates_said.range_advice(text) or unknown_or(text, told)) from None
    if end < start:
        raise Refusal(f"the first date comes after the last; write {end}/{start}.")
    return start, end


def month(text: str) -> str:
    """A month as 2027-03."""
    found = re.fullmatch(r"(\d{4})-(\d{2})", text, re.ASCII)
    if found and 1 <= int(found[2]) <= 12 and bounds.FIRST_YEAR <= int(found[1]) <= bounds.LAST_YEAR:
        return text
    if found and not bounds.FIRST_YEAR <= int(found[1]) <= bounds.LAST_YEAR:
        raise Refusal(f"a month from {bounds.FIRST_YEAR} to {bounds.LAST_YEAR} is meant.")
    raise Refusal(dates_said.month_advice(text) or unknown_or(text, "a month is meant, written as 2027-03."))


def weekday(text: str) -> Weekday:
    """mon to sun."""
    day = text.casefold()
    for name in WEEKDAYS:
        if day == name:
            return name
    advice = days_said.day_advice(text)
    raise Refusal(advice or f"the days are written {', '.join(WEEKDAYS)}.")


def band_name(text: str) -> str:
    """A band of the table, letter case aside."""
    name = next((name for name in band_table() if name.casefold() == text.casefold()), None)
    if name:
        return name
    compact = text.replace(" ", "").casefold()
    if compact in band_table():
        raise Refusal(f"did you mean '{compact}'?")
    parts = [part for part in re.split(r"[()\[\]/,;]", compact) if part]
    meant = bands_meant(compact) or list(
        dict.fromkeys(one for part in parts for one in ([part] if part in band_table() else bands_meant(part)))
    )
    if len(meant) == 1:
        raise Refusal(f"did you mean '{meant[0]}'?")
    if meant:
        raise Refusal(f"write {' or '.join(meant)}, by which is meant.")
    raise Refusal(suggestion(text, band_table()))


def mode(text: str) -> str:
    """A mode of the list, letter case aside."""
    name = next((name for name in MODES if name.casefold() == text.casefold()), None)
    if name:
        return name
    if text.casefold() in ("morse", "telegraphy", "a1a", "telegrafie", "telegrafía", "télégraphie", "sähkötys"):
        raise Refusal("did you mean 'CW'?")
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
    wanted = text.replace(" ", "_").casefold()
    for name in zone_names():
        if wanted == name.casefold() or (len(wanted) > 4 and wanted == name.rsplit("/", 1)[-1].casefold()):
            raise Refusal(f"did you mean '{name}'?")
    raise Refusal(NO_ZONE)


def language(text: str) -> str:
    """A language of which there is a catalogue, by its ISO 639 code, letter case aside."""
    if text.casefold() in languages():
        return text.casefold()
    near = language_named(text)
    raise Refusal(
        f"did you mean '{near}'?" if near else f"one of these languages is meant, else leave it out: {named()}."
    )


def frequency(text: str, band: str | None) -> float:
    """A frequency in MHz within the band; hertz, kilohertz and gigahertz by mistake are told as such."""
    value = megahertz(text, band)
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


def megahertz(text: str, band: str | None) -> float:
    """The number; one with a unit, a decimal comma or points between thousands is told in megahertz."""
    try:
        return number(text)
    except Refusal:
        if is_unknown(text):
            raise
    limits = band_table().get(band or "")
    said = re.fullmatch(r"([\d., ']*\d)\s*([kmg]?hz)?\b.*", plain(text), re.IGNORECASE)
    ends = re.fullmatch(r"(\d+\.?\d*)\s*(?:-|to|bis|\.\.+)\s*(\d+\.?\d*)\s*(?:mhz)?", plain(text), re.IGNORECASE)
    if ends and float(ends[1]) < float(ends[2]):
        middle = (float(ends[1]) + float(ends[2])) / 2
        raise Refusal(f"one frequency is meant; for {ends[1]} to {ends[2]} write for instance {middle:.9g}.")
    unit = {"hz": 1e-6, "khz": 1e-3, "mhz": 1.0, "ghz": 1e3}
    factors = [unit[said[2].casefold()]] if said and said[2] else [1.0, 1e-3, 1e-6, 1e3]
    for value in readings(said[1]) if said else []:
        for factor in factors:
            if limits.holds(value * factor) if limits else band_of(value * factor):
                raise Refusal(f"megahertz are meant; write {value * factor:.12g}.")
    raise Refusal("a frequency in megahertz is meant, such as 10368.1.")


def instant(text: str) -> dt.datetime:
    """An instant in UTC, written as 2027-03-13T01:15Z, in whole minutes."""
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        advice = moments_said.instant_advice(text)
        raise Refusal(advice or "an instant is meant, written as 2027-03-13T01:15Z.") from None
    if "T" not in text.upper() and " " not in text:
        raise Refusal(f"the time of day is missing; write for instance {text}T01:15Z.")
    if moment.tzinfo is None:
        raise Refusal(f"the zone is missing; write {moment:%Y-%m-%dT%H:%M}Z if the time is UTC.")
    try:
        moment = bounds.in_utc(moment)
    except bounds.TooMuch as much:
        raise Refusal(f"{much}.") from None
    if moment.second or moment.microsecond:
        raise Refusal(f"whole minutes are meant, such as {moment:%Y-%m-%dT%H:%M}Z.")
    return moment
