"""A sentence of `wording.sentences` in a partner's language, with its figures put in by name, as gettext does it.

The English sentence is the key: a catalogue that lacks it leaves it in English, and the English speech needs none.
Dates, weekdays and lists of other languages are those of the Unicode CLDR, through Babel; figures stay as they are.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from gettext import NullTranslations
from typing import TYPE_CHECKING

from babel import Locale
from babel.dates import format_date, format_skeleton
from babel.lists import format_list

from pipeline.inputs.languages import ENGLISH, catalogue
from pipeline.wording import formats, sentences

if TYPE_CHECKING:
    from pipeline.inputs.model import Station

# A header of a catalogue: who speaks the language and has read it; empty as long as nobody has.
READ_BY = "last-translator"


@dataclass(frozen=True)
class Speech:
    """How one partner is spoken to. `locale` is None where `formats` writes dates and lists, as in English."""

    language: str
    catalogue: NullTranslations
    locale: Locale | None = None

    @property
    def is_read(self) -> bool:
        """Whether somebody who speaks it has read the catalogue."""
        return self.language == ENGLISH or bool(self.catalogue.info().get(READ_BY))

    def say(self, sentence: str, **figures: object) -> str:
        """The sentence with its named figures; KeyError where one that it names is not given."""
        return self.pattern(sentence).format_map(figures)

    def pattern(self, sentence: str) -> str:
        """The sentence with its places still open."""
        return self.catalogue.gettext(sentence)

    def count(self, one: str, many: str, number: int, **figures: object) -> str:
        """The sentence for this number, which it may name as `{number}`: a language may have more forms than two."""
        return self.catalogue.ngettext(one, many, number).format_map({"number": number} | figures)

    def day_long(self, date: dt.date, year: bool = True) -> str:
        """`Saturday 13 March 2027`; other languages always say the year, for CLDR has no such date without it."""
        if self.locale is None:
            return formats.day_long(date) + (f" {date.year}" if year else "")
        return format_date(date, "full", locale=self.locale)

    def day(self, date: dt.date, year: bool = True) -> str:
        """`Sat 13 Mar 2027`."""
        if self.locale is None:
            return formats.day(date) + (f" {date.year}" if year else "")
        return format_skeleton("yMMMEd" if year else "MMMEd", date, locale=self.locale)

    def weekday(self, number: int) -> str:
        """`Sat` of 5."""
        if self.locale is None:
            return formats.WEEKDAYS[number]
        return str(self.locale.days["stand-alone"]["abbreviated"][number])

    def period(self, first: dt.date, last: dt.date) -> str:
        """`March 2027` for a whole calendar month, else `5 March to 2 April 2027`."""
        if self.locale is None:
            return formats.period_title(first, last)
        if formats.is_calendar_month(first, last):
            return format_skeleton("yMMMM", first, locale=self.locale)
        days = [format_date(date, "long", locale=self.locale) for date in (first, last)]
        return days[0] if first == last else self.say(sentences.FROM_TO, first=days[0], last=days[1])

    def listed(self, words: Sequence[str]) -> str:
        """`A, B and C`."""
        return formats.listed(words) if self.locale is None else format_list(list(words), locale=self.locale)

    def whole(self, value: float) -> str:
        """`13,640`; other languages get no sign for thousands, which half of them would read as a decimal one."""
        return f"{value:,.0f}" if self.locale is None else f"{value:.0f}"


# By language, each read when it is first spoken.
ENGLISH_SPEECH = Speech(ENGLISH, NullTranslations())
SPEECHES = {ENGLISH: ENGLISH_SPEECH}


def speech_for(station: Station) -> Speech:
    """How a station's operator is spoken to: in the language of its file."""
    language = station.language
    if language not in SPEECHES:
        SPEECHES[language] = Speech(language, catalogue(language), Locale.parse(language))
    return SPEECHES[language]
