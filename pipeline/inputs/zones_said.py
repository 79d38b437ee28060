"""Time zones as people name them to names of the IANA time zone database.

Abbreviations are those in use in the database itself in 2027 and some that it dropped; another system's names come
from the Unicode CLDR's windowsZones table, by way of babel.
"""

from __future__ import annotations

import math
import re
import unicodedata
from functools import cache
from importlib import resources
from zoneinfo import ZoneInfo

from pipeline.inputs.odd_characters import plain
from pipeline.inputs.zone_of_place import SAMPLES, offsets_min, zone_of

# Dropped from the database in 2017, when it gave up abbreviations that were not in use in English; from memory.
FORMER = {
    "UYT": "America/Montevideo", "UYST": "America/Montevideo", "BRT": "America/Sao_Paulo", "ART":
    "America/Argentina/Buenos_Aires",
    "CLT": "America/Santiago", "CLST": "America/Santiago", "PYT": "America/Asuncion", "BOT": "America/La_Paz",
    "PET": "America/Lima", "COT": "America/Bogota", "VET": "America/Caracas", "ECT": "America/Guayaquil",
    "SGT": "Asia/Singapore", "MYT": "Asia/Kuala_Lumpur", "ICT": "Asia/Bangkok", "NPT": "Asia/Kathmandu",
    "UZT": "Asia/Tashkent", "GET": "Asia/Tbilisi", "TRT": "Europe/Istanbul", "IRST": "Asia/Tehran", "AZT": "Asia/Baku",
    "AMT": "America/Manaus", "FKST": "Atlantic/Stanley", "AZOT": "Atlantic/Azores", "NCT": "Pacific/Noumea",
    "FJT": "Pacific/Fiji", "THA": "Asia/Bangkok", "MEZ": "Europe/Berlin", "MESZ": "Europe/Berlin", "HNE":
    "America/Montreal",
    "AET": "Australia/Sydney", "ET": "America/New_York", "CT": "America/Chicago", "MT": "America/Denver",
    "PT": "America/Los_Angeles", "UKT": "Europe/London", "TAHT": "Pacific/Tahiti", "GALT": "Pacific/Galapagos",
}  # fmt: skip
FOREMOST = (
    "Europe/London", "Europe/Berlin", "Europe/Paris", "Europe/Helsinki", "America/New_York", "America/Toronto",
    "America/Chicago", "America/Denver",
    "America/Los_Angeles", "America/Anchorage", "America/Halifax", "Asia/Tokyo", "Asia/Shanghai", "Asia/Kolkata",
    "Asia/Jerusalem",
    "Europe/Dublin", "Australia/Sydney", "Australia/Perth", "Australia/Adelaide", "Pacific/Auckland",
    "Africa/Johannesburg",
    "Europe/Moscow", "Europe/Lisbon", "Asia/Manila", "America/Havana",
)  # fmt: skip


@cache
def table() -> tuple[tuple[str, str, float, float], ...]:
    """Country, zone, latitude and longitude in degrees of every row of zone.tab."""
    rows = []
    for line in resources.files("tzdata").joinpath("zoneinfo/zone.tab").read_text("utf-8").splitlines():
        if line and not line.startswith("#"):
            country, place, name = line.split("\t")[:3]
            found = re.match(r"([+-]\d+)([+-]\d+)$", place)
            if found:
                rows.append((country, name, degrees(found[1]), degrees(found[2])))
    return tuple(rows)


def degrees(text: str) -> float:
    """ISO 6709: +DDMM, +DDMMSS, +DDDMM or +DDDMMSS."""
    digits = text[1:]
    whole = len(digits) - (2 if len(digits) < 6 else 4)
    size = int(digits[:whole]) + int(digits[whole : whole + 2]) / 60 + int(digits[whole + 2 :] or 0) / 3600
    return -size if text[0] == "-" else size


def by_distance(latitude_deg: float, longitude_deg: float) -> list[tuple[float, str]]:
    """Every zone with the angle in degrees to its city, the nearest first."""
    here = math.radians(latitude_deg)
    found = []
    for _, name, latitude, longitude in table():
        there = math.radians(latitude)
        cosine = math.sin(here) * math.sin(there)
        cosine += math.cos(here) * math.cos(there) * math.cos(math.radians(longitude - longitude_deg))
        found.append((math.degrees(math.acos(max(-1.0, min(1.0, cosine)))), name))
    return sorted(found)


@cache
def abbreviations() -> dict[str, tuple[str, ...]]:
    """Zones by the abbreviations they have in 2027; those that most people mean come first."""
    found: dict[str, list[str]] = {}
    names = [name for _, name, _, _ in table()]
    for name in (*FOREMOST, *names):
        for sample in SAMPLES:
            short = sample.replace(tzinfo=ZoneInfo(name)).tzname() or ""
            if short.isalpha() and name not in found.setdefault(short, []):
                found[short].append(name)
    for short, name in FORMER.items():
        found.setdefault(short, [name])
    return {short: tuple(zones) for short, zones in found.items()}


@cache
def another_systems() -> dict[str, str]:
    """Zones by the names that a desk computer's settings give them, in small letters."""
    from babel.core import get_global

    return {name.casefold(): zone for name, zone in get_global("windows_zone_mapping").items()}


def advice(text: str, place_deg: tuple[float, float] | None) -> str | None:
    """What to write for a zone that the database does not know; None where nothing is known of it.

    `place_deg` is the station's latitude and longitude, where its file tells them.
    """
    said = plain(text)
    meant = another_systems().get(said.casefold())
    if not meant and not said.casefold().startswith("us "):  # which is Indiana's there
        meant = another_systems().get(f"{said} standard time".casefold())
    # Another system calls bare offsets zones as well; none of these has summer time.
    if meant and not (meant.startswith("Etc/") and place_deg):
        return by_one_name(said, meant, place_deg)
    # Two names of one clock, winter and summer, or one with its offset behind it.
    parts = [part for part in re.split(r"\s*[/,|(]\s*|\s+(?:or|und|and|bzw\.?)\s+", said.rstrip(") ")) if part]
    if len(parts) > 1 and parts[0].upper() in abbreviations():
        said = parts[0]
    short = abbreviations().get(said.upper()) if re.fullmatch(r"[A-Za-z]{2,5}", said) else None
    if short:
        return by_abbreviation(said.upper(), short, place_deg)
    offset = re.fullmatch(r"(?:utc|gmt|z|ut)?\s*([+-]?)\s*(\d{1,2})(?::?(\d\d))?", said, re.IGNORECASE)
    if offset or said.casefold() == "z":
        return by_offset(offset, place_deg)
    city = by_city(said, place_deg)
    if city:
        return f"did you mean '{city}'?"
    return None


def by_one_name(said: str, zone: str, place_deg: tuple[float, float] | None) -> str:
    """A name that stands for one zone: that of the station's place where its clock is the same."""
    if place_deg is None:
        return f"{said} is {zone}; write that."
    here = zone_of(*place_deg)
    if offsets_min(here) == offsets_min(zone):
        return f"by the station's place {said} is {here}; write that."
    if next((angle for angle, name in by_distance(*place_deg) if name == zone), 0.0) > 40:
        return f"{said} is {zone}, and the station's place lies by {here}: one of the two is wrong."
    return f"{said} is {zone}; write that."


def by_abbreviation(short: str, zones: tuple[str, ...], place_deg: tuple[float, float] | None) -> str:
    """An abbreviation knows no summer time or stands for several places."""
    if place_deg:
        here = zone_of(*place_deg)
        near = here if here in zones else next(name for _, name in by_distance(*place_deg) if name in zones)
        angle = next(angle for angle, name in by_distance(*place_deg) if name == near)
        if len(zones) > 1 and angle < 12:
            return f"by the station's place {short} is {near}; write that."
    if len(zones) == 1:
        return by_one_name(short, zones[0], place_deg)
    known = [name for name in zones if name in FOREMOST]
    told = ", ".join((known if len(known) > 1 else zones)[:4])
    return f"{short} is used in several places; write the one of yours, such as {told}."


def by_offset(offset: re.Match[str] | None, place_deg: tuple[float, float] | None) -> str:
    """An offset is no zone: it knows no summer time."""
    told = "the name of a zone is meant, not an offset, which knows no summer time"
    if place_deg is None:
        return f"{told}; such as Europe/Berlin or America/Montevideo."
    here = zone_of(*place_deg)
    if offset:
        minutes = (-1 if offset[1] == "-" else 1) * (int(offset[2]) * 60 + int(offset[3] or 0))
        near = [here, *(name for angle, name in by_distance(*place_deg) if angle < 15)]
        fit = next((name for name in near if minutes in offsets_min(name)), None)
        if fit:
            return f"{told}; by the station's place write {fit}."
        return f"{told}; the station's place is in {here}, whose clock differs: one of the two is wrong."
    return f"{told}; by the station's place write {here}."


@cache
def cities() -> dict[str, str]:
    """Zones by their cities and countries, in several languages, folded; a name that stands for two is left out."""
    from babel import Locale

    found: dict[str, set[str]] = {}
    countries: dict[str, list[str]] = {}
    for country, name, _, _ in table():
        found.setdefault(plain_letters(name.rsplit("/", 1)[-1]), set()).add(name)
        countries.setdefault(country, []).append(name)
    for code in ("en", "de", "es", "fr", "it", "pt"):
        locale = Locale.parse(code)
        for zone, names in locale.time_zones.items():
            if "city" in names and any(zone == row[1] for row in table()):
                found.setdefault(plain_letters(names["city"]), set()).add(zone)
        for country, zones in countries.items():
            if len(zones) == 1 and country in locale.territories:
                found.setdefault(plain_letters(locale.territories[country]), set()).add(zones[0])
    return {word: zones.pop() for word, zones in found.items() if len(zones) == 1}


def plain_letters(text: str) -> str:
    """Small letters without accents, gaps and strokes."""
    apart = unicodedata.normalize("NFD", text.casefold())
    return re.sub(r"[\W_]", "", "".join(char for char in apart if not unicodedata.combining(char)))


def by_city(text: str, place_deg: tuple[float, float] | None = None) -> str | None:
    """The zone of a city or of a country with one zone: Rome, Italia, `Italy/Rome`, `Rome time`."""
    said = re.sub(r"\b(time|zeit|standard|daylight|summer|city)\b", "", text, flags=re.IGNORECASE)
    said = re.sub(r"\(.*?\)", "", said)
    parts = (said, *(reversed(said.split("/")) if "/" in said else said.split(",")))
    known = [cities()[plain_letters(part)] for part in parts if plain_letters(part) in cities()]
    here = zone_of(*place_deg) if place_deg else None
    return here if here in known else next(iter(known), None)
