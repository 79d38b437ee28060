"""What an answer means where a letter offered several times for one slot: taking one settles it, the rest is free.

From the partner's slots and other times by letter, and the record. The slot keeps its letter and its identifier and
moves to the time that was taken (RFC 5546, section 3.2.2.1: a new time under the same UID).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pipeline.letters.answers import Said as Typed
from pipeline.letters.answers import Zones, at_old_time, time_words
from pipeline.letters.offered import STATE_OF, AnswerFault, Offered, in_agenda_of_all
from pipeline.record.model import CONFIRMED, DECLINED, OUTCOMES, Answer
from pipeline.record.writing import SlotState, minute

YES, NO = "yes", "no"


@dataclass(frozen=True)
class Said:
    """One letter of an answer with what it stands for, the word, and the line that the record has of its slot."""

    offered: Offered
    word: str
    line: Answer | None

    @property
    def slot(self) -> Offered:
        """The slot that the word is about: another time stands for its slot, at that time."""
        own = self.offered.instead_of or self.offered.label
        return replace(self.offered, label=own, instead_of="")

    @property
    def is_held(self) -> bool:
        """Whether the record has the slot at this time already."""
        return self.line is not None and self.line.start_utc == self.offered.start_utc and self.line.state != DECLINED

    @property
    def takes_other_time(self) -> bool:
        """Whether the slot goes to another time than it was offered at first."""
        return bool(self.offered.instead_of) and self.word == YES

    def refusal(self, moment: dt.datetime) -> SlotState:
        """That this time does not suit; it says nothing about the slot."""
        one = self.offered
        return SlotState(one.partner, "", one.start_utc, one.end_utc, DECLINED, one.operator, moment)


def record_words(one: Said, zones: Zones) -> str:
    """`QF4LUM A  2027-03-13 01:15 to 02:15 UTC (...)`: the slot at the time that the record has for it."""
    start, end = one.offered.start_utc, one.offered.end_utc
    if one.line is not None and one.line.end_utc is not None and not one.offered.instead_of:
        start, end = one.line.start_utc, one.line.end_utc
    return f"{one.offered.partner} {one.offered.label}  {time_words(start, end, zones)}"


def all_said(typed: Mapping[str, Typed], slots: Sequence[Offered], answers: Sequence[Answer]) -> list[Said]:
    """The answers with the slots that they are about, those that take another time last: they have the last word."""
    found = []
    for (label, answer), one in zip(typed.items(), slots, strict=True):
        word = answer.word
        own = one.instead_of or label
        lines = (line for line in answers if line.label == own and line.partner == one.partner and not line.outcome)
        found.append(Said(one, word, next(lines, None)))
        if answer.is_to_all:
            old = [stretch for stretch in one.others if stretch[0] not in one.agreed]
            found += [Said(at_old_time(one, stretch), word, None) for stretch in old]
    return sorted(found, key=lambda one: one.takes_other_time)


def states_of(said: Sequence[Said], moment: dt.datetime) -> list[SlotState]:
    """What the record is to say; AnswerFault with everything that cannot be."""
    taken: dict[str, str] = {}
    faults, states = [], []
    for one in said:
        label, own, word = one.offered.label, one.slot.label, one.word
        if word == YES and own in taken:
            faults.append(f"{label}=yes: {taken[own]} and {label} are two times for slot {own}; keep one yes.")
        elif one.offered.instead_of and word != YES and not one.is_held and (word in OUTCOMES or word != NO):
            faults.append(f"{label}={word}: {label} is another time for slot {own}; yes or no is meant.")
        if word == YES:
            taken[own] = label
    if faults:
        raise AnswerFault("\n".join(faults))
    for one in said:
        only_time = one.offered.instead_of and not one.is_held
        settled = one.slot.label in taken and one.word in STATE_OF
        states.append(
            one.refusal(moment) if one.word == NO and (only_time or settled) else one.slot.said(one.word, moment)
        )
    return states


def check_free(said: Iterable[Said], answers: Sequence[Answer], agenda_file: Path, gap_minutes: int) -> None:
    """AnswerFault where a time that is to be taken comes within the gap of somebody else's slot by now.

    Asked of other times, and of a slot that goes back to a time which it had left.
    """
    faults = []
    for one in said:
        back = one.line is not None and one.line.start_utc != one.offered.start_utc and one.line.state == CONFIRMED
        if one.word != YES or one.is_held or not (one.offered.instead_of or back):
            continue
        for call, label, start, end in _held_by_others(one.offered.partner, answers, agenda_file):
            gap = dt.timedelta(minutes=gap_minutes)
            if one.offered.start_utc < end + gap and one.offered.end_utc + gap > start:
                whose = f"{call} {label}".strip()
                faults.append(
                    f"{one.offered.label}=yes: {minute(one.offered.start_utc)} is no longer free, {whose} has "
                    f"{minute(start)} to {minute(end)}; tell {one.offered.partner}, or answer for {call} first."
                )
                break
    if faults:
        raise AnswerFault("\n".join(faults))


def _held_by_others(
    partner: str, answers: Sequence[Answer], agenda_file: Path
) -> list[tuple[str, str, dt.datetime, dt.datetime]]:
    """Slots of everybody else: as the record has them; where it says nothing, as the plan on the disk does."""
    lines = [line for line in answers if line.partner != partner and not line.outcome]
    said = {(line.partner, line.label) for line in lines}
    held = [
        (line.partner, line.label, line.start_utc, line.end_utc)
        for line in lines
        if line.state != DECLINED and line.end_utc is not None
    ]
    planned = [one for one in in_agenda_of_all(agenda_file) if one.partner != partner]
    return held + [
        (one.partner, one.label, one.start_utc, one.end_utc) for one in planned if (one.partner, one.label) not in said
    ]


def chosen_line(one: Said) -> str:
    """`QF4LUM chose B: slot A moves there and its other times are free; ...`."""
    return (
        f"{one.offered.partner} chose {one.offered.label}: slot {one.slot.label} moves there and its other times are "
        "free; the next letter moves it in the partner's calendar too"
    )
