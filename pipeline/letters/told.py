"""What a letter says of each slot beside its time, and what of it differs from what the partner was told last.

Frequencies, mode, who begins, meeting place and dials: from the plan's view of one partner, against the ledger.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from pipeline.letters.on_the_air import dial_text
from pipeline.operating.pointing import pointing_table
from pipeline.operating.search_width import dial_step_hz
from pipeline.record.ledger import LetterSlot
from pipeline.record.model import Told
from pipeline.wording import formats
from pipeline.wording.words import one_line

if TYPE_CHECKING:
    from pipeline.letters.offers import OfferedSlot
    from pipeline.plan.views import PartnerView


class Kind(Enum):
    """What may differ; the value is its name in a subject."""

    FREQUENCY = "frequency"
    MODE = "mode"
    OPENER = "first to send"
    MEET = "meeting place"
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
    )


def _dialled(frequency_hz: float) -> float:
    """To the step in which a dial is told."""
    step_hz = dial_step_hz(frequency_hz)
    return round(frequency_hz / step_hz) * step_hz


def kinds_between(before: Told | None, now: Told | None) -> list[Kind]:
    """What differs; nothing where one of them is not known, as in an old ledger."""
    if before is None or now is None:
        return []
    differs = {
        Kind.FREQUENCY: (before.home_mhz, before.partner_mhz) != (now.home_mhz, now.partner_mhz),
        Kind.MODE: before.mode != now.mode,
        Kind.OPENER: before.opener != now.opener,
        Kind.MEET: before.meet != now.meet,
        Kind.DIALS: (before.listen_hz, before.send_hz) != (now.listen_hz, now.send_hz),
    }
    return [kind for kind, is_new in differs.items() if is_new]


def changes_of(slots: Sequence[OfferedSlot]) -> tuple[Change, ...]:
    """Everything that differs, kind by kind; slots of which the same is to be said stand together."""
    found: list[Change] = []
    for kind in Kind:
        said: dict[tuple[str, ...], list[OfferedSlot]] = {}
        for slot in slots:
            if kind in kinds_between(slot.told_before, slot.told) and slot.told_before and slot.told:
                key = (*(_value(kind, told) for told in (slot.told_before, slot.told)), "moved" if slot.before else "")
                said.setdefault(key, []).append(slot)
        for alike in said.values():
            before, now = alike[0].told_before, alike[0].told
            assert before is not None
            assert now is not None
            found.append(Change(kind, tuple(one.label for one in alike), before, now, alike[0].before is not None))
    return tuple(found)


def change_sentences(changes: Sequence[Change]) -> list[str]:
    """`Slot A: the mode is new. Before: Q65-60C. Now: CW.`; a slot at another time has other dials by nature."""
    names = {
        Kind.FREQUENCY: "the frequency is",
        Kind.MODE: "the mode is",
        Kind.OPENER: "who sends first is",
        Kind.MEET: "the meeting place is",
        Kind.DIALS: "the dials are",
    }
    said = []
    for one in changes:
        start = f"{_named(one.labels)}: {names[one.kind]} new."
        if one.kind is Kind.DIALS and one.moved:
            said.append(f"{start} Use those of this letter.")
        else:
            said.append(f"{start} Before: {_value(one.kind, one.before)}. Now: {_value(one.kind, one.now)}.")
    return said


def _named(labels: Sequence[str]) -> str:
    """`Slots A and B`."""
    return f"Slot{'s' if len(labels) > 1 else ''} {formats.listed(list(labels))}"


def subject_names(changes: Sequence[Change]) -> list[str]:
    """What a subject names, each once; the dials of a moved slot go without saying."""
    return list(dict.fromkeys(one.kind.value for one in changes if not (one.kind is Kind.DIALS and one.moved)))


def names_between(before: LetterSlot, now: LetterSlot) -> list[str]:
    """`new frequency`, `new mode`: the same for the operator's list; dials at another time aside."""
    moved = (before.start_utc, before.end_utc) != (now.start_utc, now.end_utc)
    kinds = kinds_between(before.told, now.told)
    return [f"new {kind.value}" for kind in kinds if not (kind is Kind.DIALS and moved)]


def _value(kind: Kind, told: Told) -> str:
    """One side of a difference, in words."""
    if kind is Kind.FREQUENCY:
        home, partner = formats.frequency(told.home_mhz), formats.frequency(told.partner_mhz)
        return f"{home}, both of us" if home == partner else f"you {partner}, we {home}"
    if kind is Kind.MODE:
        return told.mode or "none that both of us have"
    if kind is Kind.OPENER:
        return "you" if told.opener == "partner" else "we"
    if kind is Kind.MEET:
        return told.meet
    if not told.listen_hz:
        return "none"
    return f"listen on {_span(told.listen_hz)}, send on {_span(told.send_hz)}"


def _span(dials_hz: Sequence[float]) -> str:
    texts = list(dict.fromkeys(dial_text(one) for one in dials_hz))
    return f"{' to '.join(texts)} MHz"
