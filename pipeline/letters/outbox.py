"""What lies ready to be sent: each partner's `letter.eml` with the `letter.json` beside it, against the ledger.

A letter that says what the partner's last delivered one said is not sent again; its date and its plan's number aside.
"""

from __future__ import annotations

import datetime as dt
import email.parser
import email.policy
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from email.utils import format_datetime, getaddresses
from pathlib import Path
from typing import Any

from pipeline.agenda.commitments import DOMAIN
from pipeline.inputs.bounds import LETTER as LETTER_SIZE
from pipeline.inputs.bounds import OWN, TooMuch
from pipeline.inputs.scalars import MAIL
from pipeline.inputs.yaml_tree import printable
from pipeline.letters.told import reports_are_news
from pipeline.record.ledger import BY_HAND, Ledger, LetterSlot, Message, slot_of, text

LETTER, WITHDRAWAL = "letter", "withdrawal"
# What one partner's turn can come to.
READY, NOTHING_NEW, NO_ADDRESS, NO_LETTER, UNCLEAR = "ready", "nothing new", "no address", "no letter", "unclear"
# Letters with their page are some 100 kB; servers take 10 MB and more.
# The first of a thread is always named; of the others the latest.
MOST_REFERENCES = 20


class OutboxFault(RuntimeError):
    """The letters on the disk cannot be sent as they are; the text is one sentence for the user."""


@dataclass(frozen=True)
class Parcel:
    """One mail ready to go. `sender` is the bare address of its From header."""

    call: str
    file: Path
    kind: str
    sender: str
    to: str
    subject: str
    message_id: str
    digest: str
    slots: tuple[LetterSlot, ...]
    withdrawn: tuple[LetterSlot, ...]
    raw: bytes

    @property
    def entry(self) -> dict[str, object]:
        """What the ledger keeps of it; the period and the plan's number besides."""
        return {
            "partner": self.call,
            "to": self.to,
            "subject": self.subject,
            "kind": self.kind,
            "digest": self.digest,
            "slots": [slot.entry for slot in self.slots],
            "withdrawn": [slot.entry for slot in self.withdrawn],
        }


@dataclass(frozen=True)
class Turn:
    """What one partner is to get: parcels where `state` is ready, else why not; `words` say it in a sentence's end.

    `last` is the last message that it has, `by_hand` what is new where no mail can carry it.
    """

    call: str
    state: str
    parcels: tuple[Parcel, ...] = ()
    words: str = ""
    open: Message | None = None
    last: Message | None = None
    by_hand: tuple[Parcel, ...] = ()


# The calls among the names that Windows keeps for its devices, in any folder.
DEVICE = re.compile(r"(COM|LPT)[0-9]")


def folder_name(call: str) -> str:
    """A call as a folder's name, on every system: no separator, and not the name of a device."""
    name = call.replace("/", "-")
    return f"{name}-" if DEVICE.fullmatch(name) else name


def turn_of(letters: Path, call: str, period: str, number: str, ledger: Ledger) -> Turn:
    """What a partner is to get; OutboxFault where its letter is damaged or not of this plan."""
    folder = letters / folder_name(call)
    own = [message for message in ledger.messages if message.partner == call and message.period == period]
    unsettled = next((message for message in own if message.open), None)
    if unsettled is not None:
        return Turn(call, UNCLEAR, open=unsettled)
    if not (folder / "letter.json").is_file():
        return Turn(call, NO_LETTER)
    about = read_json(folder / "letter.json")
    check_plan(folder, about, number)
    last = next((message for message in reversed(own) if message.delivered), None)
    if not about.get("to"):
        spoken = spoken_of(folder, about, call)
        check_sequences(spoken, own)
        if was_delivered(spoken, own):
            return Turn(call, NOTHING_NEW, last=last)
        return Turn(call, NO_ADDRESS, words=(folder / "message.txt").as_posix(), by_hand=(spoken,))
    parcels = [parcel_of(folder, LETTER, about, call)] if (folder / "letter.eml").is_file() else []
    if (folder / "withdrawal.eml").is_file():
        parcels.append(parcel_of(folder, WITHDRAWAL, read_json(folder / "withdrawal.json"), call))
    for parcel in parcels:
        check_sequences(parcel, own)
    fresh = tuple(parcel for parcel in parcels if not was_delivered(parcel, own))
    if fresh:
        return Turn(call, READY, fresh)
    return Turn(call, NOTHING_NEW, last=last)


def was_delivered(parcel: Parcel, own: Sequence[Message]) -> bool:
    """Whether the partner's last mail of this kind said the same, to this address: a decibel to hope for aside."""
    withdrawal = parcel.kind == WITHDRAWAL
    same = [message for message in own if message.delivered and (message.kind == WITHDRAWAL) == withdrawal]
    if not same:
        return False
    last = same[-1]
    told = {slot.uid: slot.told for slot in last.slots}
    both = [(told.get(slot.uid), slot.told) for slot in parcel.slots]
    if any(before and now and reports_are_news(before, now) for before, now in both):
        return False
    return last.digest == parcel.digest and last.to.casefold() == parcel.to.casefold()


def read_json(path: Path) -> dict[str, Any]:
    """What lies beside a letter."""
    try:
        about = json.loads(OWN.read(path, path.as_posix()))
    except TooMuch as much:
        raise OutboxFault(f"{much}; run: letters") from None
    except (OSError, ValueError, RecursionError):
        about = None
    if not isinstance(about, dict):
        raise OutboxFault(f"{path.as_posix()} cannot be read; run: letters")
    return about


def check_plan(folder: Path, about: dict[str, Any], number: str) -> None:
    """Letters of another plan than the one on the disk are not sent."""
    made_for = about.get("plan")
    if made_for and made_for != number:
        shown = printable(str(made_for), 10)
        raise OutboxFault(
            f"the letters in {folder.parent.as_posix()} belong to plan {shown}, not {number}; run: letters"
        )


def check_sequences(parcel: Parcel, own: Sequence[Message]) -> None:
    """A letter made before the last sending would take back what that one said."""
    latest = {slot.uid: slot for message in own if message.delivered for slot in (*message.slots, *message.withdrawn)}
    for slot in (*parcel.slots, *parcel.withdrawn):
        known = latest.get(slot.uid)
        if known is None or slot.sequence > known.sequence:
            continue
        moved = (slot.start_utc, slot.end_utc) != (known.start_utc, known.end_utc)
        stale = bool(slot.stamp_utc and known.stamp_utc and slot.stamp_utc < known.stamp_utc)
        if slot.sequence < known.sequence or moved or stale:
            message = f"the letter to {parcel.call} is older than what was sent last (slot {slot.label}); run: letters"
            raise OutboxFault(message)


def parcel_of(folder: Path, stem: str, about: dict[str, Any], call: str) -> Parcel:
    """One mail with what is said about it; its headers are the ones that were written about it."""
    file = folder / f"{stem}.eml"
    try:
        raw = LETTER_SIZE.read(file, file.as_posix())
    except TooMuch as much:
        raise OutboxFault(f"{much}; run: letters") from None
    except OSError:
        raise OutboxFault(f"{file.as_posix()} cannot be read; run: letters") from None
    try:
        slots = tuple(slot_of(entry) for entry in about["slots"]) if stem == LETTER else ()
        withdrawn = tuple(slot_of(entry) for entry in about.get("withdrawn", []))
        # The digest of the content passes over the plan number, which every partner's answer changes.
        to, subject, digest = (text(about, key) for key in ("to", "subject", "content_digest"))
        kind = WITHDRAWAL if stem == WITHDRAWAL else text(about, "kind")
        sender, written_to, message_id = addresses_of(raw)
    except (KeyError, TypeError, ValueError):
        raise OutboxFault(f"{folder.as_posix()}: the letter is damaged; run: letters") from None
    if written_to.casefold() != to.casefold() or about.get("partner") != call:
        raise OutboxFault(f"{folder.as_posix()}: letter.eml and letter.json do not belong together; run: letters")
    return Parcel(call, file, kind, sender, to, subject, message_id, digest, slots, withdrawn, raw)


def spoken_of(folder: Path, about: dict[str, Any], call: str) -> Parcel:
    """What a partner without a mail address is told by hand: slots and withdrawals in one message, no mail."""
    try:
        slots = tuple(slot_of(entry) for entry in about["slots"])
        withdrawn = tuple(slot_of(entry) for entry in about.get("withdrawn", []))
        subject, digest, kind = (text(about, key) for key in ("subject", "content_digest", "kind"))
    except (KeyError, TypeError, ValueError):
        raise OutboxFault(f"{folder.as_posix()}: the letter is damaged; run: letters") from None
    name = f"<{digest[:32]}.by-hand@{DOMAIN}>"
    return Parcel(call, folder / "message.txt", kind, "", "", subject, name, digest, slots, withdrawn, b"")


def addresses_of(raw: bytes) -> tuple[str, str, str]:
    """From, To and Message-ID; ValueError where one is missing, not one address, or not fit for a mail server."""
    head = email.parser.BytesHeaderParser(policy=email.policy.compat32).parsebytes(raw)
    found = []
    for name in ("From", "To"):
        values = head.get_all(name, [])
        pairs = getaddresses([str(value) for value in values])
        if len(values) != 1 or len(pairs) != 1 or not MAIL.fullmatch(pairs[0][1]):
            raise ValueError(name)
        found.append(pairs[0][1])
    message_id = str(head.get("Message-ID", "")).strip()
    if not re.fullmatch(r"<[!-;=?-~]+>", message_id) or head.get_all("Bcc") or head.get_all("Cc"):
        raise ValueError("Message-ID")
    return found[0], found[1], message_id


def thread_of(ledger: Ledger, parcel: Parcel, period: str) -> tuple[str, ...]:
    """The Message-IDs of what was mailed to the partner about the period before, the latest last."""
    own = [one for one in ledger.messages if (one.partner, one.period) == (parcel.call, period)]
    found = [one.message_id for one in own if one.delivered and one.state != BY_HAND]
    return tuple(one for one in dict.fromkeys(found) if one != parcel.message_id)


def with_thread(raw: bytes, thread: Sequence[str]) -> bytes:
    """The mail with In-Reply-To and References (RFC 5322, section 3.6.4); a first one stays as it is."""
    if not thread:
        return raw
    known = b"\r\n ".join(one.encode() for one in (*thread[:1], *thread[1:][-MOST_REFERENCES:]))
    head, blank, body = raw.partition(b"\r\n\r\n")
    return head + b"\r\nIn-Reply-To: " + thread[-1].encode() + b"\r\nReferences: " + known + blank + body


def with_date(raw: bytes, stamp: str) -> bytes:
    """The mail with its Date header set to an instant; every other byte stays."""
    moment = dt.datetime.fromisoformat(stamp)
    date = f"Date: {format_datetime(moment)}".encode()
    head, blank, body = raw.partition(b"\r\n\r\n")
    kept: list[bytes] = []
    inside = placed = False
    for line in head.split(b"\r\n"):
        if inside and line[:1] in (b" ", b"\t"):
            continue
        inside = line[:5].lower() == b"date:"
        if not inside:
            kept.append(line)
        elif not placed:
            kept.append(date)
            placed = True
    return b"\r\n".join(kept if placed else [date, *kept]) + blank + body
