"""What a letter says of each slot beside its time, and what of it differs from what the partner was told last.

Frequencies, mode, who begins, meeting place and dials: from the plan's view of one partner, against the ledger.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from pipeline.letters.offers import site_at
from pipeline.letters.on_the_air import dial_text
from pipeline.operating.pointing import pointing_table
from pipeline.operating.search_width import dial_step_hz
from pipeline.record.ledger import LetterSlot
from pipeline.record.model import Told
from pipeline.wording import formats, phrases, sentences
from pipeline.wording.operating import title_words
from pipeline.wording.words import one_line

if TYPE_CHECKING:
    from pipeline.letters.offers import OfferedSlot
    from pipeline.plan.views import PartnerView
    from pipeline.wording.speech import Speech


# What letters once said of a place that no season named.
ONCE_SAID_OF_NO_PLACE = "chat room or telephone, as you agree"


class Kind(Enum):
    """What may differ; the value is its name in a subject."""

    FREQUENCY = "frequency"
    MODE = "mode"
    OPENER = "first to send"
    MEET = "meeting place"
    SITE = "site"
    DIALS = "dials"


@dataclass(frozen=True)
class Change:
    """One thing that is other than it was told, and the slots of which that holds. `moved`: at another time too."""

    kind: Kind
    labels: tuple[str, ...]
    before: Told
    now: Told
    moved: bool


def with_told(view: PartnerView, slots: Sequence[OfferedSlot], meet: str) -> tuple[OfferedSlot, ...]:
    """The slots with what this letter says of them; `meet` is the meeting place, filled."""
    return tuple(dataclasses.replace(slot, told=_told(view, slot, meet)) for slot in slots)


def _told(view: PartnerView, slot: OfferedSlot, meet: str) -> Told:
    lines = pointing_table(view, slot.start_utc, slot.end_utc)
    ends = (lines[0], lines[-1]) if lines else ()
    return Told(
        home_mhz=view.home_mhz,
        partner_mhz=view.partner_mhz,
        mode=one_line(view.mode.title) if view.mode else "",
        opener="partner" if slot.planned is not None and slot.planned.opener == "partner" else "home",
        meet=meet,
        listen_hz=tuple(_dialled(line.receive_hz) for line in ends),
        send_hz=tuple(_dialled(line.transmit_hz) for line in ends),
        site=site_at(view, slot.start_utc),
    )


def _dialled(frequency_hz: float) -> float:
    """To the step in which a dial is told."""
    step_hz = dial_step_hz(frequency_hz)
    return round(frequency_hz / step_hz) * step_hz


def kinds_between(before: Told | None, now: Told | None) -> list[Kind]:
    """What differs; nothing where one of them is not known, as in an old ledger."""
    if before is None or now is None:
        return []
    differ = [kind for kind in Kind if _compared(kind, before) != _compared(kind, now)]
    # Where home did not move nobody was told of a site by its name.
    return [kind for kind in differ if kind is not Kind.SITE or (before.site and now.site)]


def _compared(kind: Kind, told: Told) -> object:
    """What of a slot is held against the same of another letter."""
    return {
        Kind.FREQUENCY: (told.home_mhz, told.partner_mhz),
        Kind.MODE: told.mode,
        Kind.OPENER: told.opener,
        Kind.MEET: told.meet if _has_place(told) else "",
        Kind.SITE: told.site,
        Kind.DIALS: (told.listen_hz, told.send_hz),
    }[kind]


def _has_place(told: Told) -> bool:
    return told.meet not in ("", ONCE_SAID_OF_NO_PLACE)


def changes_of(slots: Sequence[OfferedSlot]) -> tuple[Change, ...]:
    """Everything that differs, kind by kind; slots of which the same is to be said stand together."""
    found: list[Change] = []
    for kind in Kind:
        said: dict[tuple[object, ...], list[OfferedSlot]] = {}
        for slot in slots:
            if kind in kinds_between(slot.told_before, slot.told) and slot.told_before and slot.told:
                key = (*(_compared(kind, told) for told in (slot.told_before, slot.told)), slot.before is not None)
                said.setdefault(key, []).append(slot)
        for alike in said.values():
            before, now = alike[0].told_before, alike[0].told
            assert before is not None
            assert now is not None
            found.append(Change(kind, tuple(one.label for one in alike), before, now, alike[0].before is not None))
    return tuple(found)


def change_sentences(changes: Sequence[Change], speech: Speech) -> list[str]:
    """`Slot A: the mode is new. Before: Q65-60C. Now: CW.`; a slot at another time has other dials by nature."""
    said = []
    for one in changes:
        count, labels = len(one.labels), speech.listed(one.labels)
        if one.kind is Kind.DIALS and one.moved:
            said.append(speech.count(sentences.DIALS_OF_MOVED_ONE, sentences.DIALS_OF_MOVED_MANY, count, labels=labels))
            continue
        key = one.kind.name.lower()
        before, now = (_value(one.kind, told, speech) for told in (one.before, one.now))
        forms = sentences.DIFFERS_ONE[key], sentences.DIFFERS_MANY[key]
        said.append(speech.count(*forms, count, labels=labels, before=before, now=now))
    return said


def subject_names(changes: Sequence[Change], speech: Speech) -> list[str]:
    """What a subject names, each once; the dials of a moved slot go without saying."""
    kinds = dict.fromkeys(one.kind for one in changes if not (one.kind is Kind.DIALS and one.moved))
    return [speech.say(sentences.CHANGED_NAMES[kind.name.lower()]) for kind in kinds]


def names_between(before: LetterSlot, now: LetterSlot) -> list[str]:
    """`new frequency`, `new mode`: the same for the operator's list; dials at another time aside."""
    moved = (before.start_utc, before.end_utc) != (now.start_utc, now.end_utc)
    kinds = kinds_between(before.told, now.told)
    return [f"new {kind.value}" for kind in kinds if not (kind is Kind.DIALS and moved)]


def _value(kind: Kind, told: Told, speech: Speech) -> str:
    """One side of a difference, in words."""
    say = speech.say
    if kind is Kind.FREQUENCY:
        home, partner = formats.frequency(told.home_mhz), formats.frequency(told.partner_mhz)
        if home == partner:
            return say(sentences.FREQUENCY_OF_BOTH, frequency=home)
        return say(sentences.FREQUENCY_OF_EACH, yours=partner, ours=home)
    if kind is Kind.MODE:
        return title_words(told.mode, speech) or say(sentences.MODE_OF_NEITHER)
    if kind is Kind.OPENER:
        return say(sentences.OPENS_PARTNER if told.opener == "partner" else sentences.OPENS_HOME)
    if kind is Kind.MEET:
        return told.meet if _has_place(told) else say(phrases.MEET_NONE)
    if kind is Kind.SITE:
        return one_line(told.site)
    if not told.listen_hz:
        return say(sentences.NO_DIALS)
    listen, send = (_span(dials, speech) for dials in (told.listen_hz, told.send_hz))
    return say(sentences.DIALS_TOLD, listen=listen, send=send)


def _span(dials_hz: Sequence[float], speech: Speech) -> str:
    texts = list(dict.fromkeys(dial_text(one) for one in dials_hz))
    return speech.say(sentences.DIAL_SPAN if len(texts) > 1 else sentences.DIAL_ALONE, first=texts[0], last=texts[-1])
