"""What looks like a slip of the pen in a station or a season, as values with the figures that are most likely meant."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from pipeline.explain.oddities import Odd, Oddity, Unusual
from pipeline.inputs.horizon import HorizonPoint


@dataclass(frozen=True)
class Slip(Oddity):
    """What is most likely a slip, with the figures, words or dates that are most likely meant."""


@dataclass(frozen=True)
class UnusualGroup(Slip):
    """Figures of one group that are all usual in one other unit."""

    kind: Odd = field(default=Odd.UNUSUAL_GROUP, init=False)
    key: str
    figures: tuple[Unusual, ...]


@dataclass(frozen=True)
class Exchanged(Slip):
    """Two keys whose figures stand in the order that is never met; exchanged, both are usual."""

    kind: Odd = field(default=Odd.EXCHANGED, init=False)
    key: str
    other_key: str
    value: float
    other_value: float


@dataclass(frozen=True)
class ZenithAngles(Slip):
    """A skyline, or a least elevation, so high that it is most likely counted from the zenith."""

    kind: Odd = field(default=Odd.ZENITH_ANGLES, init=False)
    key: str
    points: tuple[HorizonPoint, ...]
    value: float = 0.0


@dataclass(frozen=True)
class LandmarkDigits(Slip):
    """A landmark farther than one sights, and the coordinate with which it is near: of another order of its digits."""

    kind: Odd = field(default=Odd.LANDMARK_DIGITS, init=False)
    key: str
    name: str
    axes: tuple[tuple[str, float, float], ...]
    distance_km: float
    meant_km: float


@dataclass(frozen=True)
class Copied(Slip):
    """Keys of a station that are the very same as another station's."""

    kind: Odd = field(default=Odd.COPIED, init=False)
    keys: tuple[str, ...]
    other: str
    file: str


@dataclass(frozen=True)
class OddFrequency(Slip):
    """A frequency where nobody looks for contacts by the Moon, where they do, and what may be meant."""

    kind: Odd = field(default=Odd.FREQUENCY, init=False)
    key: str
    value: float
    usual: tuple[tuple[float, float], ...]
    meant: float | None


@dataclass(frozen=True)
class YearLeft(Slip):
    """Dates that miss the season by whole years, as written, and those of the season's year: first and last days."""

    kind: Odd = field(default=Odd.YEAR_LEFT, init=False)
    key: str
    dates: tuple[tuple[dt.date, dt.date], ...]
    meant: tuple[tuple[dt.date, dt.date], ...]


@dataclass(frozen=True)
class SeasonOver(Slip):
    """Months of a season that are over while dates of its files are of a later year, and the same of that year."""

    kind: Odd = field(default=Odd.SEASON_OVER, init=False)
    months: tuple[str, ...]
    meant: tuple[str, ...]
    key: str = "months"


@dataclass(frozen=True)
class CalendarOver(Slip):
    """A calendar of a person whose last entry is long before the season."""

    kind: Odd = field(default=Odd.CALENDAR_OVER, init=False)
    name: str
    last: dt.date
    key: str = "busy"


@dataclass(frozen=True)
class NightsOfNobody(Slip):
    """The nights of the week that a season takes, and those of home's hours: none is both."""

    kind: Odd = field(default=Odd.NIGHTS_OF_NOBODY, init=False)
    nights: tuple[str, ...]
    days: tuple[str, ...]
    file: str
    key: str = "policy.nights"


@dataclass(frozen=True)
class AzimuthsInTens(Slip):
    """A skyline that goes round by 36, as azimuths in tens of degrees do."""

    kind: Odd = field(default=Odd.AZIMUTHS_IN_TENS, init=False)
    azimuths: tuple[float, ...]
    key: str = "horizon"


# The keys that an oddity without a key of its own is about.
KEYS = {
    Odd.SKYLINE_HIGH: "horizon",
    Odd.SKYLINE_DEEP: "horizon",
    Odd.MINIMUM_ELEVATION_HIGH: "minimum_elevation_deg",
    Odd.MOUNT_NARROW: "mount.azimuth_from_deg",
    Odd.LOCATOR_COARSE: "position.locator",
    Odd.HEIGHT_GREAT: "position.height_m",
    Odd.LANDMARK_AT_DISH: "landmarks",
    Odd.LANDMARK_OUT_OF_SIGHT: "landmarks",
    Odd.LATITUDE_SIGN: "position.latitude_deg",
    Odd.LONGITUDE_SIGN: "position.longitude_deg",
    Odd.BOTH_SIGNS: "position",
    Odd.SWAPPED: "position",
    Odd.FAR_FROM_ZONE: "time_zone",
    Odd.ZONE_WITHOUT_SUMMER: "time_zone",
    Odd.CLOCK_NOT_OF_PLACE: "time_zone",
    Odd.PLACE_OF_HOME: "position",
    Odd.ANSWERS_LATE: "letters.reply_by",
    Odd.NOTHING_WANTED: "partners",
    Odd.LATEST_BY_DAY: "policy.latest_hour_on_work_nights",
    Odd.BAND_OF_NOBODY: "band",
    Odd.HOURS_TURNED: "available",
}


# The same below a band.
BAND_KEYS = {
    Odd.EFFICIENCY_HIGH: "antenna.aperture_efficiency",
    Odd.GAIN_AGAINST_BEAMWIDTH: "antenna.beamwidth_deg",
    Odd.GAIN_BELOW_BEAMWIDTH: "antenna.beamwidth_deg",
    Odd.GAIN_LARGE: "antenna.gain_dbi",
    Odd.GAIN_SMALL: "antenna",
    Odd.DISH_LARGE: "antenna.dish_diameter_m",
    Odd.POINTING_BEYOND_BEAM: "pointing_error_deg",
    Odd.POWER_GREAT: "power_w",
    Odd.POWER_SMALL: "power_w",
    Odd.RECEIVER_NOISELESS: "noise_figure_db",
    Odd.NOISE_FIGURE_HIGH: "noise_figure_db",
    Odd.MODES_UNKNOWN: "modes",
}


def key_of(odd: Oddity, band: str = "") -> str:
    """The dotted key that an oddity is about; empty where it is about none alone."""
    if isinstance(odd, Copied):
        return odd.keys[0]
    if band and odd.kind in BAND_KEYS:
        return f"bands.{band}.{BAND_KEYS[odd.kind]}"
    return str(getattr(odd, "key", "")) or KEYS.get(odd.kind, "")
