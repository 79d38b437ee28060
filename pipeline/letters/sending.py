"""Sending what is new to each partner, once: the ledger says `sending` before a mail leaves, and its end after it.

A copy of each mail as it left stays in the record, and a later mail answers the one before it, so that they thread.
Temporary refusals and broken connections are tried again a few times as long as the mail cannot have arrived; whatever
breaks after its last line was handed over is unclear, is told, and waits for the operator's word.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.inputs.faults import InputFaults
from pipeline.letters import delivery
from pipeline.letters.delivery import NoSession, Outcome, Session
from pipeline.letters.outbox import WITHDRAWAL, Parcel, folder_name, thread_of, was_delivered, with_date, with_thread
from pipeline.letters.refusals import Concern
from pipeline.letters.settings import MailSettings
from pipeline.record.copies import Copies
from pipeline.record.ledger import ARRIVED, LOST, NOT_SENT, REFUSED, SENT, UNCLEAR, Ledger, Message, read_ledger
from pipeline.record.ledger_writing import LedgerWriter, stamp

# Three tries in all. A server that asks for a longer wait gets it from the operator.
WAITS_S = (5.0, 15.0)


@dataclass(frozen=True)
class Clock:
    """The time, and waiting; tests bring their own."""

    now: Callable[[], dt.datetime] = lambda: dt.datetime.now(dt.UTC).replace(microsecond=0)
    sleep: Callable[[float], None] = time.sleep


@dataclass(frozen=True)
class Sent:
    """What became of one parcel: a word of the ledger for an end, the server's own, and what a refusal is about."""

    parcel: Parcel
    event: str
    words: str
    concern: Concern = Concern.UNKNOWN


@dataclass
class Post:
    """One run of sending."""

    folder: Path
    period: str
    number: str
    settings: MailSettings
    clock: Clock = field(default_factory=Clock)
    waits_s: Sequence[float] = WAITS_S
    open_session: Callable[[MailSettings], Session] = Session
    session: Session | None = None

    def send(self, parcels: Sequence[Parcel]) -> Iterator[Sent]:
        """Send parcels in order and tell what became of each, as it happens; where the next would fare no better, stop.

        Raises NoSession where the server cannot be used (the rest is unsent, the ledger says nothing of it), and
        InputFaults where the ledger cannot be written.
        """
        try:
            for parcel in parcels:
                self.connect()
                sent = self.one(parcel)
                yield sent
                if sent.event != SENT and sent.concern.holds_for_all:
                    return
        finally:
            if self.session is not None:
                self.session.quit()

    def connect(self) -> None:
        """A living session, tried a few times."""
        if self.session is not None and self.session.alive:
            return
        for wait_s in (*self.waits_s, None):
            try:
                self.session = self.open_session(self.settings)
                return
            except NoSession as problem:
                if problem.lasting or wait_s is None:
                    raise
                self.clock.sleep(wait_s)

    def one(self, parcel: Parcel) -> Sent:
        """One parcel with its two lines in the ledger and its copy."""
        ledger, copies = LedgerWriter(self.folder), Copies(self.folder)
        moment = self.clock.now()
        thread = thread_of(read_ledger(self.folder), parcel, self.period)
        raw = with_thread(with_date(parcel.raw, stamp(moment)), thread)
        copy = copies.free_name(moment, f"{folder_name(parcel.call)}-{parcel.file.stem}")
        copies.prepare(copy, raw)
        ledger.begin(moment, parcel.message_id, self.entry(parcel) | {"copy": copy})
        handed_over = False

        def before_dot() -> None:
            nonlocal handed_over
            handed_over = True

        try:
            copies.keep(copy)
            outcome = self.tried(parcel, raw, before_dot)
        except BaseException as problem:
            # Ctrl-C, or a defect: what is known now is worth more than a line without an end, which is as unclear.
            event = UNCLEAR if handed_over else NOT_SENT
            with contextlib.suppress(InputFaults):
                ledger.end(self.clock.now(), parcel.message_id, event, type(problem).__name__)
            if not handed_over:
                copies.drop(copy)
            raise
        event = {delivery.DELIVERED: SENT, delivery.REFUSED: REFUSED, delivery.LATER: NOT_SENT}.get(
            outcome.result, UNCLEAR
        )
        try:
            ledger.end(self.clock.now(), parcel.message_id, event, outcome.words)
        except InputFaults:
            if event == SENT:
                raise Unrecorded(parcel) from None
            raise
        if event in (REFUSED, NOT_SENT):
            copies.drop(copy)
        return Sent(parcel, event, outcome.words, outcome.concern)

    def tried(self, parcel: Parcel, raw: bytes, before_dot: Callable[[], None]) -> Outcome:
        """Hand a mail over, again where it was put off; after the last try the outcome stands as it is."""
        outcome = Outcome(delivery.LATER, "the server could not be reached")
        for wait_s in (*self.waits_s, None):
            try:
                self.reconnect()
                assert self.session is not None
                outcome = self.session.deliver(parcel.sender, parcel.to, raw, before_dot)
            except NoSession as problem:
                concern = Concern.ACCESS if problem.lasting else Concern.UNKNOWN
                outcome = Outcome(delivery.LATER, str(problem).rstrip("."), concern)
                if problem.lasting:
                    return outcome
            if outcome.result != delivery.LATER or wait_s is None:
                return outcome
            self.clock.sleep(wait_s)
        return outcome

    def reconnect(self) -> None:
        """A living session, tried once."""
        if self.session is None or not self.session.alive:
            self.session = self.open_session(self.settings)

    def entry(self, parcel: Parcel) -> dict[str, object]:
        """What the ledger keeps of a parcel."""
        return parcel.entry | {"period": self.period, "plan": self.number}


def tell_by_hand(
    folder: Path, plan: tuple[str, str], parcels: Sequence[Parcel], way: str, now: dt.datetime
) -> list[Parcel]:
    """Note that the operator has told what these parcels say; those that the partner was not told already.

    `plan` is the period's name and the plan's number.
    """
    noted, (period, number) = [], plan
    for parcel in parcels:
        known = [m for m in read_ledger(folder).messages if (m.partner, m.period) == (parcel.call, period)]
        if not was_delivered(parcel, known):
            entry = parcel.entry | {"period": period, "plan": number, "way": way}
            LedgerWriter(folder).by_hand(now, parcel.message_id, entry)
            noted.append(parcel)
    return noted


class Unrecorded(RuntimeError):
    """A mail was taken by the server, and the ledger could not be written."""

    def __init__(self, parcel: Parcel) -> None:
        super().__init__(
            f"the letter to {parcel.call} was taken by the mail server, but the record could not be written; make room "
            f"there, then run: send --arrived {parcel.call}"
        )
        self.parcel = parcel


def settle(folder: Path, ledger: Ledger, call: str, period: str, arrived: bool, now: dt.datetime) -> list[Message]:
    """Write the operator's word about a partner's unclear messages; the messages that it settles.

    Where none is unclear, the word that it did not arrive is about the last letter that was delivered.
    """
    own = [message for message in ledger.messages if message.partner == call and message.period == period]
    about = [message for message in own if message.open]
    if not about and not arrived:
        about = [message for message in own if message.delivered and message.kind != WITHDRAWAL][-1:]
    for message in about:
        LedgerWriter(folder).end(now, message.message_id, ARRIVED if arrived else LOST, "the operator's word")
    return about
