"""The shapes of answers: what the ledger says of each slot that was offered, and what an answer to it comes to."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.inputs.yaml_tree import printable
from pipeline.letters.answers import answer_part
from pipeline.letters.reply_mail import Mail
from pipeline.record.inputs import Inputs
from pipeline.record.ledger import Ledger, LetterSlot
from pipeline.record.model import Answer
from pipeline.record.writing import SlotState, Stretch

# Beside a mail about which nothing is left to do.
SINCE = "the record has an answer that was noted since"
EARLIEST = dt.datetime(1900, 1, 1, tzinfo=dt.UTC)


@dataclass(frozen=True)
class Known:
    """One slot that was offered: by which partner's letter of which period, to which addresses, at which times.

    `slot` is as it was offered last; `told` are sequence and time of every letter that was delivered, in order.
    """

    partner: str
    period: str
    slot: LetterSlot
    withdrawn: bool
    addresses: frozenset[str]
    told: tuple[tuple[int, Stretch], ...] = ()

    @property
    def time(self) -> Stretch:
        """When it is offered now."""
        return self.slot.start_utc, self.slot.end_utc


@dataclass(frozen=True)
class Verdict:
    """What one answer comes to: `state` is None where nothing is applied; `sentence` says why, `advice` what next.

    `details` are further lines: times by both clocks, the partner's own words, what is undone. Commands in an advice
    stand between backquotes, to be told in the form in which the user types them; so do `readings`, of which nobody
    knows which is meant. `is_strange` where it has nothing to do with any partner, `is_done` where nothing is left to
    do about it.
    """

    file: str
    sentence: str
    advice: str = ""
    known: Known | None = None
    state: str | None = None
    stamp_utc: dt.datetime = EARLIEST
    sender: str = ""
    details: tuple[str, ...] = ()
    is_strange: bool = False
    readings: tuple[str, ...] = ()
    is_done: bool = False

    @property
    def waits(self) -> bool:
        """Whether the operator has to answer or to put it away."""
        return self.state is None and not (self.is_strange or self.is_done)

    def as_state(self, now: dt.datetime) -> SlotState:
        """What goes into the record."""
        assert self.known is not None
        assert self.state is not None
        slot = self.known.slot
        moment = min(self.stamp_utc, now) if self.stamp_utc > EARLIEST else now
        edges, site = (slot.start_utc, slot.end_utc), "" if slot.told is None else slot.told.site
        return SlotState(self.known.partner, slot.label, *edges, self.state, slot.operator, moment, site=site)


def known_slots(ledger: Ledger, inputs: Inputs) -> dict[str, Known]:
    """Every slot that was offered, by UID, as it was offered last."""
    now = {station.call: station.email.casefold() for station in inputs.partners if station.email}
    addresses: dict[str, set[str]] = {call: {address} for call, address in now.items()}
    for message in ledger.messages:
        addresses.setdefault(message.partner, set()).add(message.to.casefold())
    found: dict[str, Known] = {}
    for message in ledger.messages:
        if not message.delivered:
            continue
        for withdrawn, slots in ((False, message.slots), (True, message.withdrawn)):
            for slot in slots:
                own, uid = frozenset(addresses[message.partner] - {""}), slot.uid.casefold()
                before = found[uid].told if uid in found else ()
                told = (*before, (slot.sequence, (slot.start_utc, slot.end_utc)))
                found[uid] = Known(message.partner, message.period, slot, withdrawn, own, told)
    return found


def answer_line(one: Known, word: str) -> str:
    """The `answer` for a slot at the time offered now, between backquotes."""
    return f"`answer {one.partner} {answer_part(one.slot.label, word, one.slot.start_utc)}`"


def is_of(answer: Answer, known: Known) -> bool:
    """Whether a line of the record is about a slot as it was offered, its time included."""
    slot = known.slot
    return answer.start_utc == slot.start_utc and answer.is_about(known.partner, slot.label, slot.start_utc)


def is_answered_since(
    answers: Sequence[Answer], partner: str, slots: Iterable[tuple[str, dt.datetime]], moment: dt.datetime | None
) -> bool:
    """Whether the record has an answer to each slot, by its letter or its start, that was noted since a moment."""
    if moment is None:
        return False
    since = moment.replace(second=0, microsecond=0)
    lines = [one for one in answers if one.partner == partner and one.answered is not None and one.answered >= since]
    return all(any(line.label == label or line.start_utc == start for line in lines) for label, start in slots)


def unclear_sender(mail: Mail) -> str:
    """What is wrong with a From header that is not exactly one address."""
    if not mail.senders:
        return " without a sender"
    return f" with more than one sender ({printable(', '.join(filter(None, mail.senders[:3])), 80)})"
