"""What is to be said of an agenda, as values: how good it is proven, what moved, what was assumed, what breaks a rule.

Made while the agenda is; times are home's own, aware of their zone.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import Enum


@dataclass(frozen=True)
class Proof:
    """How much better another agenda may be, in contacts; 0 where this one is proven the best.

    `at_sites`: with home where it stands on each night, where it moves.
    """

    gap: float
    at_sites: bool = False


@dataclass(frozen=True)
class TripsAmong:
    """What each trip buys was sought among so many nights only, of so many with slots."""

    nights: int
    of: int


@dataclass(frozen=True)
class Ties:
    """How agendas of equal worth were told apart."""


@dataclass(frozen=True)
class OfferMoved:
    """An open offer that cannot stay at its time."""

    partner: str
    label: str


@dataclass(frozen=True)
class KeptAsTold:
    """An open offer that stays at its time although some minutes of it have no Moon clear of the skyline."""

    partner: str
    label: str
    start: dt.datetime
    minutes_short: int


@dataclass(frozen=True)
class OfferWithdrawn:
    """An open offer that finds no place any more."""

    partner: str
    label: str


@dataclass(frozen=True)
class HeldByStranger:
    """A slot agreed with someone who is no partner now."""

    partner: str
    start: dt.datetime


@dataclass(frozen=True)
class OutsideNights:
    """A slot agreed on a date of the plan, in a passage of the Moon before its first night or after its last."""

    partner: str
    label: str
    start: dt.datetime
    before: bool


@dataclass(frozen=True)
class OutcomeMissing:
    """A slot that was agreed and lies in the past, of which the record does not say how it went."""

    partner: str
    label: str
    start: dt.datetime


@dataclass(frozen=True)
class StillAgreed:
    """A slot agreed with a partner who is worked already."""

    partner: str
    label: str
    start: dt.datetime


@dataclass(frozen=True)
class AskedAgain:
    """A slot that the weather took; `start` is the time now proposed, None where there is none."""

    partner: str
    label: str
    start: dt.datetime | None


class Rule(Enum):
    """The rules that a slot kept as agreed may break."""

    NOT_OUR_OPERATOR = "operator"
    MOON_DOWN = "Moon down"
    MOON_DOWN_IN_PART = "Moon down in part"
    HOME_HOURS = "home's hours"
    PARTNER_HOURS = "the partner's hours"
    SUN = "Sun"
    CHANCE = "chance"
    OVERLAP = "overlap"
    GAP = "gap"


@dataclass(frozen=True)
class Broken:
    """A rule that is broken; `call` is the operator, the partner or the other slot's, `label` that slot's letter."""

    rule: Rule
    call: str = ""
    label: str = ""


@dataclass(frozen=True)
class KeptAsAgreed:
    """A slot that stays although it breaks rules."""

    partner: str
    label: str
    start: dt.datetime
    broken: tuple[Broken, ...]


@dataclass(frozen=True)
class TooManyNights:
    """Slots agreed take more nights than the policy has."""

    held: int
    allowed: int


@dataclass(frozen=True)
class TooManySlots:
    """Slots agreed on one night are more than the policy has."""

    night: dt.date
    held: int
    allowed: int


@dataclass(frozen=True)
class HoursAssumed:
    """What a station's file does not say of its hours: the hours themselves, the time zone, or both."""

    call: str
    hours: bool
    zone: bool


Note = (
    Proof
    | TripsAmong
    | Ties
    | OfferMoved
    | KeptAsTold
    | OfferWithdrawn
    | HeldByStranger
    | OutsideNights
    | OutcomeMissing
    | StillAgreed
    | AskedAgain
    | KeptAsAgreed
    | TooManyNights
    | TooManySlots
    | HoursAssumed
)
