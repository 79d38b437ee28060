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
from pydantic import BeforeValidator, Discriminator, Field, Tag, model_validator
from pydantic.dataclasses import dataclass

from pipeline.inputs import kinds, rules
from pipeline.inputs.busy import BusyFile
from pipeline.inputs.free_days import is_holiday
from pipeline.inputs.horizon import Horizon as Horizon
from pipeline.inputs.horizon import HorizonPoint as HorizonPoint
from pipeline.inputs.horizon import Terrain
from pipeline.inputs.kinds import CONFIG, AnyCase, Keys, Many, Number, Text, Whole
from pipeline.inputs.languages import ENGLISH
from pipeline.inputs.lengths import AssumedSkyline, SlotMinutes
from pipeline.inputs.letter_keys import Letters
from pipeline.inputs.modes import Mode
from pipeline.inputs.place import MinimumElevation, Mount, Position, Site, TravelHours
from pipeline.inputs.scalars import WEEKDAYS


@dataclass(config=CONFIG)
class Hours(Keys):
    """A stretch of local time on some weekdays; `until` at or before `start` means the morning after.

    Midnight at the end of a day (24:00) is `until` 00:00, so that 00:00 to 24:00 has both at 00:00.
    """

    days: Annotated[Many[kinds.Weekday], Field(examples=["[fri, sat]"])]
    start: Annotated[kinds.Clock, Field(alias="from", examples=["18:00"])]
    until: Annotated[kinds.Clock, Field(alias="to", examples=["23:30"])]

    _whole = model_validator(mode="wrap")(rules.stretch)


Available = Annotated[
    Annotated[Many[Hours], Tag(kinds.GROUP)] | Annotated[Literal["always"], AnyCase, Tag(kinds.WORD)],
    Discriminator(kinds.word_or_group),
    BeforeValidator(rules.always_or_hours),
]


@dataclass(config=CONFIG)
class DateRange:
    """Local dates, both ends included."""

    first: dt.date
    last: dt.date

    _text = model_validator(mode="before")(rules.first_and_last)

    def __contains__(self, date: dt.date) -> bool:
        return self.first <= date <= self.last


@dataclass(config=CONFIG)
class Landmark(Keys):
    """Something to sight on: a place, or a bearing taken before."""

    name: Annotated[Text, Field(examples=["Basalt Tor"])]
    latitude_deg: kinds.Latitude | None = None
    longitude_deg: kinds.Longitude | None = None
    height_m: kinds.Height | None = None
    azimuth_deg: kinds.Azimuth | None = None

    _whole = model_validator(mode="after")(rules.whole_place)


@dataclass(config=CONFIG)
class Battery(Keys):
    """What feeds the station in the field."""

    voltage_v: Annotated[Number, Field(gt=0, le=1000, description="a voltage in volts", examples=["12.8"])]
    capacity_ah: Annotated[Number, Field(gt=0, le=10000, description="a capacity in ampere-hours", examples=["160"])]
    usable_fraction: Annotated[Number, Field(gt=0, le=1, description="a share, such as 0.8,")] = 0.8
    receive_a: kinds.Current = 0.0
    transmit_a: kinds.Current = 0.0
    other_a: kinds.Current = 0.0
    minimum_voltage_v: Annotated[Number, Field(gt=0, le=1000, description="a voltage in volts")] | None = None


@dataclass(config=CONFIG)
class Antenna(Keys):
    """A dish by its diameter and efficiency, or any antenna by its gain (and beamwidth)."""

    dish_diameter_m: Annotated[Number, Field(gt=0.05, le=100, description="a diameter in metres")] | None = None
    aperture_efficiency: Annotated[Number, Field(gt=0.05, le=1, description="a share, such as 0.55,")] = 0.55
    gain_dbi: kinds.Gain | None = None
    beamwidth_deg: kinds.Beamwidth | None = None

    _whole = model_validator(mode="wrap")(rules.dish_or_gain)


@dataclass(config=CONFIG)
class BandEquipment(Keys):
    """What a station has on one band. Absent figures come from `data/bands.yaml` and are marked as assumed."""

    antenna: Antenna
    power_w: Annotated[Number, Field(gt=0, le=5000, description="a power at the feed in watts")]
    noise_figure_db: Annotated[Number, Field(ge=0, le=20, description="a noise figure in decibels")]
    loss_before_preamplifier_db: Annotated[Number, Field(ge=0, le=10, description="a loss in decibels")]
    spillover_fraction: Annotated[Number, Field(ge=0, le=0.5, description="a share, such as 0.05,")]
    polarization: Annotated[Literal["horizontal", "vertical", "rotatable", "circular"], AnyCase]
    pointing_error_deg: Annotated[Number, Field(ge=0, le=10, description="a root mean square error in degrees")]
    frequency_accuracy_hz: Annotated[Number, Field(ge=0, le=1e6, description="an accuracy in hertz")]
    modes: Many[kinds.ModeName]
    ground_gain_db: Annotated[Number, Field(ge=0, le=6, description="a gain in decibels")] = 0.0
    band: Annotated[str, Field(alias=rules.BAND)] = ""
    frequency_mhz: kinds.Megahertz | None = None


# The reader's own notes of a file.
Assumed = Annotated[tuple[str, ...], Field(alias=kinds.UNWRITTEN + "assumed")]
File = Annotated[str, Field(alias=kinds.UNWRITTEN + "file")]
BusyFiles = Annotated[tuple[BusyFile, ...], Field(alias=kinds.UNWRITTEN + "busy_files")]


@dataclass(config=CONFIG)
class Station(Keys):
    """A place with a call sign, a horizon and equipment per band. `assumed` names the dotted keys that are defaults."""

    call: kinds.Call
    position: Annotated[Position, Field(examples=["{locator: GF25cl, height_m: 212}"])]
    name: Text | None = None
    operator: Text | None = None
    email: kinds.Mail | None = None
    telephone: Text | None = None
    meet: Text | None = None
    time_zone: kinds.Zone | None = None
    language: kinds.Language = ENGLISH
    minimum_elevation_deg: MinimumElevation = 0.0
    horizon: Horizon = ()
    mount: Mount = field(default_factory=Mount)
    hours_to_get_there: TravelHours = 0.0
    sites: tuple[Site, ...] = ()
    available: Available | None = None
    unavailable_dates: Many[DateRange] = ()
    busy: Many[Text] = ()
    holidays: kinds.Holidays | None = None
    landmarks: Many[Landmark] = ()
    battery: Battery | None = None
    checklist: Many[Text] = ()
    presence: kinds.Presence | None = None
    bands: Annotated[dict[kinds.BandKey, BandEquipment], BeforeValidator(rules.with_usual_figures)] = field(
        default_factory=dict
    )
    assumed: Assumed = ()
    file: File = ""
    terrain: Annotated[Terrain | None, Field(alias=kinds.UNWRITTEN + "terrain")] = None
    busy_files: BusyFiles = ()

    @property
    def title(self) -> str:
        """The site's name, or its locator, or its coordinates: what stands beside the call."""
        place = self.position
        return self.name or place.locator or f"{place.latitude_deg:.2f}°, {place.longitude_deg:.2f}°"

    @property
    def zone(self) -> ZoneInfo | None:
        """Its time zone; None where nobody knows it."""
        return ZoneInfo(self.time_zone) if self.time_zone else None

    def is_away(self, date: dt.date) -> bool:
        """Whether the date is among its `unavailable_dates`."""
        return any(date in stretch for stretch in self.unavailable_dates)

    def is_holiday(self, date: dt.date) -> bool:
        """Whether the date is a public holiday by its `holidays`."""
        return is_holiday(self.holidays, date)


@dataclass(config=CONFIG)
class Partner(Keys):
    """One line of the season's `partners`."""

    call: kinds.Call
    contacts_wanted: Annotated[Whole, Field(ge=0, le=20, description="a number of contacts")] = 1
    priority: Annotated[Number, Field(gt=0, le=100, description="a weight, 1 being usual,")] = 1.0
    band: kinds.BandName | None = None

    _alone = model_validator(mode="before")(rules.call_alone)


@dataclass(config=CONFIG)
class Operator(Keys):
    """Someone who uses the shared dish in turn."""

    call: kinds.Call
    name: Text | None = None
    busy: Many[Text] = ()
    busy_files: BusyFiles = ()

    _alone = model_validator(mode="before")(rules.call_alone)


@dataclass(config=CONFIG)
class OutcomeThresholds(Keys):
    """Least chance for each outcome word."""

    strong: kinds.Chance = 0.9
    workable: kinds.Chance = 0.6
    marginal: kinds.Chance = 0.25

    _falling = model_validator(mode="after")(rules.falling)

    @property
    def limits(self) -> tuple[float, float, float]:
        """All three, the highest first."""
        return self.strong, self.workable, self.marginal


@dataclass(config=CONFIG)
class SetupMinutes(Keys):
    """How long the crew needs before the first slot."""

    arrive: kinds.Minutes = 120
    align: kinds.Minutes = 45
    check: kinds.Minutes = 30


@dataclass(config=CONFIG)
class SolarFlux(Keys):
    """Solar activity as a number: the 10.7 cm flux in solar flux units."""

    flux_10_7_cm: Annotated[
        Number, Field(ge=60, le=400, description="the Sun's 10.7 cm flux in solar flux units", examples=["140"])
    ]


SolarActivity = Annotated[
    Annotated[Literal["quiet", "average", "active"], AnyCase, Tag(kinds.WORD)] | Annotated[SolarFlux, Tag(kinds.GROUP)],
    Discriminator(kinds.word_or_group),
    BeforeValidator(rules.word_or_flux),
]


@dataclass(config=CONFIG)
class Policy(Keys):
    """How the season is judged."""

    refraction: kinds.Truth = True
    atmosphere: Annotated[Literal["seasonal", "standard"], AnyCase] = "seasonal"
    step_minutes: Annotated[Whole, Field(ge=1, le=60, description="a number of minutes")] = 5
    slot_minutes: Annotated[SlotMinutes, BeforeValidator(rules.number_or_range)] = field(default_factory=SlotMinutes)
    gap_minutes: Annotated[Whole, Field(ge=0, le=240, description="a number of minutes")] = 15
    maximum_slots_per_night: Annotated[Whole, Field(ge=1, le=20, description="a number of slots")] = 3
    maximum_nights: Annotated[Whole, Field(ge=1, le=31, description="a number of nights")] = 6
    night_cost: Annotated[Number, Field(ge=0, le=20, description="a number of contacts, 0.3 being usual,")] = 0.3
    hour_cost: Annotated[Number, Field(ge=0, le=20, description="a number of contacts, 0.01 being usual,")] = 0.01
    setup_within_hours: kinds.Truth = False
    travel_hour_cost: Annotated[Number, Field(ge=0, le=20, description="a number of contacts, 0.02 being usual,")] = (
        0.02
    )
    site_change_cost: Annotated[Number, Field(ge=0, le=20, description="a number of contacts, 0.1 being usual,")] = 0.1
    sites: Annotated[Literal["one", "best"], AnyCase] = "one"
    presence: kinds.Presence = 0.9
    assumed_skyline: AssumedSkyline = field(default_factory=AssumedSkyline)
    nights: Many[kinds.Weekday] = WEEKDAYS
    latest_hour_on_work_nights: kinds.Clock | None = None
    minimum_sun_separation_deg: Annotated[Number, Field(ge=0, le=90, description="an angle in degrees")] = 5.0
    solar_activity: SolarActivity = "average"
    solar_flux_file: kinds.Words | None = None
    outcome_thresholds: OutcomeThresholds = field(default_factory=OutcomeThresholds)
    setup_minutes: SetupMinutes = field(default_factory=SetupMinutes)
    first_to_transmit: Annotated[Literal["home", "partner", "eastern"], AnyCase] = "partner"
    dialing: Annotated[Literal["each-follows-what-it-hears", "home-follows-for-both", "meet-at-the-moon"], AnyCase] = (
        "each-follows-what-it-hears"
    )


@dataclass(config=CONFIG)
class Report(Keys):
    """Paper of the pages."""

    paper: Annotated[Literal["A4", "letter"], AnyCase] = "A4"


@dataclass(config=CONFIG)
class Ephemeris(Keys):
    """Another JPL kernel than the one installed."""

    file: kinds.Words | None = None


@dataclass(config=CONFIG)
class Season(Keys):
    """The file that names home, partners, months, band and policy."""

    home: kinds.StationName
    home_site: Text | None = None
    band: kinds.BandIfAny = ""  # left open: home's only band
    title: Text | None = None
    frequency_mhz: kinds.Megahertz | None = None
    months: Many[kinds.Month] = ()
    dates: DateRange | None = None
    partners: Many[Partner] | None = None
    operators: Many[Operator] = ()
    policy: Policy = field(default_factory=Policy)
    report: Report = field(default_factory=Report)
    letters: Letters = field(default_factory=Letters)
    ephemeris: Ephemeris = field(default_factory=Ephemeris)
    assumed: Assumed = ()
    file: File = ""

    _whole = model_validator(mode="wrap")(rules.season_whole)


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
    # Stations of the folder that the season leaves out: calls, the locator field of each, and all of each; no
    # plan rests on them.
    left_out: tuple[str, ...] = ()
    left_out_fields: tuple[str, ...] = ()
    others: tuple[Station, ...] = ()

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
