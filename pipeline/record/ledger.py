"""The ledger `record/sent.jsonl`: one JSON object a line, only ever added to; read here into messages and offers.

A line is written before a message leaves and another after, so that whatever a crash cuts off can be told apart. What
the operator has told by hand is one line.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields, replace
from pathlib import Path
from typing import Any

from pipeline.inputs import bounds
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.odd_characters import LINE_BREAK
from pipeline.inputs.yaml_tree import FORBIDDEN, read_bytes
from pipeline.record.model import FOLDER, LEDGER, AskedSky, Offer, OfferedTime, Told

NAME = f"{FOLDER}/{LEDGER}"

SENDING, SENT, REFUSED, NOT_SENT, UNCLEAR = "sending", "sent", "refused", "not-sent", "unclear"
ARRIVED, LOST, TORN, BY_HAND = "arrived", "lost", "torn", "by-hand"
# How the operator may have told it.
WAYS = ("mail", "chat", "telephone")
# How a message that was begun may end. Without an end it is as unclear as with the word for it.
ENDS = (SENT, REFUSED, NOT_SENT, UNCLEAR, ARRIVED, LOST)
# After these the partner has the message, or may have it.
DELIVERED = (SENDING, SENT, UNCLEAR, ARRIVED, BY_HAND)
OPEN = (SENDING, UNCLEAR)
WHOLE_TURN_DEG = 360
HIGHEST_REPORT_DB = 1000
ADVICE = "put the line back as it was, from a copy; what a lost line says was sent would be sent again."


@dataclass(frozen=True)
class LetterSlot:
    """One slot as a letter told it, the other times that it offered for it, and what it asked of the sky there.

    `stamp_utc` is its DTSTAMP, `content` a digest of its calendar object.
    """

    uid: str
    sequence: int
    label: str
    operator: str
    start_utc: dt.datetime
    end_utc: dt.datetime
    state: str
    stamp_utc: dt.datetime | None = field(default=None, kw_only=True)
    content: str = field(default="", kw_only=True)
    told: Told | None = field(default=None, kw_only=True)
    alternatives: tuple[OfferedTime, ...] = field(default=(), kw_only=True)
    asked_sky: AskedSky | None = field(default=None, kw_only=True)

    @property
    def entry(self) -> dict[str, object]:
        """As the ledger and `letter.json` hold it."""
        known: dict[str, object] = {
            "stamp": "" if self.stamp_utc is None else f"{self.stamp_utc:%Y-%m-%dT%H:%M:%SZ}",
            "content": self.content,
            "told": None if self.told is None else self.told.entry,
        }
        return self.offer | {key: value for key, value in known.items() if value}

    @property
    def offer(self) -> dict[str, object]:
        """What a partner says yes or no to, and what it is asked."""
        others = [
            {"label": one.label, **_edges(one), **({"site": one.site} if one.site else {})} for one in self.alternatives
        ]
        return {
            "uid": self.uid,
            "sequence": self.sequence,
            "label": self.label,
            "operator": self.operator,
            **_edges(self),
            "state": self.state,
            **({"alternatives": others} if others else {}),
            **({"asked_sky": asdict(self.asked_sky)} if self.asked_sky else {}),
        }


def _edges(told: LetterSlot | OfferedTime) -> dict[str, object]:
    return {edge: f"{getattr(told, edge):%Y-%m-%dT%H:%M:%SZ}" for edge in ("start_utc", "end_utc")}


@dataclass(frozen=True)
class Message:
    """One message that was begun, and how it ended: `state` is one of ENDS, or `sending` where it has no end.

    Or it was told by hand, on one of WAYS where that is known. `copy` is the file of the mail as it left.
    """

    message_id: str
    stamp: str
    partner: str
    to: str
    subject: str
    kind: str
    digest: str
    period: str
    slots: tuple[LetterSlot, ...]
    withdrawn: tuple[LetterSlot, ...]
    state: str
    words: str
    line: int
    way: str = ""
    copy: str = ""

    @property
    def delivered(self) -> bool:
        """Whether the partner has it or may have it."""
        return self.state in DELIVERED

    @property
    def open(self) -> bool:
        """Whether nobody knows."""
        return self.state in OPEN


@dataclass(frozen=True)
class Cut:
    """The last line, cut off by a crash and not yet told: its number, and the event it was to note, as far as known."""

    line: int
    event: str


@dataclass(frozen=True)
class Ledger:
    """All messages in order; `torn` are the lines that a crash cut off, `sha256` is empty where there is no file."""

    messages: tuple[Message, ...] = ()
    torn: tuple[int, ...] = ()
    sha256: str = ""
    cut: Cut | None = None

    @property
    def open(self) -> tuple[Message, ...]:
        """The messages of which nobody knows whether they arrived."""
        return tuple(message for message in self.messages if message.open)


def read_ledger(folder: Path) -> Ledger:
    """The ledger in the record of a season's folder; InputFaults where a line is damaged other than by a crash."""
    path = folder / FOLDER / LEDGER
    return parse_ledger(read_bytes(path, bounds.LEDGER, NAME)) if path.exists() else Ledger()


def parse_ledger(raw: bytes) -> Ledger:
    """The ledger from its bytes."""
    lines = raw.split(b"\n")
    entries: list[tuple[int, dict[str, Any] | None]] = [
        (number, entry_of(line)) for number, line in enumerate(lines, 1) if line.strip()
    ]
    faults: list[Fault] = []
    torn: list[int] = []
    cut: Cut | None = None
    messages: list[Message] = []
    last_of: dict[str, int] = {}
    for index, (number, entry) in enumerate(entries):
        if entry is None:
            # A crash cuts off the last line; the next run says so in the line after it.
            following = entries[index + 1][1] if index + 1 < len(entries) else None
            last = index + 1 == len(entries) and number == len(lines)
            if last or (following is not None and following.get("event") == TORN):
                torn.append(number)
                cut = Cut(number, event_in(lines[number - 1])) if last else None
            else:
                faults.append(Fault(NAME, number, "", f"the line is damaged; {ADVICE}"))
            continue
        try:
            take(messages, last_of, entry, number)
        except (KeyError, TypeError, ValueError):
            faults.append(Fault(NAME, number, "", f"the line is no entry of this program; {ADVICE}"))
    if faults:
        raise InputFaults(faults)
    return Ledger(tuple(messages), tuple(torn), hashlib.sha256(raw).hexdigest(), cut)


def event_in(line: bytes) -> str:
    """The event that half a line was to note; empty where not even that is whole."""
    found = re.match(rb'\{"event": "([a-z-]+)"', line)
    return found[1].decode() if found else ""


def entry_of(line: bytes) -> dict[str, Any] | None:
    """The object on a line, None where it is none."""
    try:
        entry = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return entry if isinstance(entry, dict) else None


def take(messages: list[Message], last_of: dict[str, int], entry: Mapping[str, Any], line: int) -> None:
    """Put one entry to the messages; an end is that of the last message with its id, whose place `last_of` holds."""
    event = text(entry, "event")
    if event == TORN:
        return
    message_id = text(entry, "message_id")
    if event in (SENDING, BY_HAND):
        messages.append(message_of(entry, event, line))
        last_of[message_id] = len(messages) - 1
        return
    if event not in ENDS:
        raise ValueError(event)
    index = last_of[message_id]
    messages[index] = replace(messages[index], state=event, words=text(entry, "words", ""))


def message_of(entry: Mapping[str, Any], event: str, line: int) -> Message:
    """What a line with `sending` or `by-hand` says."""
    plain = {key: text(entry, key) for key in ("message_id", "stamp", "partner", "to", "subject", "kind", "digest")}
    instant_of(plain["stamp"])
    slots = tuple(slot_of(slot) for slot in entry["slots"])
    withdrawn = tuple(slot_of(slot) for slot in entry["withdrawn"])
    period = text(entry, "period")
    way, copy = (text(entry, key, "") for key in ("way", "copy"))
    return Message(
        **plain, period=period, slots=slots, withdrawn=withdrawn, state=event, words="", line=line, way=way, copy=copy
    )


def slot_of(entry: Mapping[str, Any]) -> LetterSlot:
    """One slot; ValueError, TypeError or KeyError where it is none."""
    sequence = entry["sequence"]
    if not isinstance(sequence, int) or isinstance(sequence, bool) or not 0 <= sequence <= bounds.MOST_CHANGES:
        raise TypeError("sequence")
    start, end = _stretch_of(entry)
    others = tuple(
        OfferedTime(text(one, "label"), *_stretch_of(one), text(one, "site", ""))
        for one in entry.get("alternatives", ())
    )
    return LetterSlot(
        text(entry, "uid"),
        sequence,
        text(entry, "label"),
        text(entry, "operator"),
        start,
        end,
        text(entry, "state", ""),
        stamp_utc=instant_of(stamp) if (stamp := text(entry, "stamp", "")) else None,
        content=text(entry, "content", ""),
        told=told_of(entry["told"]) if "told" in entry else None,
        alternatives=others,
        asked_sky=_asked_sky_of(entry["asked_sky"]) if "asked_sky" in entry else None,
    )


def told_of(entry: Mapping[str, Any]) -> Told:
    """What was told of a slot beside its time."""
    return Told(
        home_mhz=frequency(entry["home_mhz"]),
        partner_mhz=frequency(entry["partner_mhz"]),
        mode=text(entry, "mode"),
        opener=text(entry, "opener"),
        meet=text(entry, "meet"),
        listen_hz=tuple(frequency(one) for one in entry["listen_hz"]),
        send_hz=tuple(frequency(one) for one in entry["send_hz"]),
        site=text(entry, "site", ""),
        reports_db=tuple(report(one) for one in entry.get("reports_db", ())),
        only_if=text(entry, "only_if") if "only_if" in entry else None,
    )


def report(value: Any) -> float:
    """A report of an entry, decibels."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= HIGHEST_REPORT_DB:
        raise ValueError(f"no report: {value!r}")
    return float(value)


def frequency(value: Any) -> float:
    """A frequency of an entry."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= bounds.HIGHEST_MHZ * 1e6:
        raise TypeError("frequency")
    return float(value)


def _asked_sky_of(entry: Mapping[str, Any]) -> AskedSky:
    values = [entry[one.name] for one in fields(AskedSky)]
    if not all(isinstance(value, (int, float)) and 0 <= value <= WHOLE_TURN_DEG for value in values):
        raise TypeError("asked_sky")
    return AskedSky(*map(float, values))


def _stretch_of(entry: Mapping[str, Any]) -> tuple[dt.datetime, dt.datetime]:
    start, end = instant_of(text(entry, "start_utc")), instant_of(text(entry, "end_utc"))
    if end <= start:
        raise ValueError("end_utc")
    return start, end


def text(entry: Mapping[str, Any], key: str, default: str | None = None) -> str:
    """A plain text of an entry."""
    value = entry[key] if default is None else entry.get(key, default)
    if not isinstance(value, str) or FORBIDDEN.search(value) or LINE_BREAK.search(value):
        raise TypeError(key)
    return value


def instant_of(written: str) -> dt.datetime:
    """An instant with its zone, in UTC."""
    return bounds.in_utc(dt.datetime.fromisoformat(written))


def offers_of(ledger: Ledger) -> tuple[Offer, ...]:
    """The last state of each invitation that was delivered or may have been, in the order of first offering.

    A message that was lost, by the operator's word, may lie somewhere all the same: what follows is stamped after it.
    """
    offers: dict[str, Offer] = {}
    latest: dict[str, dt.datetime] = {}
    for message in ledger.messages:
        if not (message.delivered or message.state == LOST):
            continue
        for withdrawn, slots in ((False, message.slots), (True, message.withdrawn)):
            for slot in slots:
                if slot.stamp_utc is not None:
                    latest[slot.uid] = max(slot.stamp_utc, latest.get(slot.uid, slot.stamp_utc))
                known = offers.get(slot.uid)
                if message.delivered:
                    offer = offer_of(message, slot, withdrawn, latest.get(slot.uid))
                    labels = {one.label for one in slot.alternatives}
                    earlier = known.all_alternatives if known is not None else ()
                    told_before = tuple(one for one in earlier if one.label not in labels)
                    offers[slot.uid] = replace(offer, told_before=told_before)
                elif known is not None:
                    offers[slot.uid] = replace(known, stamp_utc=latest.get(slot.uid), content="")
    return tuple(offers.values())


def offer_of(message: Message, slot: LetterSlot, withdrawn: bool, stamp_utc: dt.datetime | None) -> Offer:
    """A slot as a message offered it or took it back."""
    return Offer(
        uid=slot.uid,
        partner=message.partner,
        operator=slot.operator,
        label=slot.label,
        start_utc=slot.start_utc,
        end_utc=slot.end_utc,
        sequence=slot.sequence,
        withdrawn=withdrawn,
        state=slot.state,
        digest=message.digest,
        stamp_utc=stamp_utc,
        content=slot.content,
        told=slot.told,
        alternatives=slot.alternatives,
    )
