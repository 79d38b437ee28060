"""What is odd in a station file, as values: the kind, the figure of the file and what would be usual.

An oddity without figures is a plain `Oddity`; each other has its own class. Sentences are made of these in `wording`.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from enum import Enum, auto

from pipeline.inputs.horizon import HorizonPoint, Terrain


class Odd(Enum):
    """What an experienced operator would raise an eyebrow at."""

    EFFICIENCY_HIGH = auto()
    EFFICIENCY_LOW = auto()
    DISH_SMALL = auto()
    GAIN_AGAINST_BEAMWIDTH = auto()
    BEAM_INSIDE_MOON = auto()
    POINTING_BEYOND_BEAM = auto()
    POINTING_COSTS = auto()
    POINTING_NEVER_ERRS = auto()
    POWER_GREAT = auto()
    POWER_BEYOND_BATTERY = auto()
    RECEIVER_NOISELESS = auto()
    NOISE_FIGURE_LOW = auto()
    NOISE_FIGURE_HIGH = auto()
    LOSS_AHEAD_HIGH = auto()
    SPILLOVER_NONE = auto()
    SPILLOVER_HIGH = auto()
    GROUND_GAIN_UNUSED = auto()
    OUTSIDE_PASSBAND = auto()
    OUTSIDE_DECODER_SEARCH = auto()
    MODES_UNKNOWN = auto()
    CIRCULAR_AMONG_LINEAR = auto()
    LINEAR_AMONG_CIRCULAR = auto()
    SKYLINE_HIGH = auto()
    SKYLINE_DEEP = auto()
    MINIMUM_ELEVATION_HIGH = auto()
    MOUNT_LOW = auto()
    MOUNT_NARROW = auto()
    PLACE_FROM_LOCATOR = auto()
    SKYLINE_BY_TERRAIN = auto()
    HEIGHT_AGAINST_TERRAIN = auto()
    LOCATOR_COARSE = auto()
    POWER_SMALL = auto()
    DISH_LARGE = auto()
    GAIN_LARGE = auto()
    GAIN_SMALL = auto()
    GAIN_BELOW_BEAMWIDTH = auto()
    HEIGHT_GREAT = auto()
    TEMPLATE_LEFT = auto()
    LANDMARK_AT_DISH = auto()
    LANDMARK_OUT_OF_SIGHT = auto()
    LATITUDE_SIGN = auto()
    LONGITUDE_SIGN = auto()
    BOTH_SIGNS = auto()
    SWAPPED = auto()
    FAR_FROM_ZONE = auto()
    ZONE_WITHOUT_SUMMER = auto()
    CLOCK_NOT_OF_PLACE = auto()
    PLACE_OF_HOME = auto()
    ANSWERS_LATE = auto()
    NOTHING_WANTED = auto()
    LATEST_BY_DAY = auto()
    BAND_OF_NOBODY = auto()
    UNUSUAL = auto()
    HOURS_TURNED = auto()
    UNUSUAL_GROUP = auto()
    EXCHANGED = auto()
    ZENITH_ANGLES = auto()
    LANDMARK_DIGITS = auto()
    COPIED = auto()
    FREQUENCY = auto()
    YEAR_LEFT = auto()
    SEASON_OVER = auto()
    CALENDAR_OVER = auto()
    NIGHTS_OF_NOBODY = auto()
    AZIMUTHS_IN_TENS = auto()


# What is most likely a slip of the pen: told by every command that plans, not by `check` alone.
SLIPS = frozenset(
    {
        Odd.EFFICIENCY_HIGH,
        Odd.GAIN_AGAINST_BEAMWIDTH,
        Odd.POINTING_BEYOND_BEAM,
        Odd.POWER_GREAT,
        Odd.RECEIVER_NOISELESS,
        Odd.NOISE_FIGURE_HIGH,
        Odd.SKYLINE_HIGH,
        Odd.SKYLINE_DEEP,
        Odd.MINIMUM_ELEVATION_HIGH,
        Odd.MOUNT_NARROW,
        Odd.MODES_UNKNOWN,
        *list(Odd)[list(Odd).index(Odd.LOCATOR_COARSE) :],
    }
)


@dataclass(frozen=True)
class Oddity:
    """Something odd in a station file."""

    kind: Odd


@dataclass(frozen=True)
class OddFigure(Oddity):
    """One figure of the file, in the unit of its key, that is odd by itself; in which unit it is usual, and as what."""

    value: float
    unit: str = ""
    meant: float | None = None


@dataclass(frozen=True)
class BeyondUsual(Oddity):
    """One figure of the file, the limit in the same unit that it is past, and in which unit it is usual, as what."""

    value: float
    limit: float
    unit: str = ""
    meant: float | None = None


# Antenna


@dataclass(frozen=True)
class GainAgainstBeamwidth(Oddity):
    """A gain that no beam so wide can have, the most that it could have, and the width that goes with the gain."""

    kind: Odd = field(default=Odd.GAIN_AGAINST_BEAMWIDTH, init=False)
    gain_dbi: float
    beamwidth_deg: float
    most_dbi: float
    usual_deg: float


@dataclass(frozen=True)
class GainBelowBeamwidth(Oddity):
    """A gain far below that of a beam so narrow, and the gain that this could have."""

    kind: Odd = field(default=Odd.GAIN_BELOW_BEAMWIDTH, init=False)
    gain_dbi: float
    beamwidth_deg: float
    most_dbi: float


@dataclass(frozen=True)
class BeamInsideMoon(Oddity):
    """A beam narrower than the Moon, and what own echoes lose by it."""

    kind: Odd = field(default=Odd.BEAM_INSIDE_MOON, init=False)
    beamwidth_deg: float
    echo_loss_db: float


@dataclass(frozen=True)
class PointingError(Oddity):
    """An error that is large for the beam, its loss each way, and the error up to which the loss is usual."""

    error_deg: float
    beamwidth_deg: float
    loss_db: float
    usual_deg: float
    meant: float | None = None


# Power


@dataclass(frozen=True)
class PowerGreat(Oddity):
    """More power than is seldom exceeded at a feed on this frequency."""

    kind: Odd = field(default=Odd.POWER_GREAT, init=False)
    power_w: float
    frequency_mhz: float
    seldom_w: float


@dataclass(frozen=True)
class PowerBeyondBattery(Oddity):
    """Power at the feed, and what the battery gives for it while sending."""

    kind: Odd = field(default=Odd.POWER_BEYOND_BATTERY, init=False)
    power_w: float
    drawn_w: float


# Operating


@dataclass(frozen=True)
class GroundGainUnused(Oddity):
    """A ground gain on a band that has none, and the bands that do."""

    kind: Odd = field(default=Odd.GROUND_GAIN_UNUSED, init=False)
    value: float
    bands: tuple[str, ...]


@dataclass(frozen=True)
class ModesUnknown(Oddity):
    """Modes that the mode table does not have."""

    kind: Odd = field(default=Odd.MODES_UNKNOWN, init=False)
    modes: tuple[str, ...]


@dataclass(frozen=True)
class LinearAmongCircular(Oddity):
    """The linear polarization that is told of a band where most have circular."""

    kind: Odd = field(default=Odd.LINEAR_AMONG_CIRCULAR, init=False)
    polarization: str


# Site


@dataclass(frozen=True)
class SkylineHigh(Oddity):
    """Points of the horizon above a limit; `tenths`: all of them, where they may be tenths of a degree."""

    kind: Odd = field(default=Odd.SKYLINE_HIGH, init=False)
    points: tuple[HorizonPoint, ...]
    limit_deg: float
    tenths: tuple[HorizonPoint, ...] = ()


@dataclass(frozen=True)
class PlaceFromLocator(Oddity):
    """A place that is known by its locator alone, and how well."""

    locator: str
    uncertainty_km: float


@dataclass(frozen=True)
class TemplateLeft(Oddity):
    """Keys that still hold what the laid-out example holds."""

    kind: Odd = field(default=Odd.TEMPLATE_LEFT, init=False)
    keys: tuple[str, ...]


@dataclass(frozen=True)
class MountNarrow(Oddity):
    """The ends of a mount's azimuths, and how few degrees lie between them, clockwise."""

    kind: Odd = field(default=Odd.MOUNT_NARROW, init=False)
    from_deg: float
    to_deg: float
    width_deg: float


@dataclass(frozen=True)
class LandmarkOdd(Oddity):
    """A landmark at the dish, or beyond what can be seen: its distance, and how far one sees."""

    name: str
    distance_km: float
    sight_km: float


@dataclass(frozen=True)
class PlaceAgainstZone(Oddity):
    """A place far from its time zone's city, and the place nearby that the same figures give otherwise written.

    `better` is the zone of the place as it stands, where no other writing comes near the city.
    """

    zone: str
    locator: str
    away_km: float
    latitude_deg: float
    longitude_deg: float
    better: str = ""
    exchanged: str = ""


@dataclass(frozen=True)
class ClockNotOfPlace(Oddity):
    """A time zone whose clock is none that the place may have, and the zone of the place.

    `exchanged`: the key and value that lies in the time zone with two of its characters exchanged.
    """

    kind: Odd = field(default=Odd.CLOCK_NOT_OF_PLACE, init=False)
    zone: str
    better: str
    exchanged: str = ""


@dataclass(frozen=True)
class ZoneWithoutSummer(Oddity):
    """A time zone that is an offset, how many hours it stands ahead of UTC, and the zone of the place.

    `ahead_h` is None where it is an old name for the clock of several countries, which has summer time.
    """

    kind: Odd = field(default=Odd.ZONE_WITHOUT_SUMMER, init=False)
    zone: str
    ahead_h: float | None
    better: str


# Season


@dataclass(frozen=True)
class AnswersLate(Oddity):
    """Answers that are due when so many of the nights, and of how many, are over; and the same day before them all."""

    kind: Odd = field(default=Odd.ANSWERS_LATE, init=False)
    due: dt.date
    over: int
    nights: int
    early: dt.date


@dataclass(frozen=True)
class Unusual(Oddity):
    """A key's figure outside what is usual for it, and the figure that may be meant; `unit`: where it was another's."""

    kind: Odd = field(default=Odd.UNUSUAL, init=False)
    key: str
    value: float
    low: float
    high: float
    meant: float | None
    unit: str = ""


@dataclass(frozen=True)
class HoursTurned(Oddity):
    """Hours that last until far into the next day: begin and end exchanged, or the end that a clock of twelve shows."""

    kind: Odd = field(default=Odd.HOURS_TURNED, init=False)
    begin: dt.time
    end: dt.time
    key: str = "available"
    evening: dt.time | None = None


@dataclass(frozen=True)
class NothingWanted(Oddity):
    """Partners of whom no contact is wanted."""

    kind: Odd = field(default=Odd.NOTHING_WANTED, init=False)
    calls: tuple[str, ...]


@dataclass(frozen=True)
class LatestByDay(Oddity):
    """An hour that ends the evenings before work and falls in the day, and the same by a clock of twelve hours."""

    kind: Odd = field(default=Odd.LATEST_BY_DAY, init=False)
    hour: dt.time
    meant: dt.time


@dataclass(frozen=True)
class BandOfNobody(Oddity):
    """A band that is planned and of which home's file says nothing, and the bands that it has."""

    kind: Odd = field(default=Odd.BAND_OF_NOBODY, init=False)
    band: str
    file: str
    bands: tuple[str, ...]


@dataclass(frozen=True)
class SkylineByTerrain(Oddity):
    """A skyline from elevation tiles: nobody has looked at it."""

    kind: Odd = field(default=Odd.SKYLINE_BY_TERRAIN, init=False)
    terrain: Terrain


@dataclass(frozen=True)
class HeightAgainstTerrain(Oddity):
    """The height that a file states, and the ground that the tiles have there, m."""

    kind: Odd = field(default=Odd.HEIGHT_AGAINST_TERRAIN, init=False)
    height_m: float
    ground_m: float
