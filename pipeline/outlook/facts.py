"""A fact that speaks for or against a night or a weekend: its kind and its figures; `wording` makes it a sentence.

The limits that nights and weekends share stand here; they are judgement, but for the Moon's distance.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from enum import Enum, auto

# Perigees lie at 356,400 to 370,400 km, apogees at 404,000 to 406,700 (Meeus, Astronomical Algorithms, chapter 50).
NEAR_PERIGEE_KM = 370_400.0
NEAR_APOGEE_KM = 402_000.0
NEAR_SUN_DEG = 12.0
# A part is worth naming beside the distance where it stands out from the span's mean.
NOTABLE_DB = 0.3
STANDS_OUT_DB = 0.2
# The parts of `link.noise.DEGRADATION_PARTS` that are told; the distance has its own fact.
NOISE_PARTS = ("sky", "moon", "sun", "ground", "air")


class FactKind(Enum):
    """What a fact tells; behind each kind the figures that it fills beside its weight."""

    HOME_AWAY = auto()  # nights
    NOT_YOUR_NIGHT = auto()  # nights
    SUN_NEAR = auto()  # angle_deg, limit_deg; nights: the last one of those near the Sun, or the weekend's nearest
    SUN_INSIDE_LIMIT = auto()  # the same, nearer than the policy allows
    NOBODY_IN_REACH = auto()
    NOBODY_FREE = auto()  # partners: those who could be worked at other hours
    NOBODY_STRONG_ENOUGH = auto()  # partners: those with a window
    CAN_BE_MET = auto()  # calls, of_partners
    ONLY_NOW = auto()  # calls
    HOURS_LOST = auto()  # partners: those who could be worked, but outside the hours of one end
    BEST_CHANCE = auto()  # calls: one; chance here and on the next best night
    NEAR_PERIGEE = auto()  # distance_km, loss_db or declinations_deg
    NEAR_APOGEE = auto()  # the same
    MOON_DISTANCE = auto()  # the same
    DECLINATION = auto()  # angle_deg
    NOISE = auto()  # part, loss_db
    POLARIZATION_LOSS = auto()  # calls: one; loss_db
    SPREAD_LOSS = auto()  # the same
    LOW_MOON = auto()  # calls: one; angle_deg


@dataclass(frozen=True)
class Fact:
    """One fact; what its kind does not fill stays empty. The greater weight is told first.

    `calls` are partners, so many of `of_partners`; `best_night` and `moon_up` (rise and set, the night's edges where it
    stays up, UTC) go with a weekend's partners. `loss_db` is what it costs, or how much worse than the best case it is.
    `part` is one of NOISE_PARTS.
    """

    kind: FactKind
    weight: int = 0
    calls: tuple[str, ...] = ()
    partners: int = 0
    of_partners: int = 0
    nights: tuple[dt.date, ...] = ()
    best_night: dt.date | None = None
    moon_up: tuple[dt.datetime, dt.datetime] | None = None
    angle_deg: float = math.nan
    limit_deg: float = math.nan
    declinations_deg: tuple[float, float] = (math.nan, math.nan)
    distance_km: float = math.nan
    loss_db: float = math.nan
    chance: float = math.nan
    next_chance: float = math.nan
    part: str = ""


def moon_kind(nearest_km: float, farthest_km: float) -> FactKind:
    """Whether distances from the nearest to the farthest come near perigee, else near apogee, else near neither."""
    if nearest_km < NEAR_PERIGEE_KM:
        return FactKind.NEAR_PERIGEE
    return FactKind.NEAR_APOGEE if farthest_km > NEAR_APOGEE_KM else FactKind.MOON_DISTANCE
