"""Entries of lists as people say them: points of a skyline and hours of the week, to the keys that a file takes.

Hours said in universal time are turned to the clock of the station's zone, winter and summer apart where they differ.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from pipeline.inputs import clocks_said, days_said, zones_said
from pipeline.inputs.days_said import DAYS, in_brackets
from pipeline.inputs.odd_characters import plain
from pipeline.inputs.operator_words import words_table

FIGURE = r"[-+]?\d+(?:[.,]\d+)?"
# Sixteen points of the compass, clockwise from north.
COMPASS = ("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW")
ARC = re.compile(r"(\d{1,3})\s*(?:-|to|bis|\.\.+|à|a)\s*(\d{1,3})\s*[=:\s]\s*(\d+(?:[.,]\d+)?)")
# An azimuth and a height with a mark between them that parts nothing else.
PAIR = re.compile(rf"({FIGURE})\s*(?:=>|->|[=:/@|]|\s-\s)\s*({FIGURE})(?![\d.,]*\d)")
ALL_DAY = re.compile(
    r"\b(?:all day(?: long)?|whole day|ganztags|ganzer tag|den ganzen tag|toute la journée|todo el día|tutto il giorno|"
    r"o dia todo|hele dagen|hela dagen|cały dzień|celý den|24\s?h(?:ours|rs)?)\b",
    re.IGNORECASE,
)
EVENING = re.compile(
    r"\b(?:in the )?(?:evenings?|abends?|soirs?|soirées?|tardes?|noches?|sera|sere|noites?|avonds?|"
    r"kväll(?:ar)?|aften(?:er)?|kveld(?:er)?|illat|ilta|wiecz[oó]r(?:y|em)?|večer|este)\b",
    re.IGNORECASE,
)
# From a time on, without an end.
OPEN_END = re.compile(
    r"^(.*?)\s*\b(?:ab|from|after|since|desde|dalle|depuis|vanaf|efter|etter|od|po|kl|à partir de|a partir de)\.?\s+"
    r"(\d{1,2}(?:[:.h]\d\d)?)\s*(?:uhr|h|hrs|on|onwards?)?$",
    re.IGNORECASE,
)
# Words that stand beside days and change nothing.
ABOUT_DAYS = re.compile(
    r"\b(?:on|nur|only|jeden|jede|every|each|all|am|le|les|los|il|chaque|cada|ogni|hver|varje|tous|toutes|todos|todas|tutti|las|nights?|evenings?)\b",
    re.IGNORECASE,
)
UNIVERSAL = re.compile(r"\s*\(?\b(?:utc|gmt|zulu|ut|z)\b\.?\)?|(?<=\d)z\b", re.IGNORECASE)


@dataclass(frozen=True)
class Stretch:
    """Days of the week and local times from and to, as a file has them."""

    days: tuple[str, ...]
    start: str
    end: str

    def written(self) -> str:
        """As an entry of `available`."""
        return f"{{days: {in_brackets(self.days)}, from: {self.start}, to: {self.end}}}"


def points_said(text: str) -> list[tuple[str, str]]:
    """Azimuth and elevation of each point in a text, in degrees; none where it is not sure which is which."""
    said = re.sub(r"[°º]|\bdeg\b|\bgrad\b", "", plain(text)).strip("[]{}() ,;")
    said = re.sub(r"(?<![^\W\d_])[NESWnesw]{1,3}(?![^\W\d_])", bearing, said)
    arc = ARC.fullmatch(said)
    if arc and int(arc[1]) < int(arc[2]) <= 360:
        # The next arc begins where this one ends, and a point has one height.
        return [(arc[1], figure(arc[3])), (f"{int(arc[2]) - 0.1:g}", figure(arc[3]))]
    if not re.search(r"\d", said) or re.search(r"[^\d\s.,;:=/@|>()\[\]+-]", said):
        return []
    said = re.sub(r"[\[\](){}]", " ; ", said) if re.search(r"[\])}]\s*[,;]?\s*[\[({]", said) else said
    pairs = PAIR.findall(said)
    if pairs and not PAIR.sub("", said).strip(" ,;"):
        return [(figure(azimuth), figure(height)) for azimuth, height in pairs]
    parts = [part.strip(" ,") for part in said.split(";") if part.strip(" ,")]
    if len(parts) == 2 and all(re.fullmatch(FIGURE, part) for part in parts):
        return [(figure(parts[0]), figure(parts[1]))]
    found = [numbers_of(part) for part in parts]
    if not all(len(numbers) % 2 == 0 and numbers for numbers in found) or (len(parts) > 1 and max(map(len, found)) > 2):
        return []
    return [(one[at], one[at + 1]) for one in found for at in range(0, len(one), 2)]


def bearing(found: re.Match[str]) -> str:
    """A point of the compass in degrees; left as it is where it is none."""
    word = found[0].upper()
    return f"{22.5 * COMPASS.index(word):g}" if word in COMPASS else found[0]


def numbers_of(text: str) -> list[str]:
    """The numbers of a text parted by blanks or commas; none where a comma can part decimals as well as numbers."""
    parts = [part for part in re.split(r",\s+|\s+,?\s*|\t", text) if part]
    if len(parts) == 1 and text.count(",") == 1:
        parts = text.split(",")
    return [figure(part) for part in parts] if all(re.fullmatch(FIGURE, part) for part in parts) else []


def figure(text: str) -> str:
    """A number with a decimal point."""
    return text.replace(",", ".").lstrip("+")


def stretches_said(text: str) -> list[Stretch]:
    """The days and hours of a text; `18:00` to `23:30` where it names days alone, every day where hours alone."""
    bare = plain(text).strip("[]{}()- ")
    parted = [part for part in re.split(r"\s*[;,|]\s*|\s+(?:and|und|y|et|e)\s+", bare) if part]
    if len(parted) > 1 and all(spoken(part) or days_and_hours(part) for part in parted):
        return [one for part in parted if (one := spoken(part) or days_and_hours(part))]
    if said := spoken(bare):
        return [said]
    bare = OPEN_END.sub(r"\1 \2-24:00", bare)
    if not bare or bare.casefold() in words_table()["choices"]["always"]:
        return []
    parts = [part.strip() for part in bare.split(",")]
    times = [time for time in map(clocks_said.clock_meant, parts) if time]
    if len(times) == 2 and parts[-2:] == [part for part in parts if clocks_said.clock_meant(part)]:
        days = days_in(", ".join(parts[:-2]))
        if days:
            return [Stretch(days, *times)]
    days = days_in(bare)
    sure = days_said.day_list(bare) or bare.casefold() in days_said.words("days")
    if days and sure and not re.search(r"\d", bare):
        return [Stretch(days, "18:00", "23:30")]
    both = clocks_said.hours_meant(bare)
    if both:
        return [Stretch(DAYS, *both)]
    several = [
        part for part in re.split(r"\s*[;|]\s*|\s*,\s*(?=\D+\d)|\s+(?:and|und|y|et|e)\s+(?=\D+\d)", bare) if part
    ]
    mixed = [days_and_hours(part) for part in several]
    if all(mixed):
        return [one for one in mixed if one]
    whole = days_and_hours(bare)
    return [whole] if whole else []


def spoken(text: str) -> Stretch | None:
    """Days with a word in place of hours: all day, in the evening."""
    for words, start, end in ((ALL_DAY, "00:00", "24:00"), (EVENING, "18:00", "23:30")):
        rest = words.sub(" ", text)
        if rest != text:
            days = days_in(rest) if rest.strip(" ,:") else DAYS
            return Stretch(days, start, end) if days and not re.search(r"\d", rest) else None
    return None


def days_and_hours(text: str) -> Stretch | None:
    """`fri, sat 18-23`, or the hours before the days."""
    for form, order in ((r"(\D+?)[,:=\s(]+(\d.*)$", (1, 2)), (r"(\d.*\d\S*)\s*[,:(]?\s+([^\d]+)$", (2, 1))):
        found = re.match(form, text.strip())
        if found:
            days = days_in(found[order[0]])
            both = clocks_said.hours_meant(found[order[1]].strip(" )"))
            if days and both:
                return Stretch(days, *both)
    return None


def days_in(text: str) -> tuple[str, ...]:
    """The days of a text, one or several: `every Friday`, `on Mondays and Tuesdays`."""
    said = ABOUT_DAYS.sub(" ", plain(text)).strip(" ,;:[](){}")
    # An s at the end is a plural or a name's own.
    for form in (said, re.sub(r"(?<=\w)s\b", "", said)):
        if found := days_said.day_list(form) or tuple(day for day, _ in days_said.days_meant(form)[:1]):
            return found
    return ()


def hours_advice(text: str, zone: str | None) -> str | None:
    """What to write where a list of days and hours is meant; `zone` turns universal time to the station's own."""
    if plain(text).casefold().strip(" .!") in words_table()["never"]:
        return "a station that is never free is no partner; take it out of the season, or leave the hours out."
    universal = UNIVERSAL.search(text)
    found = stretches_said(UNIVERSAL.sub("", text) if universal else text)
    if not found:
        return None
    if universal:
        return by_the_clock(found, zone)
    if len(found) > 1:
        return f"write [{', '.join(one.written() for one in found)}]."
    said = found[0]
    with_own = " with your hours" if not re.search(r"\d", text) else " with your days" if said.days == DAYS else ""
    with_own = "" if days_in(re.sub(r"\d.*$", "", text)) == DAYS else with_own
    return f"write {said.written()}{with_own}."


def by_the_clock(found: list[Stretch], zone: str | None) -> str:
    """Hours in universal time as the clock of a zone shows them, winter and summer."""
    if zone is None:
        return f"hours are local time, not UTC: write {found[0].written()} with the hours of the station's own clock."
    winter, summer = ([moved(one, minutes) for one in found] for minutes in zones_said.offsets_min(zone))
    told = [", ".join(one.written() for one in season) for season in (winter, summer)]
    told = [f"[{text}]" if len(found) > 1 else text for text in told]
    if told[0] == told[1]:
        return f"hours are by the station's own clock ({zone}), not UTC: write {told[0]}."
    return (
        f"hours are by the station's own clock ({zone}), not UTC: in January that is {told[0]}, in July {told[1]}; "
        "write the one of your months."
    )


def moved(said: Stretch, offset_min: float) -> Stretch:
    """A stretch by another clock; its days move along where it begins on another."""
    minutes = [int(text[:2]) * 60 + int(text[3:]) + round(offset_min) for text in (said.start, said.end)]
    further = minutes[0] // 1440
    days = [DAYS[(DAYS.index(day) + further) % 7] for day in said.days]
    start, end = (f"{one % 1440 // 60:02d}:{one % 60:02d}" for one in minutes)
    return Stretch(tuple(sorted(days, key=DAYS.index)), start, end)
