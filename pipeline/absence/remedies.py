"""What would let a partner or a night in, as values: hours, a dish, power, nights or slots; each is tried before it is
named. An end is `home` or `partner`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class LongerHours:
    """Hours made longer at one edge: `edge` is before or after; on `days`, all where empty; `nights` it would open."""

    end: str
    edge: str
    minutes: int
    days: tuple[str, ...]
    nights: tuple[int, ...]


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
class MoreNights:
    """A season of so many nights, `maximum_nights`."""

    nights: int


@dataclass(frozen=True)
class MoreSlots:
    """Nights of so many slots, `maximum_slots_per_night`."""

    slots: int


Upgrade = LargerDish | MorePower
Room = MoreNights | MoreSlots
