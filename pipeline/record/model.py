"""What has been agreed, sent and learnt: an input of the next run, kept in the folder `record/` beside the season.

Only the shapes stand here; `record_reading` and `ledger` fill them, `record_writing` and the room `letters` write.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

FOLDER = "record"
AGENDA = "agenda.yaml"
LEDGER = "sent.jsonl"
CORRECTIONS = "corrections.yaml"

CONFIRMED, TENTATIVE, DECLINED, FIXED = "confirmed", "tentative", "declined", "fixed"
STATES = (CONFIRMED, TENTATIVE, DECLINED, FIXED)
# How a slot went: a contact, an attempt without one, an end that was not there, a night lost to weather.
MADE, FAILED, ABSENT, RAINED = "made", "failed", "absent", "rained"
OUTCOMES = (MADE, FAILED, ABSENT, RAINED)


@dataclass(frozen=True)
class Answer:
    """One line of `agenda.yaml`: what a partner answered, or (`fixed`) what the operator set by hand.

    `label` is empty where the line gives none; `end_utc` is the start and the season's slot length where it gives none;
    `answered` is the end of the day where the line gives a day only; `outcome` is empty until it is told how it went.
    """

    partner: str
    label: str
    start_utc: dt.datetime
    end_utc: dt.datetime | None
    state: str
    operator: str
    line: int
    answered: dt.datetime | None = None
    outcome: str = ""

    def is_about(self, partner: str, label: str, start_utc: dt.datetime) -> bool:
        """Whether the line is about this slot of a partner: by its letter; where it gives none, by its very start."""
        same = self.label == label if self.label else self.start_utc == start_utc
        return self.partner == partner and same


@dataclass(frozen=True)
class Told:
    """What a letter says of one slot beside its time; dials in Hz at the slot's start and end, empty without a table.

    `opener` is `home` or `partner`; `mode` is empty where there is none in common.
    """

    home_mhz: float
    partner_mhz: float
    mode: str
    opener: str
    meet: str
    listen_hz: tuple[float, ...]
    send_hz: tuple[float, ...]


@dataclass(frozen=True)
class Offer:
    """The last state of one invitation that was delivered, or may have been; `digest` is its letter's content.

    `stamp_utc` is its DTSTAMP, `content` a digest of the calendar object; ledgers of before know neither, nor `told`.
    """

    uid: str
    partner: str
    operator: str
    label: str
    start_utc: dt.datetime
    end_utc: dt.datetime
    sequence: int
    withdrawn: bool
    state: str = ""
    digest: str = ""
    stamp_utc: dt.datetime | None = None
    content: str = ""
    told: Told | None = None


@dataclass(frozen=True)
class Correction:
    """What reviews have learnt of one station on one band: decibels to add to the figures of its file.

    `presence` is the share of agreed slots in which it was there and nothing gross was amiss, home's that of all
    partners together; None where none was learnt. `evening_db` is how much stations differ from evening to evening.
    `tells_sides` is False where only presence was learnt: then the decibels say nothing.
    """

    call: str
    band: str
    transmit_db: float
    receive_db: float
    transmit_uncertainty_db: float
    receive_uncertainty_db: float
    reviewed: str
    presence: float | None = None
    evening_db: float = 0.0
    tells_sides: bool = True


@dataclass(frozen=True)
class Record:
    """All of it. `ledger_sha256` is empty where nothing was ever sent."""

    answers: tuple[Answer, ...] = ()
    offers: tuple[Offer, ...] = ()
    corrections: tuple[Correction, ...] = ()
    ledger_sha256: str = ""
