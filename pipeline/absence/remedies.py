"""What would let a partner in, as values: hours, equipment, dates, rules, nights or slots; and what came of a trial.

An end is `home` or `partner`. What a remedy changes in the files is the affair of `changes`.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from pipeline.inputs.scalars import Weekday


@dataclass(frozen=True)
class LongerHours:
    """Hours made longer at one edge: `edge` is before or after; on `days`, all where empty."""

    end: str
    edge: str
    minutes: int
    days: tuple[Weekday, ...] = ()


@dataclass(frozen=True)
class DatesGivenBack:
    """One end is there on these dates after all."""

    end: str
    dates: tuple[dt.date, ...]


@dataclass(frozen=True)
class LargerDish:
    """A dish of this diameter at one end."""

    end: str
    diameter_m: float


@dataclass(frozen=True)
class MorePower:
    """This power at one end."""

    end: str
    power_w: float


@dataclass(frozen=True)
class ModeAdded:
    """One end learns this mode."""

    end: str
    mode: str


@dataclass(frozen=True)
class NightsAdded:
    """The policy takes the nights of these weekdays too."""

    days: tuple[Weekday, ...]


@dataclass(frozen=True)
class LaterHour:
    """This hour as the latest before a working day."""

    latest: dt.time


@dataclass(frozen=True)
class SmallerSunSeparation:
    """The Sun may come as near to the Moon as this."""

    limit_deg: float


@dataclass(frozen=True)
class MoreNights:
    """A season of so many nights, `maximum_nights`."""

    nights: int


@dataclass(frozen=True)
class MoreSlots:
    """Nights of so many slots, `maximum_slots_per_night`."""

    slots: int


@dataclass(frozen=True)
class LowerNightCost:
    """A set-up need earn no more than this, in contacts."""

    night_cost: float


Upgrade = LargerDish | MorePower | ModeAdded
Room = MoreNights | MoreSlots | LowerNightCost
Remedy = (
    LongerHours | DatesGivenBack | LargerDish | MorePower | ModeAdded | NightsAdded | LaterHour | SmallerSunSeparation
    | MoreNights | MoreSlots | LowerNightCost
)  # fmt: skip


@dataclass(frozen=True)
class Tried:
    """One remedy, or two that help only together, and the slot that the whole agenda then holds.

    `change` is what follows `--what-if`, with a blank between two; `chance` is that slot's.
    """

    remedies: tuple[Remedy, ...]
    change: str
    slot_start_utc: dt.datetime
    chance: float
