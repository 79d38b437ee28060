"""A sentence of `wording.sentences` in a partner's language, with its figures put in by name, as gettext does it.

The English sentence is the key: a catalogue that lacks it leaves it in English, and the English speech needs none.
"""

from __future__ import annotations

from dataclasses import dataclass
from gettext import NullTranslations
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.inputs.model import Station

ENGLISH = "en"


@dataclass(frozen=True)
class Speech:
    """How one partner is spoken to."""

    language: str
    catalogue: NullTranslations

    def say(self, sentence: str, **figures: object) -> str:
        """The sentence with its named figures; KeyError where one that it names is not given."""
        return self.catalogue.gettext(sentence).format_map(figures)

    def count(self, one: str, many: str, number: int, **figures: object) -> str:
        """The sentence for this number, which it may name as `{number}`: a language may have more forms than two."""
        return self.catalogue.ngettext(one, many, number).format_map({"number": number} | figures)


# By language; a catalogue more is one entry more.
SPEECHES = {ENGLISH: Speech(ENGLISH, NullTranslations())}


def speech_for(_station: Station) -> Speech:
    """How a station's operator is spoken to: in English, as long as there is no other catalogue to choose."""
    return SPEECHES[ENGLISH]
