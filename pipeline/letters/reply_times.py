"""Times and dates that a sentence of an answer names, held against the slots and other times that wait for one.

What stands together (`Mon 24 May 21:45`) must be one slot's by one clock, the weekday and the date included. Names of
months and weekdays: Unicode CLDR (package babel); forms of times of day from memory.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cache

from pipeline.inputs.days_said import folded, words

LANGUAGES = frozenset({"English", "German", "French", "Spanish", "Portuguese", "Italian", "Japanese"})
LATIN = r"A-Za-z\u00c0-\u024f"
CLOCK = re.compile(
    rf"(?<![\d:.])(?P<hour>[01]?\d|2[0-4])(?:(?:[:h時]|\s?h(?![{LATIN}])\s?)(?P<minute>[0-5]\d)?分?|\.(?P<dotted>[0-5]\d)(?=\s*(?:uhr|utc|h\b))"
    r"|(?P<packed>[0-5]\d)?(?=\s*(?:uhr|utc|z\b|am\b|pm\b|a\.m|p\.m|o'clock)))\s*(?P<half>am\b|pm\b|a\.m|p\.m)?"
    r"(?P<utc>\s*(?:utc|gmt|z)(?![\w+-]))?",
    re.IGNORECASE,
)
NAME = rf"[{LATIN}]{{3,}}(?:-feira)?"
DATE = re.compile(
    r"(?<![\d:./-])(?:(?P<iso>\d{4}-\d\d-\d\d)|(?:(?P<ja_month>\d{1,2})月)?(?P<ja_day>\d{1,2})日"
    r"|(?P<one>\d{1,2})(?:/(?P<by_stroke>\d{1,2})(?:/(?:\d{4}|\d\d))?|\.(?P<by_dot>\d{1,2})\.(?:\d{4}|\d\d)?)(?![\d:]))"
)
DAY_BEFORE = re.compile(r"(?<![\d:.])(\d{1,2})(?:st|nd|rd|th|er|º|°|\.)?\s*(?:of |de |di |d['’])?$", re.IGNORECASE)
DAY_AFTER = re.compile(r"\.?\s+(\d{1,2})(?:st|nd|rd|th)?(?![\d:.]|\s*(?:h\b|uhr|utc|am\b|pm\b))", re.IGNORECASE)
WORD = re.compile(rf"(?P<ja>[月火水木金土日])曜日?|(?<![{LATIN}]){NAME}(?![{LATIN}])")
EAST = "月火水木金土日"
DOTTED = re.compile(rf"(?<![\d:.])(\d{{1,2}})\.\s*(?=({NAME}))")
# Abbreviations and names that are other words as well: a date or a time must stand beside them.
ALSO_WORDS = frozenset({"sun", "sat", "mon", "segunda", "terca", "quarta", "quinta", "sexta"})
# Between the parts of one time stands nothing but these.
BETWEEN = re.compile(
    rf"[\s,;()]*(?:(?:at|um|on|am|à|às|as|alle|ore|on|the|den|der|le|el|il|de|di|del|las|a|に|の|utc|z|gmt|[+-]\d{{1,2}}"
    rf"|utc[+-]\d{{1,2}}|20\d\d)(?![{LATIN}\d])[\s,;()]*)*",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class OpenSlot:
    """A slot that waits for an answer, or another time for one (`instead_of`): its letter, and its edges by each clock.

    The first clock is UTC.
    """

    label: str
    begins: tuple[dt.datetime, ...]
    ends: tuple[dt.datetime, ...]
    instead_of: str = ""


@dataclass(frozen=True)
class Piece:
    """A time of day, a date or a weekday in a sentence; a date as every month and day that it may be."""

    at: int
    end: int
    clock: str = ""
    weekday: int | None = None
    dates: frozenset[tuple[int, int]] = frozenset()
    is_utc: bool = False


@dataclass(frozen=True)
class Named:
    """What stands together in a sentence; `text` are the sentence's own signs."""

    at: int
    text: str
    clock: str
    weekday: int | None
    dates: frozenset[tuple[int, int]]
    is_utc: bool

    def is_edge(self, edges: Sequence[dt.datetime]) -> bool:
        """Whether an edge of a slot is what is named, by one of its clocks."""
        return any(self._is(edge) for edge in (edges[:1] if self.is_utc else edges))

    def _is(self, edge: dt.datetime) -> bool:
        return (
            (not self.clock or f"{edge:%H:%M}" == self.clock)
            and (self.weekday is None or edge.weekday() == self.weekday)
            and (not self.dates or bool(self.dates & {(edge.month, edge.day), (0, edge.day)}))
        )


def by_clocks(moment: dt.datetime, zones: Collection[dt.tzinfo | None]) -> tuple[dt.datetime, ...]:
    """An instant by UTC and by each clock that is known."""
    return tuple(moment.astimezone(zone) for zone in (dt.UTC, *(one for one in zones if one)))


def named_in(sentence: str) -> tuple[list[Named], str]:
    """The times and dates of a sentence, in order, and the sentence with blanks in their place."""
    pieces: list[Piece] = []
    text = sentence
    for pattern, made in ((DATE, _date), (WORD, _month), (CLOCK, _clock), (WORD, _weekday)):
        found = [piece for one in pattern.finditer(text) if (piece := made(one)) is not None]
        text = _blanked(text, found)
        pieces += found
    pieces.sort(key=lambda one: one.at)
    groups: list[list[Piece]] = []
    for piece in pieces:
        last = groups[-1] if groups else []
        alike = any(_is_same_kind(one, piece) for one in last)
        if last and not alike and BETWEEN.fullmatch(sentence, last[-1].end, piece.at):
            last.append(piece)
        else:
            groups.append([piece])
    kept = [group for group in groups if len(group) > 1 or not _is_also_a_word(group[0], sentence)]
    return [_named(group, sentence) for group in kept], _blanked(sentence, [one for group in kept for one in group])


def foreign_times(times: Sequence[Named], slots: Sequence[OpenSlot]) -> list[Named]:
    """The times of day among those named that no slot has."""
    edges = [edge for slot in slots for edge in (slot.begins, slot.ends)]
    return [one for one in times if one.clock and not any(one.is_edge(edge) for edge in edges)]


def slots_of_times(times: Sequence[Named], slots: Sequence[OpenSlot]) -> set[str]:
    """The letters of the slots that begin at a time of day among those named."""
    return {slot.label for slot in slots for one in times if one.clock and one.is_edge(slot.begins)}


def undotted(line: str) -> str:
    """A line with the full stop taken out of `24. Mai`, where it ends no sentence."""
    return DOTTED.sub(lambda found: f"{found[1]} " if folded(found[2]) in _names("months") else found[0], line)


def _blanked(text: str, pieces: Sequence[Piece]) -> str:
    for one in pieces:
        text = text[: one.at] + " " * (one.end - one.at) + text[one.end :]
    return text


def _is_same_kind(one: Piece, other: Piece) -> bool:
    days = one.weekday is not None and other.weekday is not None
    return days or bool(one.clock and other.clock) or bool(one.dates and other.dates)


def _is_also_a_word(piece: Piece, sentence: str) -> bool:
    return folded(sentence[piece.at : piece.end]) in ALSO_WORDS


def _named(group: Sequence[Piece], sentence: str) -> Named:
    weekday = next((one.weekday for one in group if one.weekday is not None), None)
    clock = "".join(one.clock for one in group)
    dates = frozenset[tuple[int, int]]().union(*(one.dates for one in group))
    is_utc = any(one.is_utc for one in group)
    alone = clock if len(group) == 1 and clock else sentence[group[0].at : group[-1].end].strip()
    return Named(group[0].at, alone, clock, weekday, dates, is_utc)


def _clock(found: re.Match[str]) -> Piece | None:
    """A time of day as `08:00`."""
    hour = int(found["hour"])
    minute = found["minute"] or found["dotted"] or found["packed"] or "00"
    half = (found["half"] or "")[:1].lower()
    if half and hour <= 12:
        hour = hour % 12 + (12 if half == "p" else 0)
    return Piece(found.start(), found.end(), f"{hour % 24:02d}:{minute}", is_utc=bool(found["utc"]))


def _date(found: re.Match[str]) -> Piece | None:
    """A date in figures, as each that it may be; None where what looks like one is none."""
    if found["iso"]:
        dates = {(int(found["iso"][5:7]), int(found["iso"][8:]))}
    elif found["ja_day"]:
        dates = {(int(found["ja_month"] or 0), int(found["ja_day"]))}
    else:
        first, second = int(found["one"]), int(found["by_stroke"] or found["by_dot"])
        dates = {(second, first), (first, second)} if found["by_stroke"] else {(second, first)}
        # Without a month only where none was written.
        dates = {(month, day) for month, day in dates if month}
    return _dated(found.start(), found.end(), dates)


def _month(found: re.Match[str]) -> Piece | None:
    """A day beside the name of its month."""
    month = None if found["ja"] else _names("months").get(folded(found[0]))
    if month is None:
        return None
    if before := DAY_BEFORE.search(found.string, max(0, found.start() - 12), found.start()):
        return _dated(before.start(), found.end(), {(month + 1, int(before[1]))})
    after = DAY_AFTER.match(found.string, found.end())
    return _dated(found.start(), after.end(), {(month + 1, int(after[1]))}) if after else None


def _dated(at: int, end: int, dates: set[tuple[int, int]]) -> Piece | None:
    real = frozenset((month, day) for month, day in dates if month <= 12 and 1 <= day <= 31)
    return Piece(at, end, dates=real) if real else None


def _weekday(found: re.Match[str]) -> Piece | None:
    day = EAST.index(found["ja"]) if found["ja"] else _names("days").get(folded(found[0]))
    return None if day is None else Piece(found.start(), found.end(), weekday=day)


@cache
def _names(kind: str) -> dict[str, int]:
    """Names of weekdays (from 0) or months (from 0) that mean one thing in the languages of letters.

    Short ones are those of English alone.
    """
    found: dict[str, set[int]] = {}
    for word, meanings in words(kind).items():
        for number, languages in meanings.items():
            if LANGUAGES & set(languages) and (len(word) > 3 or "English" in languages or kind == "months"):
                found.setdefault(word, set()).add(number)
                found.setdefault(word.removesuffix("-feira"), set()).add(number)
    return {word: next(iter(numbers)) for word, numbers in found.items() if len(numbers) == 1}
