"""What has been agreed, sent and learnt: an input of the next run, kept in the folder `record/` beside the season.

Only the shapes stand here; `record_reading` and `ledger` fill them, `record_writing` and the room `letters` write.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass

FOLDER = "record"
AGENDA = "agenda.yaml"
LEDGER = "sent.jsonl"
CORRECTIONS = "corrections.yaml"
UID_KEY = "uid_key.txt"
REPLIES_READ = "replies_read.txt"

CONFIRMED, TENTATIVE, DECLINED, FIXED = "confirmed", "tentative", "declined", "fixed"
STATES = (CONFIRMED, TENTATIVE, DECLINED, FIXED)
# How a slot went: a contact, an attempt without one, an end that was not there, a night lost to weather.
MADE, FAILED, ABSENT, RAINED = "made", "failed", "absent", "rained"
OUTCOMES = (MADE, FAILED, ABSENT, RAINED)
# Who named the time of a slot, where it was not home.
PARTNER = "partner"
# What is measured of a station: how much noisier than cold sky ground, Sun and Moon are, and how strong its own echo.
GROUND, SUN, MOON, ECHO = "ground", "sun", "moon", "echo"
KINDS = (GROUND, SUN, MOON, ECHO)
# How it was pointed: as the dial says, or to where most was heard.
DIAL, PEAK = "dial", "peak"


@dataclass(frozen=True)
class Answer:
    """One line of `agenda.yaml`: what a partner answered, or (`fixed`) what the operator set by hand.

    `label` is empty where the line gives none; `end_utc` is the start and the season's slot length where it gives none;
    `answered` is the end of the day where the line gives a day only; `outcome` is empty until it is told how it went;
    `proposed_by` is `partner` where the time is the partner's own proposal, else empty. `site` is where home stands
    then, empty where the line does not say.
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
    proposed_by: str = ""
    site: str = ""

    @property
    def is_own_proposal(self) -> bool:
        """Whether the partner named this time itself and it is agreed: nobody asks it for an answer."""
        return self.proposed_by == PARTNER and self.state == CONFIRMED

    def is_about(self, partner: str, label: str, start_utc: dt.datetime) -> bool:
        """Whether the line is about this slot of a partner: by its letter; where it gives none, by its very start."""
        same = self.label == label if self.label else self.start_utc == start_utc
        return self.partner == partner and same


@dataclass(frozen=True)
class Told:
    """What a letter says of one slot beside its time; dials in Hz at the slot's start and end, empty without a table.

    `opener` is `home` or `partner`; `mode` is empty where there is none in common; `site` is where home stands then,
    empty where it does not move. `reports_db` are those to hope for, at the partner and at home, empty where there are
    none; `only_if` is the letter of the slot for whose failing this one is held, None where a ledger does not say.
    """

    home_mhz: float
    partner_mhz: float
    mode: str
    opener: str
    meet: str
    listen_hz: tuple[float, ...]
    send_hz: tuple[float, ...]
    site: str = ""
    reports_db: tuple[float, ...] = ()
    only_if: str | None = None

    @property
    def entry(self) -> dict[str, object]:
        """As the ledger holds it."""
        may_be_missing = {"site": "", "reports_db": (), "only_if": None}
        return {
            key: value
            for key, value in dataclasses.asdict(self).items()
            if key not in may_be_missing or value != may_be_missing[key]
        }


@dataclass(frozen=True)
class OfferedTime:
    """Another time for a slot, as a letter told it; its letter means this one time for ever. `site` as in `Told`."""

    label: str
    start_utc: dt.datetime
    end_utc: dt.datetime
    site: str = ""


@dataclass(frozen=True)
class AskedSky:
    """A question about a partner's sky: free over these azimuths, clockwise, above that elevation? Degrees."""

    azimuth_from_deg: float
    azimuth_to_deg: float
    above_deg: float


@dataclass(frozen=True)
class Offer:
    """The last state of one invitation that was delivered, or may have been; `digest` is its letter's content.

    `stamp_utc` is its DTSTAMP, `content` a digest of the calendar object; ledgers of before know neither, nor `told`.
    `alternatives` are the other times that the last letter told with it, `told_before` those of earlier ones alone.
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
    alternatives: tuple[OfferedTime, ...] = ()
    told_before: tuple[OfferedTime, ...] = ()

    @property
    def all_alternatives(self) -> tuple[OfferedTime, ...]:
        """Every other time that was ever told with it."""
        return (*self.alternatives, *self.told_before)


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
class Measurement:
    """One reading of a station on a band: dB over cold sky at the same elevation, an echo in 2500 Hz.

    Offsets are where most was heard less what the dial should have said, degrees; None where nobody looked.
    """

    call: str
    band: str
    time_utc: dt.datetime
    what: str
    value_db: float
    aim: str = DIAL
    azimuth_offset_deg: float | None = None
    elevation_offset_deg: float | None = None
    remarks: str = ""
    line: int = 0

    @property
    def key(self) -> tuple[str, str, str, dt.datetime]:
        """What one line of the record is told from another by."""
        return self.call, self.band, self.what, self.time_utc


@dataclass(frozen=True)
class Record:
    """All of it. `ledger_sha256` is empty where nothing was ever sent, `uid_key` where no letter was ever made."""

    answers: tuple[Answer, ...] = ()
    offers: tuple[Offer, ...] = ()
    corrections: tuple[Correction, ...] = ()
    ledger_sha256: str = ""
    uid_key: str = ""
    measurements: tuple[Measurement, ...] = ()
