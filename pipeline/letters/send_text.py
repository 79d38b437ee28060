"""What `send` prints: who would get what, what became of each mail, and what to do next."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

from pipeline.inputs.yaml_tree import printable
from pipeline.letters.holding import told_how
from pipeline.letters.outbox import NO_ADDRESS, NO_LETTER, NOTHING_NEW, READY, WITHDRAWAL, Parcel, Turn
from pipeline.letters.refusals import Concern
from pipeline.letters.sending import Sent
from pipeline.letters.told import names_between
from pipeline.record.inputs import Inputs
from pipeline.record.ledger import BY_HAND, NOT_SENT, REFUSED, SENDING, SENT, Ledger, LetterSlot, Message
from pipeline.record.model import CONFIRMED, DECLINED, FOLDER, LEDGER
from pipeline.record.reading import within
from pipeline.wording.words import here_and_there

Typed = Callable[[str], str]
# Put off, and more to say of it than to try later.
TOLD_LATER = (Concern.SENDER, Concern.FULL, Concern.ACCESS, Concern.SERVER)


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
    parts += [
        f"{slot.label} {name}"
        for slot in parcel.slots
        if slot.uid in before
        for name in names_between(before[slot.uid], slot)
    ]
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
        return [f"{call}  nothing new{since(turn.last)}"]
    if turn.state == NO_ADDRESS:
        noted = typed(f"send --by-hand {turn.call}")
        return [f"{call}  no mail address; paste {turn.words} into a chat\n{'':10}once told:       {noted}"]
    if turn.state == NO_LETTER:
        return [f"{call}  no letter was made for it"]
    assert turn.open is not None
    return [f"{call}  {unclear_words(turn.open, typed)}"]


def since(last: Message | None) -> str:
    """` since 2027-02-01`, and how it was told where that was by hand."""
    if last is None:
        return ""
    return f" since {last.stamp[:10]}" + (f", told {told_how(last)}" if last.state == BY_HAND else "")


def by_hand_lines(
    turn: Turn, noted: Sequence[Parcel], ledger: Ledger, zones: tuple[ZoneInfo, ZoneInfo | None]
) -> list[str]:
    """What is noted as told to one partner, with its times by both clocks; the ledger is that of before."""
    call = f"{turn.call:<8}"
    if not noted:
        return [f"{call}  noted already{since(turn.last)}"]
    lines = []
    for parcel in noted:
        lines.append(f"{call}  noted as told by hand: {contents(parcel, ledger)}")
        lines += [
            f"{'':10}{slot.label}: {here_and_there(slot.start_utc, slot.end_utc, *zones)}"
            for slot in (*parcel.slots, *parcel.withdrawn)
        ]
    return lines


def cut_lines(ledger: Ledger, folder: Path) -> list[str]:
    """What a crash cut off of the ledger's last line, and what that means for its mail; `folder` is the season's."""
    if ledger.cut is None:
        return []
    start = f"note: line {ledger.cut.line} of {(folder / FOLDER / LEDGER).as_posix()} was cut off while it was written"
    last = ledger.messages[-1] if ledger.messages else None
    if ledger.cut.event == BY_HAND:
        return [f"{start}; it was to note what you told by hand: note it again with send --by-hand"]
    if ledger.cut.event == SENDING or last is None or not last.open:
        return [f"{start}; nothing left with it."]
    about = f"the mail of {last.stamp} to {last.partner}"
    if ledger.cut.event == SENT:
        return [f"{start}; it began to say that the mail server took {about}, which counts as unclear until you say."]
    if ledger.cut.event:
        return [f"{start}; it was to say how {about} ended, which is unclear."]
    return [f"{start}; it may have been to say how {about} ended, which is unclear."]


def forgotten_lines(inputs: Inputs, ledger: Ledger, period: str) -> list[str]:
    """A line for each slot that someone holds who is no partner of the season any more: no letter says so.

    Offered and not refused, or agreed in words without a letter.
    """
    calls = {station.call for station in inputs.partners}
    refused = [answer for answer in inputs.record.answers if answer.state == DECLINED]
    agreed = [
        answer
        for answer in inputs.record.answers
        if answer.state == CONFIRMED and not answer.outcome and within(inputs.season, answer.start_utc)
    ]
    held: dict[str, tuple[str, LetterSlot] | None] = {}
    for message in ledger.messages:
        if message.period == period and message.delivered and message.partner not in calls:
            held |= {slot.uid: (message.partner, slot) for slot in message.slots}
            held |= {slot.uid: None for slot in message.withdrawn}
    left = [
        (call, slot)
        for call, slot in (pair for pair in held.values() if pair is not None)
        if not any(answer.is_about(call, slot.label, slot.start_utc) for answer in refused)
    ]
    lines = []
    for call, slot in left:
        said = any(answer.is_about(call, slot.label, slot.start_utc) for answer in agreed)
        lines.append(forgotten(call, "said yes to" if said else "was offered", slot.label, slot.start_utc))
    lines += [
        forgotten(one.partner, "said yes to", one.label, one.start_utc)
        for one in agreed
        if one.partner not in calls and not any(one.is_about(call, s.label, s.start_utc) for call, s in left)
    ]
    return lines


def forgotten(call: str, did: str, label: str, start_utc: dt.datetime) -> str:
    """`QF4LUM said yes to slot A (2027-03-13 01:15 UTC) and is no partner ...`."""
    slot = f"slot {label}" if label else "a slot"
    return (
        f"note: {call} {did} {slot} ({start_utc:%Y-%m-%d %H:%M} UTC) and is no partner of this season any more; "
        "tell it yourself"
    )


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
        return f"{call}  refused for {to} ({sent.words}); {advice(sent, typed)}"
    if sent.event == NOT_SENT:
        hint = f"; {advice(sent, typed)}" if sent.concern in TOLD_LATER else f"; later: {typed('send --yes')}"
        return f"{call}  not sent to {to} ({sent.words}){hint}"
    ways = f"{typed(f'send --arrived {sent.parcel.call}')} or {typed(f'send --yes --again {sent.parcel.call}')}"
    return f"{call}  unclear whether it reached {to} ({sent.words}); ask, then {ways}"


def advice(sent: Sent, typed: Typed) -> str:
    """What to do about a refusal, by what it is about."""
    again = f"{typed('plan')}, {typed('letters')} and {typed('send')}"
    call = sent.parcel.call
    return {
        Concern.SENDER: f"that is about your own address, {printable(sent.parcel.sender, 80)}: letters.sender must be "
        f"an address that your login may send from; put it right, then {again}",
        Concern.ADDRESS: f"put the address right, then {again}",
        Concern.FULL: f"the address is right, its mailbox is full: tell {call} another way, or later: "
        f"{typed('send --yes')}",
        Concern.SIZE: f"the mail is too large: {typed('letters --no-pdf')} makes it small, then {typed('send')}",
        Concern.MAIL: f"the address is right, the server does not take what the mail holds: look at "
        f"{sent.parcel.file.as_posix()}, or tell {call} another way, then {typed(f'send --by-hand {call}')}",
        Concern.PERMISSION: f"the server does not let you write to this address: is letters.sender an address of your "
        f"login? Else tell {call} another way, then {typed(f'send --by-hand {call}')}",
        Concern.ACCESS: f"look at the MUTUAL_MOON_MAIL_ variables, then {typed('send --yes')}",
        Concern.SERVER: f"the server takes nothing from you now, its words say why; later: {typed('send --yes')}",
        Concern.UNKNOWN: f"its words say why; later: {typed('send --yes')}, or tell {call} another way, then "
        f"{typed(f'send --by-hand {call}')}",
    }[sent.concern]


def still_lines(left: int, typed: Typed) -> list[str]:
    """How many mails wait after a run that stopped."""
    return [f"{left} mail{'s are' if left > 1 else ' is'} still to be sent: {typed('send --yes')}"] if left > 0 else []
