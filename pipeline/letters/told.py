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
from pipeline.letters.on_the_air import REPORT_DOUBT_DB, dial_text, reports_told
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
    REPORTS = "reports to hope for"
    ONLY_IF = "use"


@dataclass(frozen=True)
class Change:
    """One thing that is other than it was told, and the slots of which that holds. `moved`: at another time too.

    `failed` is the letter of the slot for whose failing it was held and that has failed.
    """

    kind: Kind
    labels: tuple[str, ...]
    before: Told
    now: Told
    moved: bool
    failed: str = ""


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
        reports_db=reports_told(slot.planned),
        only_if=slot.only_if,
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
    if not reports_are_news(before, now):
        differ = [kind for kind in differ if kind is not Kind.REPORTS]
    if _is_shorter(before, now):
        differ = [kind for kind in differ if kind is not Kind.DIALS]
    if before.only_if is None or now.only_if is None:
        differ = [kind for kind in differ if kind is not Kind.ONLY_IF]
    # Where home did not move nobody was told of a site by its name.
    return [kind for kind in differ if kind is not Kind.SITE or (before.site and now.site)]


def _is_shorter(before: Told, now: Told) -> bool:
    """Whether dials are the same at one end: then the Moon comes a little later or goes earlier, and each time its
    own dial stands.
    """
    both = [(before.listen_hz, now.listen_hz), (before.send_hz, now.send_hz)]
    if not all(one and other for one, other in both):
        return False
    return any(all(one[end] == other[end] for one, other in both) for end in (0, -1))


def reports_are_news(before: Told, now: Told) -> bool:
    """Whether a report to hope for is another by as much as all of them are doubtful; nothing told is no news."""
    both = zip(before.reports_db, now.reports_db, strict=False)
    return any(abs(one - other) >= REPORT_DOUBT_DB for one, other in both)


def _compared(kind: Kind, told: Told) -> object:
    """What of a slot is held against the same of another letter."""
    return {
        Kind.FREQUENCY: (told.home_mhz, told.partner_mhz),
        Kind.MODE: told.mode,
        Kind.OPENER: told.opener,
        Kind.MEET: told.meet if _has_place(told) else "",
        Kind.SITE: told.site,
        Kind.DIALS: (told.listen_hz, told.send_hz),
        Kind.REPORTS: told.reports_db,
        Kind.ONLY_IF: told.only_if,
    }[kind]


def _has_place(told: Told) -> bool:
    return told.meet not in ("", ONCE_SAID_OF_NO_PLACE)


def changes_of(slots: Sequence[OfferedSlot]) -> tuple[Change, ...]:
    """Everything that differs, kind by kind; slots of which the same is to be said stand together."""
    found: list[Change] = []
    for kind in Kind:
        said: dict[tuple[object, ...], list[OfferedSlot]] = {}
        for slot in slots:
            # At another time other reports go without saying.
            if kind is Kind.REPORTS and slot.before is not None:
                continue
            if kind in kinds_between(slot.told_before, slot.told) and slot.told_before and slot.told:
                values = (_compared(kind, told) for told in (slot.told_before, slot.told))
                key = (*values, slot.before is not None, slot.failed)
                said.setdefault(key, []).append(slot)
        for alike in said.values():
            before, now = alike[0].told_before, alike[0].told
            assert before is not None
            assert now is not None
            labels, moved = tuple(one.label for one in alike), alike[0].before is not None
            found.append(Change(kind, labels, before, now, moved, alike[0].failed))
    return tuple(found)


def change_sentences(changes: Sequence[Change], speech: Speech) -> list[str]:
    """`Slot A: the mode is new. Before: Q65-60C. Now: CW.`; a slot at another time has other dials by nature."""
    said = []
    for one in changes:
        count, labels = len(one.labels), speech.listed(one.labels)
        if one.kind in (Kind.REPORTS, Kind.ONLY_IF):
            said += [_said_of_one(one, label, speech) for label in one.labels]
            continue
        if one.kind is Kind.DIALS and one.moved:
            said.append(speech.count(sentences.DIALS_OF_MOVED_ONE, sentences.DIALS_OF_MOVED_MANY, count, labels=labels))
            continue
        key = one.kind.name.lower()
        before, now = (_value(one.kind, told, speech) for told in (one.before, one.now))
        forms = sentences.DIFFERS_ONE[key], sentences.DIFFERS_MANY[key]
        said.append(speech.count(*forms, count, labels=labels, before=before, now=now))
    return said


def _said_of_one(change: Change, label: str, speech: Speech) -> str:
    """What to hope for, or for what a slot is there, where that is other than it was told."""
    before, now = change.before, change.now
    if change.kind is Kind.REPORTS:
        values = (*before.reports_db, *now.reports_db)
        names = ("theirs", "ours", "there", "here")
        figures = {name: formats.signed(value, 0) for name, value in zip(names, values, strict=True)}
        return speech.say(phrases.REPORTS_DIFFER, label=label, **figures)
    if now.only_if:
        return speech.say(phrases.NOW_ONLY_IF, label=label, first=now.only_if)
    sentence = phrases.FIRST_FAILED if change.failed else phrases.FIRST_GONE
    return speech.say(sentence, label=label, first=before.only_if or "")


def use_sentences(changes: Sequence[Change], speech: Speech) -> list[str]:
    """What is other of what the slots are there for."""
    return change_sentences([one for one in changes if one.kind is Kind.ONLY_IF], speech)


def failed_first(changes: Sequence[Change]) -> tuple[str, str] | None:
    """The slot that failed and the one that counts now, where the changes are this one alone."""
    one = changes[0] if len(changes) == 1 else None
    is_all = one is not None and one.kind is Kind.ONLY_IF and one.failed and not one.now.only_if
    return (one.failed, one.labels[0]) if one is not None and is_all and len(one.labels) == 1 else None


def subject_names(changes: Sequence[Change], speech: Speech) -> list[str]:
    """What a subject names, each once; the dials of a moved slot go without saying."""
    kinds = dict.fromkeys(one.kind for one in changes if not (one.kind is Kind.DIALS and one.moved))
    names = {Kind.REPORTS: phrases.CHANGED_REPORTS, Kind.ONLY_IF: phrases.CHANGED_USE}
    return [speech.say(names.get(kind) or sentences.CHANGED_NAMES[kind.name.lower()]) for kind in kinds]


def names_between(before: LetterSlot, now: LetterSlot) -> list[str]:
    """`new frequency`, `new mode`: the same for the operator's list; dials at another time aside."""
    moved = (before.start_utc, before.end_utc) != (now.start_utc, now.end_utc)
    kinds = kinds_between(before.told, now.told)
    by_nature = (Kind.DIALS, Kind.REPORTS) if moved else ()
    return [_name_between(kind, before, now) for kind in kinds if kind not in by_nature]


def _name_between(kind: Kind, before: LetterSlot, now: LetterSlot) -> str:
    if kind is not Kind.ONLY_IF or before.told is None or now.told is None:
        return f"new {kind.value}"
    first = now.told.only_if
    return f"only if {first} fails" if first else f"no longer only if {before.told.only_if} fails"


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
