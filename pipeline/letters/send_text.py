"""What `send` prints: who would get what, what became of each mail, and what to do next."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from pipeline.inputs.yaml_tree import printable
from pipeline.letters.outbox import NO_ADDRESS, NO_LETTER, NOTHING_NEW, READY, WITHDRAWAL, Parcel, Turn
from pipeline.letters.sending import Sent
from pipeline.record.inputs import Inputs
from pipeline.record.ledger import NOT_SENT, REFUSED, SENT, Ledger, LetterSlot, Message
from pipeline.record.model import CONFIRMED, DECLINED

Typed = Callable[[str], str]


def named(labels: Sequence[str]) -> str:
    """`slot A`, `slots A, B`."""
    return f"slot{'s' if len(labels) > 1 else ''} {', '.join(labels)}"


def contents(parcel: Parcel, ledger: Ledger) -> str:
    """What a mail says that the partner was not told before."""
    if parcel.kind == WITHDRAWAL:
        return f"withdrawal of {named([slot.label for slot in parcel.withdrawn])}"
    before = offered(parcel.call, ledger)
    if not any(message.partner == parcel.call and message.delivered for message in ledger.messages):
        return (
            f"first letter, {named([slot.label for slot in parcel.slots])}" if parcel.slots else "first letter, no slot"
        )
    parts = [words for slot in parcel.slots if (words := difference(slot, before.get(slot.uid)))]
    parts += [f"{slot.label} withdrawn" for slot in parcel.withdrawn]
    if not parcel.slots and not parts:
        return "update: no slot"
    return f"update: {', '.join(parts) if parts else 'new wording, same slots'}"


def offered(call: str, ledger: Ledger) -> dict[str, LetterSlot]:
    """The last delivered state of each of a partner's slots."""
    own = [message for message in ledger.messages if message.partner == call and message.delivered]
    return {slot.uid: slot for message in own for slot in message.slots}


def difference(slot: LetterSlot, before: LetterSlot | None) -> str:
    """What is new about one slot; empty where nothing is."""
    if before is None:
        return f"{slot.label} new"
    if (slot.start_utc, slot.end_utc) != (before.start_utc, before.end_utc):
        return f"{slot.label} moved"
    if slot.state == CONFIRMED and before.state != CONFIRMED:
        return f"{slot.label} agreed"
    return f"{slot.label} asked again" if slot.sequence != before.sequence else ""


def turn_lines(turn: Turn, ledger: Ledger, typed: Typed) -> list[str]:
    """One partner's turn, a line a mail."""
    call = f"{turn.call:<8}"
    if turn.state == READY:
        return [
            f"{call}  {printable(parcel.to, 80)}: {contents(parcel, ledger)}\n"
            f"{'':8}  subject: {printable(parcel.subject, 100)}"
            for parcel in turn.parcels
        ]
    if turn.state == NOTHING_NEW:
        return [f"{call}  nothing new {turn.words}".rstrip()]
    if turn.state == NO_ADDRESS:
        return [f"{call}  no mail address; paste {turn.words} into a chat"]
    if turn.state == NO_LETTER:
        return [f"{call}  no letter was made for it"]
    assert turn.open is not None
    return [f"{call}  {unclear_words(turn.open, typed)}"]


def forgotten_lines(inputs: Inputs, ledger: Ledger, period: str) -> list[str]:
    """A line for each slot that was offered to someone who is no partner of the season any more: no letter says so."""
    calls = {station.call for station in inputs.partners}
    refused = [answer for answer in inputs.record.answers if answer.state == DECLINED]
    held: dict[str, tuple[str, LetterSlot] | None] = {}
    for message in ledger.messages:
        if message.period == period and message.delivered and message.partner not in calls:
            held |= {slot.uid: (message.partner, slot) for slot in message.slots}
            held |= {slot.uid: None for slot in message.withdrawn}
    return [
        f"note: {call} was offered slot {slot.label} ({slot.start_utc:%Y-%m-%d %H:%M} UTC) and is no partner of this "
        "season any more; tell it yourself"
        for call, slot in (pair for pair in held.values() if pair is not None)
        if not any(answer.is_about(call, slot.label, slot.start_utc) for answer in refused)
    ]


def unclear_words(message: Message, typed: Typed) -> str:
    """A message of which nobody knows whether it arrived, and the two ways on."""
    return (
        f"unclear: the mail of {message.stamp} to {printable(message.to, 80)} may have arrived or not; ask, then\n"
        f"{'':10}it arrived:      {typed(f'send --arrived {message.partner}')}\n"
        f"{'':10}it did not:      {typed(f'send --yes --again {message.partner}')}"
    )


def sent_line(sent: Sent, ledger: Ledger, typed: Typed) -> str:
    """What became of one mail; the ledger is that of before the run."""
    call, to = f"{sent.parcel.call:<8}", printable(sent.parcel.to, 80)
    if sent.event == SENT:
        return f"{call}  sent to {to}: {contents(sent.parcel, ledger)}"
    if sent.event == REFUSED:
        advice = f"put the address right, then {typed('plan')}, {typed('letters')} and {typed('send')}"
        return f"{call}  refused for {to} ({sent.words}); {advice}"
    if sent.event == NOT_SENT:
        return f"{call}  not sent to {to} ({sent.words}); later: {typed('send --yes')}"
    ways = f"{typed(f'send --arrived {sent.parcel.call}')} or {typed(f'send --yes --again {sent.parcel.call}')}"
    return f"{call}  unclear whether it reached {to} ({sent.words}); ask, then {ways}"
