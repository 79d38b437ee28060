"""What the letter's templates are given: finished words, in the order in which they are read.

The text and the HTML are made from the same document, so that both say the same.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace


@dataclass(frozen=True)
class Table:
    """A small table: its title, header cells, and rows of finished words."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


# The section whose tables follow from a slot's time, and end where the Moon does.
BY_TIME = "expect"


@dataclass(frozen=True)
class Section:
    """One part of the letter; `key` lets a template of one's own pick it.

    `shifting` are those of its points that every survey and reading moves a little: no reason to write.
    """

    key: str
    title: str
    paragraphs: tuple[str, ...] = ()
    points: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    shifting: tuple[str, ...] = field(default=(), repr=False)

    @property
    def lasting(self) -> Section:
        """The section without these, and without aims and dials: they follow from time, places and frequency."""
        points = tuple(one for one in self.points if one not in self.shifting)
        return replace(self, points=points, tables=() if self.key == BY_TIME else self.tables)


@dataclass(frozen=True)
class OtherTimeView:
    """Another time that may be chosen for a slot; `local` is empty where the partner's zone is not known."""

    label: str
    local: str
    utc: str


@dataclass(frozen=True)
class SlotView:
    """A slot as the partner reads it; `local` is empty where its zone is not known.

    `company` is with whom, where that must be said, and for which slot's failing this one is held.
    """

    label: str
    title: str
    local: str
    utc: str
    company: str
    answer: str
    is_confirmed: bool
    alternatives: tuple[OtherTimeView, ...] = ()


@dataclass(frozen=True)
class Heads:
    """The few words that the templates set before finished lines, and the language of all of them.

    `note` stands on top of a letter in two languages, `english` above its English part.
    """

    language: str
    changed: str
    local: str
    utc: str
    other: str
    note: str = field(default="", repr=False)
    english: str = field(default="", repr=False)


@dataclass(frozen=True)
class Letter:
    """The whole letter; `english` is the same in English where it is in another language."""

    call: str
    home_call: str
    subject: str
    title: str
    greeting: str
    changes: tuple[str, ...]
    lead: tuple[str, ...]
    slots: tuple[SlotView, ...]
    ask: tuple[str, ...]
    sections: tuple[Section, ...]
    closing: str
    sender_name: str
    sender_email: str
    footer: str
    number: str
    heads: Heads
    english: Letter | None = field(default=None, repr=False)


# Where to try again follows from what others answered, and asks for nothing.
NO_REASON_TO_WRITE = ("fall_back",)


def content_digest(letter: Letter, slots: Sequence[dict[str, object]]) -> str:
    """SHA-256 of what a letter says, whichever plan it is of and whatever was said before.

    Another partner's answer makes another plan and other fall-back hours, and a letter that was sent has no changes to
    tell any more: none of it is a reason to send it once more, nor is a better translation of the same English. What
    to hope for and dials are held against the last letter instead (`told.kinds_between`).
    """
    said = letter.english or letter
    sections = tuple(one.lasting for one in said.sections if one.key not in NO_REASON_TO_WRITE)
    lasting = replace(said, subject="", changes=(), sections=sections, footer="", number="")
    return hashlib.sha256(f"{lasting!r} {list(slots)!r}".encode()).hexdigest()
