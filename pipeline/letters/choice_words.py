"""What a letter says where a slot has several times.

From the slots as they are offered; the sentences stand in `wording.sentences`.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from zoneinfo import ZoneInfo

from pipeline.letters.document import OtherTimeView
from pipeline.letters.offers import OfferedSlot
from pipeline.wording import phrases, sentences
from pipeline.wording.speech import Speech
from pipeline.wording.words import local_words, span_words


def lead_sentence(waiting: int, agreed: int, choices: bool) -> str:
    """What the letter is about, by how many slots wait for an answer or are agreed, and whether any has other times."""
    if not waiting:
        return sentences.AGREED_LEAD
    if agreed:
        return sentences.AGREED_AND_ASKED_LEAD
    if choices:
        return sentences.ONE_CHOICE_LEAD if waiting == 1 else sentences.MANY_CHOICES_LEAD
    return sentences.ONE_LEAD if waiting == 1 else sentences.MANY_LEAD


def choose_words(slot: OfferedSlot, speech: Speech) -> str:
    """`Please choose: A or B.`, where there is a choice; else that an answer is asked for."""
    if not slot.alternatives:
        return speech.say(sentences.PLEASE_CONFIRM)
    labels = speech.say(sentences.OR).join([slot.label, *(one.label for one in slot.alternatives)])
    return speech.say(sentences.PLEASE_CHOOSE, labels=labels)


def other_times(slot: OfferedSlot, zone: ZoneInfo | None, speech: Speech) -> tuple[OtherTimeView, ...]:
    """The other times of a slot by both clocks."""
    return tuple(
        OtherTimeView(
            one.label,
            unbroken(local_words(one.start_utc, one.end_utc, zone, speech)) if zone else "",
            unbroken(span_words(one.start_utc, one.end_utc, dt.UTC, speech)),
        )
        for one in slot.alternatives
    )


def ask_choice_words(slots: Sequence[OfferedSlot], speech: Speech) -> list[str]:
    """How to take another time: its letter is the whole answer, the invitation is for the first."""
    choices = [slot for slot in slots if slot.alternatives]
    if not choices:
        return []
    first, hold = choices[0], speech.listed([one.label for slot in choices for one in slot.alternatives])
    return [
        speech.say(sentences.OTHER_BETTER, other=first.alternatives[0].label, label=first.label),
        speech.say(sentences.KEPT_FREE, labels=speech.listed([slot.label for slot in choices]), others=hold),
    ]


def only_if_words(slot: OfferedSlot, speech: Speech) -> str:
    """`Only if slot A fails.`; empty for a slot that is not held for another."""
    return speech.say(phrases.ONLY_IF, first=slot.only_if) if slot.only_if else ""


def held_for_words(slots: Sequence[OfferedSlot], speech: Speech, sentence: str) -> list[str]:
    """What each slot is there for that is held for another's failing."""
    return [speech.say(sentence, spare=slot.label, first=slot.only_if) for slot in slots if slot.only_if]


def example_words(slots: Sequence[OfferedSlot], speech: Speech) -> list[str]:
    """How an answer to the slots that wait is written: `A yes`, `B no`; `B yes` where B is there in case A fails."""
    waiting = [slot for slot in slots if not slot.is_confirmed]
    return [
        speech.say(sentences.EXAMPLE_NO if place and not slot.only_if else sentences.EXAMPLE_YES, label=slot.label)
        for place, slot in enumerate(waiting[:2])
    ]


def unbroken(span: str) -> str:
    """The hours stay in one line, on the narrowest glass too; an hour after its date does not stand alone."""
    span = re.sub(r"(\d\d:\d\d .+), (\d\d:\d\d)", "\\1,\N{NO-BREAK SPACE}\\2", span)
    return re.sub(r"(\d\d:\d\d) (\w+) (\d\d:\d\d)", "\\1\N{NO-BREAK SPACE}\\2\N{NO-BREAK SPACE}\\3", span)
