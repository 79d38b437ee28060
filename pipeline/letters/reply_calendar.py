"""Answers in iCalendar text as the large calendar services write them, read with patience and without trust.

RFC 5545 section 3.1 (folding, parameters), RFC 5546 section 3.2.3 (REPLY) and 3.2.7 (COUNTER). Only the few properties
that an answer needs are looked at; everything else, well-formed or not, is passed over.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import unquote
from zoneinfo import ZoneInfo

from icalendar.timezone.windows_to_olson import WINDOWS_TO_OLSON

from pipeline.inputs.bounds import MOST_EVENTS, TooMuch
from pipeline.inputs.odd_characters import LINE_BREAK

LARGEST_CHARACTERS = 1_000_000
MOST_ATTENDEES = 50
# A calendar, an event, an alarm; a zone and its rules.
DEEPEST = 5
LONGEST_VALUE = 2_000
# Unfolded first: a long word may be cut anywhere (section 3.1).
FOLD = re.compile(r"(?:\r\n|\r|\n)[ \t]")
UTC_TIME = re.compile(r"(\d{8})T(\d{6})(Z?)", re.ASCII)
DURATION = re.compile(r"P(?:(\d{1,2})W)?(?:(\d{1,3})D)?(?:T(?:(\d{1,3})H)?(?:(\d{1,4})M)?(?:(\d{1,5})S)?)?", re.ASCII)


@dataclass(frozen=True)
class Property:
    """One line: name and parameter names in capitals."""

    name: str
    parameters: dict[str, str]
    value: str


@dataclass(frozen=True)
class Attendee:
    """Someone who answers: the bare address in small letters, PARTSTAT in capitals."""

    address: str
    answer: str


@dataclass(frozen=True)
class EventReply:
    """One event of an answer. Times are None where absent or in a zone that nobody knows; `organizer` is an address."""

    method: str
    uid: str
    sequence: int | None
    stamp_utc: dt.datetime | None
    attendees: tuple[Attendee, ...]
    comment: str
    start_utc: dt.datetime | None
    end_utc: dt.datetime | None
    organizer: str = ""


def properties(text: str) -> Iterator[Property]:
    """The lines that can be read as properties."""
    for line in LINE_BREAK.split(FOLD.sub("", text)):
        made = property_of(line)
        if made is not None:
            yield made


def property_of(line: str) -> Property | None:
    """`NAME;PARAMETER=value;OTHER="quoted: value":the value`; None where the line is none."""
    colon = colon_of(line)
    if colon < 0:
        return None
    name, *rest = split_outside_quotes(line[:colon])
    name = name.strip().upper()
    if not name:
        return None
    parameters = {}
    for part in rest:
        key, _, value = part.partition("=")
        parameters[key.strip().upper()] = value.strip().strip('"')
    return Property(name, parameters, line[colon + 1 : colon + 1 + LONGEST_VALUE].strip())


def colon_of(line: str) -> int:
    """Index of the colon before the value: the first outside quotes; the very first where quotes do not close."""
    inside = False
    for index, sign in enumerate(line):
        if sign == '"':
            inside = not inside
        elif sign == ":" and not inside:
            return index
    return line.find(":") if inside else -1


def split_outside_quotes(text: str) -> list[str]:
    """Name and parameters, split at semicolons outside quotes."""
    parts, inside, start = [], False, 0
    for index, sign in enumerate(text):
        if sign == '"':
            inside = not inside
        elif sign == ";" and not inside:
            parts.append(text[start:index])
            start = index + 1
    return [*parts, text[start:]]


def read_calendar(text: str, method: str = "") -> tuple[EventReply, ...]:
    """The events of a calendar object. Raises TooMuch where it is larger than any answer.

    `method` stands in where the object itself names none.
    """
    if len(text) > LARGEST_CHARACTERS:
        raise TooMuch(f"its calendar has over {LARGEST_CHARACTERS:,} letters")
    events: list[list[Property]] = []
    depth: list[str] = []
    found = method.upper()
    for line in properties(text):
        if line.name == "BEGIN":
            depth.append(line.value.upper())
            if depth[1:] == ["VEVENT"]:
                events.append([])
            if len(depth) > DEEPEST:
                raise TooMuch(f"its calendar is nested more than {DEEPEST} deep")
            if len(events) > MOST_EVENTS:
                raise TooMuch(f"its calendar holds more than {MOST_EVENTS} events")
        elif line.name == "END":
            while depth and depth.pop() != line.value.upper():
                continue
        elif line.name == "METHOD" and "VEVENT" not in depth:
            found = line.value.upper()
        elif depth[1:] == ["VEVENT"]:
            events[-1].append(line)
    return tuple(event_of(lines, found) for lines in events)


def event_of(lines: list[Property], method: str) -> EventReply:
    """One event from its lines; of a property that may stand once the first counts."""
    first: dict[str, Property] = {}
    for line in lines:
        first.setdefault(line.name, line)
    attendees = [line for line in lines if line.name == "ATTENDEE"][:MOST_ATTENDEES]
    sequence = first["SEQUENCE"].value if "SEQUENCE" in first else ""
    start = moment_of(first.get("DTSTART"))
    end = moment_of(first.get("DTEND"))
    if end is None and start is not None and "DURATION" in first:
        length = duration_of(first["DURATION"].value)
        end = _later(start, length) if length else None
    return EventReply(
        method=method,
        uid=first["UID"].value if "UID" in first else "",
        sequence=int(sequence) if re.fullmatch(r"\d{1,9}", sequence, re.ASCII) else None,
        stamp_utc=moment_of(first.get("DTSTAMP")),
        attendees=tuple(attendee_of(line) for line in attendees),
        comment=unescaped(first["COMMENT"].value) if "COMMENT" in first else "",
        start_utc=start,
        end_utc=end,
        organizer=person_address(first["ORGANIZER"]) if "ORGANIZER" in first else "",
    )


def attendee_of(line: Property) -> Attendee:
    """The address bare and in small letters; without PARTSTAT nothing was answered (RFC 5545, section 3.2.12)."""
    answer = line.parameters.get("PARTSTAT", "NEEDS-ACTION").upper()
    return Attendee(person_address(line), answer)


def person_address(line: Property) -> str:
    """The address of an attendee or organizer: RFC 7986, section 6.2, where the value is none, EMAIL holds it."""
    return address_of(line.parameters.get("EMAIL", line.value) if "@" not in line.value else line.value)


def address_of(value: str) -> str:
    """`MAILTO:Ines@Basalt-Tor.example` as `ines@basalt-tor.example`."""
    bare = value.strip().strip("<>\"'").strip()
    if bare[:7].casefold() == "mailto:":
        bare = unquote(bare[7:].partition("?")[0])
    return bare.strip().strip("<>").casefold()


def unescaped(text: str) -> str:
    """TEXT without its escapes (section 3.3.11)."""
    return re.sub(r"\\([\\;,nN])", lambda found: " " if found[1] in "nN" else found[1], text)


def moment_of(line: Property | None) -> dt.datetime | None:
    """An instant in UTC; None for a date, a time without a zone, or one in a zone that nobody knows."""
    found = UTC_TIME.fullmatch(line.value) if line else None
    if line is None or found is None:
        return None
    zone: dt.tzinfo = dt.UTC
    if not found[3]:
        name = line.parameters.get("TZID", "")
        # Some programs name zones by a list of their own; Unicode's CLDR says which zone each of them is.
        name = WINDOWS_TO_OLSON.get(name, name)
        # A name from outside goes to the zone database only if it looks like one of its names.
        if not re.fullmatch(r"[A-Za-z0-9_+-]{1,40}(/[A-Za-z0-9_+-]{1,40}){0,2}", name):
            return None
        try:
            zone = ZoneInfo(name)
        except (KeyError, ValueError, OSError):
            return None
    try:
        moment = dt.datetime.strptime(found[1] + found[2], "%Y%m%d%H%M%S").replace(tzinfo=zone)
        return moment.astimezone(dt.UTC)
    except (ValueError, OverflowError):
        return None


def _later(start: dt.datetime, length: dt.timedelta) -> dt.datetime | None:
    """The end of a stretch; None beyond the calendar's."""
    try:
        return start + length
    except OverflowError:
        return None


def duration_of(value: str) -> dt.timedelta | None:
    """`PT1H`."""
    found = DURATION.fullmatch(value)
    if found is None or value.endswith(("P", "T")):
        return None
    weeks, days, hours, minutes, seconds = (int(part or 0) for part in found.groups())
    return dt.timedelta(weeks=weeks, days=days, hours=hours, minutes=minutes, seconds=seconds)
