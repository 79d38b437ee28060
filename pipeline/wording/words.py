"""Words that letters, invitations and chat messages share: names made safe, times with their dates, places to fill.

Names come from files that others have written: whatever could break a mail header, hide text or turn its direction is
taken out here, once. Local times are by the IANA time-zone database.
"""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Mapping
from typing import TYPE_CHECKING

from pipeline.inputs.rules import LETTER_WORDS
from pipeline.wording import formats, phrases, sentences
from pipeline.wording.speech import ENGLISH_SPEECH, Speech

if TYPE_CHECKING:
    from pipeline.inputs.model import Operator, Station

# Words in braces that a season's greeting, closing and meeting place may hold.
PLACES = re.compile(rf"\{{({'|'.join(LETTER_WORDS)})\}}")
# Format characters that a name may need: they join or part letters of several scripts.
JOINERS = {"\N{ZERO WIDTH JOINER}", "\N{ZERO WIDTH NON-JOINER}"}
CONFIRMED, TENTATIVE, PROPOSED = "confirmed", "tentative", "proposed"


def one_line(text: str) -> str:
    """The text in one line, without characters that control a terminal, a header or the direction of writing."""
    kept = "".join(
        " " if unicodedata.category(sign) in ("Cc", "Zl", "Zp") else sign
        for sign in text
        if unicodedata.category(sign) not in ("Cf", "Cs", "Co", "Cn") or sign in JOINERS
    )
    return " ".join(kept.split())


def filled(pattern: str, values: Mapping[str, str]) -> str:
    """The pattern with its named places filled; every other brace stays as it was written."""
    return one_line(PLACES.sub(lambda found: values.get(found[1], found[0]), pattern))


def season_words(pattern: str, speech: Speech) -> str:
    """A text of the season in the partner's language where it is ours; the user's own stays as it was written."""
    return speech.pattern(pattern) if pattern in phrases.SEASON_WORDS else pattern


def person(station: Station) -> str:
    """Who is written to: the operator, or the call where nobody is named."""
    return one_line(station.operator or "") or station.call


def plain_letters(name: str) -> str:
    """The name in letters that every chat shows; empty where it has none."""
    folded = unicodedata.normalize("NFKD", one_line(name))
    ascii_only = folded.encode("ascii", "ignore").decode()
    lost = any(ord(sign) > 127 and not unicodedata.combining(sign) for sign in folded)
    return "" if lost else ascii_only


def operator_names(operators: tuple[Operator, ...], home: Station) -> dict[str, str]:
    """Each call used at home and the name behind it."""
    names = {home.call: one_line(home.operator or "")}
    return names | {one.call: one_line(one.name or "") for one in operators}


def date_words(date: dt.date, year: bool = True, speech: Speech = ENGLISH_SPEECH) -> str:
    """`Saturday 13 March 2027`."""
    return speech.day_long(date, year)


def short_date(date: dt.date, year: bool = True, speech: Speech = ENGLISH_SPEECH) -> str:
    """`Sat 13 Mar 2027`."""
    return speech.day(date, year)


def span_words(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo, speech: Speech = ENGLISH_SPEECH) -> str:
    """`Saturday 13 March 2027, 03:15 to 04:15`: the date of each always written, the end's where it differs."""
    first, last = start.astimezone(zone), end.astimezone(zone)
    figures = {"date": speech.day_long(first.date()), "start": formats.clock(first), "end": formats.clock(last)}
    if last.date() == first.date():
        return speech.say(phrases.SPAN, **figures)
    return speech.say(phrases.SPAN_DATES, **figures, then=speech.day_long(last.date(), last.year != first.year))


def short_span(
    start: dt.datetime, end: dt.datetime, zone: dt.tzinfo, year: bool = True, speech: Speech = ENGLISH_SPEECH
) -> str:
    """`Sat 13 Mar 2027 03:15 to 04:15`."""
    first, last = start.astimezone(zone), end.astimezone(zone)
    figures = {"date": speech.day(first.date(), year), "start": formats.clock(first), "end": formats.clock(last)}
    if last.date() == first.date():
        return speech.say(phrases.SHORT_SPAN, **figures)
    return speech.say(phrases.SHORT_SPAN_DATES, **figures, then=speech.day(last.date(), False))


def offset_words(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo, speech: Speech = ENGLISH_SPEECH) -> str:
    """`UTC+2`, or both offsets where the clocks change in between."""
    before, after = (formats.offset(moment.astimezone(zone).utcoffset()) for moment in (start, end))
    return before if before == after else speech.say(phrases.OFFSETS, before=before, after=after)


def local_words(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo, speech: Speech = ENGLISH_SPEECH) -> str:
    """The span in local time with its distance to UTC."""
    offset = offset_words(start, end, zone, speech)
    return speech.say(phrases.LOCAL_SPAN, span=span_words(start, end, zone, speech), offset=offset)


def utc_words(start: dt.datetime, end: dt.datetime, speech: Speech = ENGLISH_SPEECH) -> str:
    """The span in UTC, its date too: it is often another one than there."""
    return speech.say(sentences.ONLY_UTC, utc=span_words(start, end, dt.UTC, speech))


def one_time(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo | None, speech: Speech) -> str:
    """The span by the partner's clock, or in UTC where its zone is not known."""
    return local_words(start, end, zone, speech) if zone else utc_words(start, end, speech)


def here_and_there(start: dt.datetime, end: dt.datetime, home: dt.tzinfo, partner: dt.tzinfo | None) -> str:
    """`Fri 12 Mar 2027 22:15 to 23:15 (UTC-3) here, Sat 13 Mar 2027 03:15 to 04:15 (UTC+2) there`.

    A partner whose zone is not known has UTC.
    """
    here, there = (
        f"{short_span(start, end, zone)} ({offset_words(start, end, zone)})" for zone in (home, partner or dt.UTC)
    )
    return f"{here} here, {there} there" if partner else f"{here} here, {short_span(start, end, dt.UTC)} UTC"
