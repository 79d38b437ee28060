"""Why a partner or a night has no slot, as values: the most decisive cause, its figures, and what was tried.

A cause without figures is a plain `Absence`; each other has its own kind. Sentences are made of these in `wording`.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from enum import Enum, auto

from pipeline.absence.remedies import Tried
from pipeline.windows.no_window import NoWindow


class Cause(Enum):
    """The most decisive cause; what stands behind it is in the figures."""

    NOT_WANTED = auto()
    WORKED = auto()
    PAST = auto()
    NO_WINDOW = auto()
    NO_COMMON_MODE = auto()
    OFFERS_DECLINED = auto()
    HELD_BY_OTHERS = auto()
    HELD_OR_DECLINED = auto()
    TOO_WEAK = auto()
    SUN_TOO_NEAR = auto()
    AFTER_LATEST_HOUR = auto()
    HOME_AWAY = auto()
    PARTNER_AWAY = auto()
    TAKEN = auto()
    NIGHTS_LEFT_OUT = auto()
    HOURS_DO_NOT_MEET = auto()
    NO_HOME_HOURS = auto()
    STRETCH_TOO_SHORT = auto()
    MOON_TOO_LOW = auto()
    RULES_TOGETHER = auto()
    NO_FURTHER_WINDOW = auto()
    NIGHTS_FULL = auto()
    EARNS_TOO_LITTLE = auto()
    NIGHTS_EARN_TOO_LITTLE = auto()
    ONLY_WORTH_ITS_COST = auto()
    OTHERS_WORTH_MORE = auto()
    OTHER_NIGHTS_WORTH_MORE = auto()
    NOTHING_TO_ADD = auto()
    NOBODY_IN_SIGHT = auto()


class Rule(Enum):
    """Rules of which several together can close a night."""

    HOURS = auto()
    DATES_AWAY = auto()
    LATEST_HOUR = auto()
    SUN_SEPARATION = auto()


class Unstated(Enum):
    """What a partner's file leaves open and a cause rests on."""

    HOURS = auto()
    SKYLINE = auto()
    EQUIPMENT = auto()
    MODES = auto()


@dataclass(frozen=True)
class Absence:
    """A partner with fewer slots than it wants, or a night without any.

    `second` is another obstacle, where no remedy for one alone helps. `tried` is what would help; None promises
    nothing. The partner `has` so many slots of those `wanted`; `unstated` is what the cause rests on and no file has.
    """

    cause: Cause
    second: Cause | None = field(default=None, kw_only=True)
    tried: Tried | None = field(default=None, kw_only=True)
    has: int = field(default=0, kw_only=True)
    wanted: int = field(default=1, kw_only=True)
    unstated: tuple[Unstated, ...] = field(default=(), kw_only=True)


# Of partners and of nights


@dataclass(frozen=True)
class SunTooNear(Absence):
    """The Sun is nearer to the Moon than the season's limit."""

    cause: Cause = field(default=Cause.SUN_TOO_NEAR, init=False)
    limit_deg: float


@dataclass(frozen=True)
class AfterLatestHour(Absence):
    """Only after the latest hour before a working day: on these dates, or on one night with these partners."""

    cause: Cause = field(default=Cause.AFTER_LATEST_HOUR, init=False)
    latest: dt.time | None
    dates: tuple[dt.date, ...] = ()
    calls: tuple[str, ...] = ()


@dataclass(frozen=True)
class EarnsTooLittle(Absence):
    """Contacts that it would bring at most, weighed by priority, and how many a night must bring."""

    cause: Cause = field(default=Cause.EARNS_TOO_LITTLE, init=False)
    worth: float
    night_cost: float


# Of partners


@dataclass(frozen=True)
class WithoutWindow(Absence):
    """The two ends have no window."""

    cause: Cause = field(default=Cause.NO_WINDOW, init=False)
    no_window: NoWindow


@dataclass(frozen=True)
class NoCommonMode(Absence):
    """The modes of both ends."""

    cause: Cause = field(default=Cause.NO_COMMON_MODE, init=False)
    home_modes: tuple[str, ...]
    partner_modes: tuple[str, ...]


@dataclass(frozen=True)
class HeldByOthers(Absence):
    """Call and label of each agreed slot that is in the way; none where its partner has left the season."""

    cause: Cause = field(default=Cause.HELD_BY_OTHERS, init=False)
    slots: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class TooWeak(Absence):
    """Decibels missing, None where even the most that is tried would not do; at whatever hour or at shared hours."""

    cause: Cause = field(default=Cause.TOO_WEAK, init=False)
    missing_db: float | None
    at_any_hour: bool


@dataclass(frozen=True)
class OnlyOnDates(Absence):
    """One rule of dates keeps all good slots away: those of these nights."""

    dates: tuple[dt.date, ...]


@dataclass(frozen=True)
class Taken(Absence):
    """These calendars of people take the good slots, by their files; on these dates, or from these partners."""

    cause: Cause = field(default=Cause.TAKEN, init=False)
    files: tuple[str, ...]
    dates: tuple[dt.date, ...] = ()
    calls: tuple[str, ...] = ()


@dataclass(frozen=True)
class SlotsOutsideHours(Absence):
    """Good slots lie outside the hours of these ends: home's clock from and to, None where at any hour."""

    cause: Cause = field(default=Cause.HOURS_DO_NOT_MEET, init=False)
    ends: tuple[str, ...]
    clock: tuple[dt.time, dt.time] | None


@dataclass(frozen=True)
class StretchTooShort(Absence):
    """Its longest stretch within all rules, and the least that a slot needs."""

    cause: Cause = field(default=Cause.STRETCH_TOO_SHORT, init=False)
    longest_minutes: int
    needed_minutes: int


@dataclass(frozen=True)
class OthersWorthMore(Absence):
    """Who has the slots instead, on nights on which it could be worked."""

    cause: Cause = field(default=Cause.OTHERS_WORTH_MORE, init=False)
    calls: tuple[str, ...]


@dataclass(frozen=True)
class NightsFull(Absence):
    """All nights that the policy allows are in use, and these partners have them."""

    cause: Cause = field(default=Cause.NIGHTS_FULL, init=False)
    maximum_nights: int
    calls: tuple[str, ...]


# Of nights


@dataclass(frozen=True)
class WeekdayLeftOut(Absence):
    """The policy leaves out the nights of a weekday, 0 for Monday."""

    cause: Cause = field(default=Cause.NIGHTS_LEFT_OUT, init=False)
    weekday: int


@dataclass(frozen=True)
class PartnersAway(Absence):
    """Partners that could be worked if they were there."""

    cause: Cause = field(default=Cause.PARTNER_AWAY, init=False)
    calls: tuple[str, ...]


@dataclass(frozen=True)
class RulesTogether(Absence):
    """Rules none of which is in the way alone, and the partners that they keep away."""

    cause: Cause = field(default=Cause.RULES_TOGETHER, init=False)
    calls: tuple[str, ...]
    rules: tuple[Rule, ...]


@dataclass(frozen=True)
class NoHomeHours(Absence):
    """Home gives no hours for the night of this weekday, 0 for Monday; these partners could be worked."""

    cause: Cause = field(default=Cause.NO_HOME_HOURS, init=False)
    weekday: int
    calls: tuple[str, ...]


@dataclass(frozen=True)
class PartnersOutsideHours(Absence):
    """These partners could be worked only outside the hours of these ends."""

    cause: Cause = field(default=Cause.HOURS_DO_NOT_MEET, init=False)
    ends: tuple[str, ...]
    calls: tuple[str, ...]


@dataclass(frozen=True)
class Unlikely(Absence):
    """No partner has a chance better than unlikely; the best one within the hours, if there is any."""

    cause: Cause = field(default=Cause.TOO_WEAK, init=False)
    best: str | None


@dataclass(frozen=True)
class OtherNightsWorthMore(Absence):
    """All nights that the policy allows are used on other dates."""

    cause: Cause = field(default=Cause.OTHER_NIGHTS_WORTH_MORE, init=False)
    maximum_nights: int


@dataclass(frozen=True)
class OnlyWorthItsCost(Absence):
    """What it could add is worth no more than a night costs."""

    cause: Cause = field(default=Cause.ONLY_WORTH_ITS_COST, init=False)
    night_cost: float
