"""What a station and a season are: frozen dataclasses, checked on the way in, after the YAML contract in DEVELOPERS.md.

Every number carries its unit in its name; every optional key has its default here or in `data/bands.yaml`.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import field
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
from pydantic import ConfigDict, Field
from pydantic.dataclasses import dataclass

from pipeline.inputs.modes import Mode

CONFIG = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True, arbitrary_types_allowed=True)

Latitude = Annotated[float, Field(ge=-90, le=90)]
Longitude = Annotated[float, Field(ge=-180, le=180)]
# Lowest shore and highest road on Earth, with room to spare; feet or millimetres by mistake fall outside.
Height = Annotated[float, Field(ge=-450, le=6500)]
Azimuth = Annotated[float, Field(ge=0, le=360)]
Elevation = Annotated[float, Field(ge=-10, le=90)]
Text = Annotated[str, Field(min_length=1, max_length=200)]
Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
WEEKDAYS: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(config=CONFIG)
class Position:
    """A place on WGS84. `locator` is kept where the place came from one: then it is known to half a cell only."""

    latitude_deg: Latitude
    longitude_deg: Longitude
    height_m: Height = 0.0
    locator: str | None = None
    uncertainty_km: float = 0.0


@dataclass(config=CONFIG)
class HorizonPoint:
    """One surveyed point of the skyline; elevation is the apparent one, as seen from the dish."""

    azimuth_deg: Azimuth
    elevation_deg: Elevation


@dataclass(config=CONFIG)
class Mount:
    """What the mount can reach. The azimuth range runs clockwise from `azimuth_from_deg` to `azimuth_to_deg`."""

    maximum_elevation_deg: Annotated[float, Field(gt=0, le=180)] = 90.0
    azimuth_from_deg: Azimuth | None = None
    azimuth_to_deg: Azimuth | None = None
    inclinometer_offset_deg: Annotated[float, Field(ge=-90, le=90)] = 0.0
    dial_resolution_deg: Annotated[float, Field(gt=0, le=10)] = 0.1


@dataclass(config=CONFIG)
class Hours:
    """A stretch of local time on some weekdays; `until` at or before `start` means the morning after.

    Midnight at the end of a day (24:00) is `until` 00:00, so that 00:00 to 24:00 has both at 00:00.
    """

    days: tuple[Weekday, ...]
    start: dt.time
    until: dt.time


@dataclass(config=CONFIG)
class DateRange:
    """Local dates, both ends included."""

    first: dt.date
    last: dt.date

    def __contains__(self, date: dt.date) -> bool:
        return self.first <= date <= self.last


@dataclass(config=CONFIG)
class Landmark:
    """Something to sight on: a place, or a bearing taken before."""

    name: Text
    latitude_deg: Latitude | None = None
    longitude_deg: Longitude | None = None
    height_m: Height | None = None
    azimuth_deg: Azimuth | None = None


@dataclass(config=CONFIG)
class Battery:
    """What feeds the station in the field."""

    voltage_v: Annotated[float, Field(gt=0, le=1000)]
    capacity_ah: Annotated[float, Field(gt=0, le=10000)]
    usable_fraction: Annotated[float, Field(gt=0, le=1)] = 0.8
    receive_a: Annotated[float, Field(ge=0, le=500)] = 0.0
    transmit_a: Annotated[float, Field(ge=0, le=500)] = 0.0
    other_a: Annotated[float, Field(ge=0, le=500)] = 0.0


@dataclass(config=CONFIG)
class Antenna:
    """A dish by its diameter and efficiency, or any antenna by its gain (and beamwidth)."""

    dish_diameter_m: Annotated[float, Field(gt=0.05, le=100)] | None = None
    aperture_efficiency: Annotated[float, Field(gt=0.05, le=1)] = 0.55
    gain_dbi: Annotated[float, Field(ge=0, le=80)] | None = None
    beamwidth_deg: Annotated[float, Field(gt=0, le=90)] | None = None


@dataclass(config=CONFIG)
class BandEquipment:
    """What a station has on one band. Absent figures come from `data/bands.yaml` and are marked as assumed."""

    antenna: Antenna
    power_w: Annotated[float, Field(gt=0, le=5000)]
    noise_figure_db: Annotated[float, Field(ge=0, le=20)]
    loss_before_preamplifier_db: Annotated[float, Field(ge=0, le=10)]
    spillover_fraction: Annotated[float, Field(ge=0, le=0.5)]
    polarization: Literal["horizontal", "vertical", "rotatable", "circular"]
    pointing_error_deg: Annotated[float, Field(ge=0, le=10)]
    frequency_accuracy_hz: Annotated[float, Field(ge=0, le=1e6)]
    modes: tuple[str, ...]
    ground_gain_db: Annotated[float, Field(ge=0, le=6)] = 0.0
    frequency_mhz: Annotated[float, Field(gt=0)] | None = None


@dataclass(config=CONFIG)
class Station:
    """A place with a call sign, a horizon and equipment per band. `assumed` names the dotted keys that are defaults."""

    call: str
    position: Position
    name: Text | None = None
    operator: Text | None = None
    email: str | None = None
    time_zone: str | None = None
    minimum_elevation_deg: Annotated[float, Field(ge=0, lt=90)] = 0.0
    horizon: tuple[HorizonPoint, ...] = ()
    mount: Mount = field(default_factory=Mount)
    available: tuple[Hours, ...] | Literal["always"] | None = None
    unavailable_dates: tuple[DateRange, ...] = ()
    landmarks: tuple[Landmark, ...] = ()
    battery: Battery | None = None
    checklist: tuple[Text, ...] = ()
    bands: dict[str, BandEquipment] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()
    file: str = ""

    @property
    def title(self) -> str:
        """The site's name, or its locator, or its coordinates: what stands beside the call."""
        place = self.position
        return self.name or place.locator or f"{place.latitude_deg:.2f}°, {place.longitude_deg:.2f}°"

    @property
    def zone(self) -> ZoneInfo | None:
        """Its time zone; None where nobody knows it."""
        return ZoneInfo(self.time_zone) if self.time_zone else None


@dataclass(config=CONFIG)
class Partner:
    """One line of the season's `partners`."""

    call: str
    contacts_wanted: Annotated[int, Field(ge=0, le=20)] = 1
    priority: Annotated[float, Field(gt=0, le=100)] = 1.0
    band: str | None = None


@dataclass(config=CONFIG)
class Operator:
    """Someone who uses the shared dish in turn."""

    call: str
    name: Text | None = None


@dataclass(config=CONFIG)
class OutcomeThresholds:
    """Least chance for each outcome word."""

    strong: Annotated[float, Field(gt=0, le=1)] = 0.9
    workable: Annotated[float, Field(gt=0, le=1)] = 0.6
    marginal: Annotated[float, Field(gt=0, le=1)] = 0.25

    @property
    def limits(self) -> tuple[float, float, float]:
        """All three, the highest first."""
        return self.strong, self.workable, self.marginal


@dataclass(config=CONFIG)
class SetupMinutes:
    """How long the crew needs before the first slot."""

    arrive: Annotated[float, Field(ge=0, le=1440)] = 120
    align: Annotated[float, Field(ge=0, le=1440)] = 45
    check: Annotated[float, Field(ge=0, le=1440)] = 30


@dataclass(config=CONFIG)
class SolarFlux:
    """Solar activity as a number: the 10.7 cm flux in solar flux units."""

    flux_10_7_cm: Annotated[float, Field(ge=60, le=400)]


@dataclass(config=CONFIG)
class Policy:
    """How the season is judged."""

    refraction: bool = True
    atmosphere: Literal["seasonal", "standard"] = "seasonal"
    step_minutes: Annotated[int, Field(ge=1, le=60)] = 5
    slot_minutes: Annotated[int, Field(ge=5, le=240)] = 60
    gap_minutes: Annotated[int, Field(ge=0, le=240)] = 15
    maximum_slots_per_night: Annotated[int, Field(ge=1, le=20)] = 3
    maximum_nights: Annotated[int, Field(ge=1, le=31)] = 6
    night_cost: Annotated[float, Field(ge=0, le=20)] = 0.3
    hour_cost: Annotated[float, Field(ge=0, le=20)] = 0.01
    setup_within_hours: bool = False
    nights: tuple[Weekday, ...] = WEEKDAYS
    latest_hour_on_work_nights: dt.time | None = None
    minimum_sun_separation_deg: Annotated[float, Field(ge=0, le=90)] = 5.0
    solar_activity: Literal["quiet", "average", "active"] | SolarFlux = "average"
    outcome_thresholds: OutcomeThresholds = field(default_factory=OutcomeThresholds)
    setup_minutes: SetupMinutes = field(default_factory=SetupMinutes)
    first_to_transmit: Literal["home", "partner", "eastern"] = "partner"
    dialing: Literal["each-follows-what-it-hears", "home-follows-for-both", "meet-at-the-moon"] = (
        "each-follows-what-it-hears"
    )


@dataclass(config=CONFIG)
class Report:
    """Paper of the pages."""

    paper: Literal["A4", "letter"] = "A4"


@dataclass(config=CONFIG)
class Sender:
    """Who signs the letters."""

    name: Text
    email: str


@dataclass(config=CONFIG)
class Letters:
    """Words of the season's letters."""

    sender: Sender | None = None
    greeting: Text = "Dear {operator}"
    closing: Text = "Good echoes"
    reply_by: dt.date | None = None
    meet: Text = "chat room or telephone, as you agree"


@dataclass(config=CONFIG)
class Ephemeris:
    """Another JPL kernel than the one installed."""

    file: str | None = None


@dataclass(config=CONFIG)
class Season:
    """The file that names home, partners, months, band and policy."""

    home: str
    band: str
    title: Text | None = None
    frequency_mhz: Annotated[float, Field(gt=0)] | None = None
    months: tuple[str, ...] = ()
    dates: DateRange | None = None
    partners: tuple[Partner, ...] | None = None
    operators: tuple[Operator, ...] = ()
    policy: Policy = field(default_factory=Policy)
    report: Report = field(default_factory=Report)
    letters: Letters = field(default_factory=Letters)
    ephemeris: Ephemeris = field(default_factory=Ephemeris)
    assumed: tuple[str, ...] = ()
    file: str = ""


@dataclass(config=CONFIG)
class SeasonFiles:
    """The season, home, the partners in the season's order, and what they were read from."""

    season: Season
    home: Station
    partners: tuple[Station, ...]
    wishes: tuple[Partner, ...]
    files: dict[str, str]
    modes: tuple[Mode, ...] = ()
    warnings: tuple[str, ...] = ()
    # Stations of the folder that the season's list of partners leaves out; nothing depends on them.
    left_out: tuple[str, ...] = ()

    @property
    def zone(self) -> ZoneInfo:
        """Home's time zone; UTC where its file names none."""
        return self.home.zone or ZoneInfo("UTC")

    @property
    def bands(self) -> tuple[str, ...]:
        """The band on which each partner is planned: its own wish, else the season's."""
        return tuple(wish.band or self.season.band for wish in self.wishes)

    def place_of(self, call: str) -> int:
        """Where a partner stands among the season's. Raises ValueError where it is none of them."""
        return [station.call for station in self.partners].index(call)

    def partner(self, call: str) -> Station:
        """A partner's station. Raises ValueError where it is none of the season's."""
        return self.partners[self.place_of(call)]

    @property
    def digest(self) -> str:
        """SHA-256 over the names and hashes of all input files, in sorted order."""
        import hashlib

        text = "\n".join(f"{name} {digest}" for name, digest in sorted(self.files.items()))
        return hashlib.sha256(text.encode()).hexdigest()


def mask_arrays(station: Station) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """The horizon as (azimuth_deg, elevation_deg), each (n,), sorted; one point at zero where none was surveyed."""
    if not station.horizon:
        return np.zeros(1), np.zeros(1)
    points = sorted((point.azimuth_deg % 360.0, point.elevation_deg) for point in station.horizon)
    array = np.array(points, dtype=float)
    return array[:, 0], array[:, 1]
