"""What is to be said of an explanation or a check, as values: its headline, notes of its sections, why there is none.

Figures as the link and the windows give them. Sentences are made of these in `wording`.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import Enum, auto


class Remark(Enum):
    """A note without figures."""

    NO_LINK = auto()
    NOISE_LETTERS = auto()
    CORRECTIONS_APART = auto()


# Headlines


@dataclass(frozen=True)
class Way:
    """One way of a link: who hears whom, how well (2500 Hz) and with what margin; None without a mode."""

    receiver: str
    sender: str
    snr_db: float
    margin_db: float | None


@dataclass(frozen=True)
class LinkHeadline:
    """Both ways, the title of the mode, None where none is shared, and the degradation."""

    ways: tuple[Way, ...]
    mode: str | None
    degradation_db: float


@dataclass(frozen=True)
class MoonBehind:
    """The skyline hides the Moon: call and degrees behind it of each end concerned."""

    ends: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class MoonDown:
    """The Moon is down: call and degrees below the level horizon of each end concerned."""

    ends: tuple[tuple[str, float], ...]


Headline = LinkHeadline | MoonBehind | MoonDown


# Notes of sections


@dataclass(frozen=True)
class InWindow:
    """The mutual window that holds the instant, and the rules that bound it."""

    start: dt.datetime
    end: dt.datetime
    opens_by: str
    closes_by: str


@dataclass(frozen=True)
class Missed:
    """A rule of one end that the Moon does not meet, and by how much."""

    call: str
    rule: str
    degrees: float


@dataclass(frozen=True)
class OutsideWindows:
    """What keeps the instant out of a window, and when the next one opens: None where none does up to a night."""

    missed: tuple[Missed, ...]
    opens: dt.datetime | None
    last_night: dt.date


@dataclass(frozen=True)
class MeasuredNote:
    """How many readings are set aside, and how many of these had their source below the horizon."""

    aside: int
    down: int


@dataclass(frozen=True)
class BelowHorizon:
    """The Moon is below the horizon of a station."""

    call: str


class FeedRule(Enum):
    """What decides how the feeds should stand."""

    CIRCULAR = auto()
    FARADAY = auto()
    FIXED = auto()
    TURN = auto()
    LEAVE = auto()


@dataclass(frozen=True)
class FeedNote:
    """How the feeds should stand at an instant. `who` can turn: the calls."""

    rule: FeedRule
    who: tuple[str, ...]


@dataclass(frozen=True)
class ModesApart:
    """The ends share no mode: call and modes of each."""

    ends: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True)
class AboveBestCase:
    """By how much the noise of an end stands above that of its best case."""

    call: str
    rise_db: float
    best_k: float


@dataclass(frozen=True)
class BelowExposureLevels:
    """A frequency for which the levels of exposure are not made, and the lowest for which they are."""

    frequency_mhz: float
    lowest_mhz: float


Note = (
    Remark
    | InWindow
    | OutsideWindows
    | BelowHorizon
    | MeasuredNote
    | FeedNote
    | ModesApart
    | AboveBestCase
    | BelowExposureLevels
)


# Why there is nothing to explain


class Sought(Enum):
    """What a call was to name."""

    PARTNER = auto()
    STATION = auto()


@dataclass(frozen=True)
class UnknownCall:
    """A call that no file has; the nearest one, if any is near, and all there are."""

    call: str
    sought: Sought
    nearest: str | None
    known: tuple[str, ...]


@dataclass(frozen=True)
class HomeItself:
    """Home was named where a partner is meant."""

    call: str
    partners: tuple[str, ...]


@dataclass(frozen=True)
class BeyondEphemeris:
    """A year that no ephemeris reaches."""

    year: int


Obstacle = UnknownCall | HomeItself | BeyondEphemeris
