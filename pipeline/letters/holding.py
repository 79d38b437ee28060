"""What one partner holds now: each slot as it was told last, when and how, and what the record has of its answer.

From the ledger and the record alone: what a plan would say now is no part of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from pipeline.inputs.yaml_tree import printable
from pipeline.letters.answers import period_named
from pipeline.record.copies import COPIES
from pipeline.record.ledger import BY_HAND, Ledger, LetterSlot, Message
from pipeline.record.model import DECLINED, FOLDER, TENTATIVE, Answer, Told
from pipeline.wording import formats
from pipeline.wording.words import here_and_there

WORDS = {"confirmed": "its answer: yes", "tentative": "its answer: perhaps", "declined": "its answer: no"}


@dataclass(frozen=True)
class Held:
    """A slot as the partner was told of it last, by which message; `answer` is the record's line about it."""

    slot: LetterSlot
    message: Message
    withdrawn: bool
    answer: Answer | None

    @property
    def stands(self) -> bool:
        """Whether it is in the partner's calendar: neither taken back nor refused."""
        return not self.withdrawn and (self.answer is None or self.answer.state != DECLINED)

    @property
    def keeps_others_free(self) -> bool:
        """Whether the other times that were told with it are still promised: until an answer settles it."""
        return not self.withdrawn and (self.answer is None or self.answer.state == TENTATIVE)


def held_by(call: str, ledger: Ledger, answers: Sequence[Answer]) -> tuple[Held, ...]:
    """What a partner was told last of each of its slots, by time."""
    found: dict[str, tuple[LetterSlot, Message, bool]] = {}
    for message in ledger.messages:
        if message.partner == call and message.delivered:
            found |= {slot.uid: (slot, message, False) for slot in message.slots}
            found |= {slot.uid: (slot, message, True) for slot in message.withdrawn}
    return tuple(
        Held(slot, message, withdrawn, _answer(message, slot, answers))
        for slot, message, withdrawn in sorted(found.values(), key=lambda one: (one[0].start_utc, one[0].uid))
    )


def _answer(message: Message, slot: LetterSlot, answers: Sequence[Answer]) -> Answer | None:
    # A letter of the alphabet means one slot within a period: the line nearest in time is its.
    period = period_named(message.period, ZoneInfo("UTC"))
    own = [
        one
        for one in answers
        if one.is_about(message.partner, slot.label, slot.start_utc) and (not period or period.is_near(one.start_utc))
    ]
    # A time that was refused for another of the same slot has no letter in the record: the slot's own line goes first.
    return min(own, key=lambda one: (one.label != slot.label, abs(one.start_utc - slot.start_utc)), default=None)


def held_lines(call: str, held: Sequence[Held], zones: tuple[ZoneInfo, ZoneInfo | None], folder: Path) -> list[str]:
    """What `letters --shown` prints, by the clocks of home and partner; `folder` is that of the season."""
    if not held:
        return [f"{call} was told of no slot yet"]
    count = sum(one.stands for one in held)
    lines = [f"{call} holds {formats.count(count, 'slot') if count else 'no slot'}, as it was told:"]
    for one in held:
        slot, times = one.slot, here_and_there(one.slot.start_utc, one.slot.end_utc, *zones)
        lines += ["", f"  {slot.label}  {times}", f"     {told_words(one, folder)}"]
        if slot.told is not None and not one.withdrawn:
            lines.append(f"     {content_words(slot.told)}")
        if one.keeps_others_free:
            lines += [
                f"     or {other.label}  {here_and_there(other.start_utc, other.end_utc, *zones)}: kept free"
                for other in slot.alternatives
            ]
        if one.answer is not None:
            lines.append(f"     {answer_words(one.answer, slot)}")
    return lines


def told_words(one: Held, folder: Path) -> str:
    """`proposed, told 2027-02-01 10:30 UTC by mail to aino@lumme-fjord.example; copy: stations/record/sent/...`."""
    message = one.message
    how = told_how(message)
    if message.to and message.state != BY_HAND:
        how += f" to {printable(message.to, 80)}"
    if message.open:
        how += ", and it is unclear whether that arrived"
    copy = f"; copy: {(folder / FOLDER / COPIES).as_posix()}/{printable(message.copy, 120)}" if message.copy else ""
    state = "withdrawn" if one.withdrawn else one.slot.state or "proposed"
    return f"{state}, told {message.stamp[:10]} {message.stamp[11:16]} UTC {how}{copy}"


def told_how(message: Message) -> str:
    """`by mail`, `by hand, telephone`."""
    if message.state != BY_HAND:
        return "by mail"
    return f"by hand, {message.way}" if message.way else "by hand"


def content_words(told: Told) -> str:
    """`you send on 10368.1 MHz, it on 10368.2 MHz; CW; it sends first`."""
    home, partner = formats.frequency(told.home_mhz), formats.frequency(told.partner_mhz)
    where = f"both send on {home}" if home == partner else f"you send on {home}, it on {partner}"
    first = "it sends first" if told.opener == "partner" else "you send first"
    return "; ".join([where, told.mode or "no mode in common", first])


def answer_words(answer: Answer, slot: LetterSlot) -> str:
    """What the record has, and that it is of another time where it is."""
    words = answer.outcome or WORDS.get(answer.state, answer.state)
    if answer.start_utc == slot.start_utc:
        return words
    chosen = next((one.label for one in slot.alternatives if one.start_utc == answer.start_utc), "")
    which = f"to {chosen}" if chosen else "to another time"
    return f"{words}, {which}: {answer.start_utc:%Y-%m-%d %H:%M} UTC"
