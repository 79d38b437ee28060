"""Where a station stands: its position, what its mount reaches, and other sites for the same equipment."""

from __future__ import annotations

from dataclasses import field
from typing import Annotated

from pydantic import BeforeValidator, Field, model_validator
from pydantic.dataclasses import dataclass

from pipeline.inputs import kinds, rules
from pipeline.inputs.horizon import Horizon, Terrain
from pipeline.inputs.kinds import CONFIG, Keys, Number, Text
from pipeline.inputs.mounting import InclinometerOffset

MinimumElevation = Annotated[Number, Field(ge=0, lt=90, description="an elevation in degrees")]
TravelHours = Annotated[Number, Field(ge=0, le=48, description="a number of hours, one way")]


@dataclass(config=CONFIG)
class Position(Keys):
    """A place on WGS84. `locator` is kept where the place came from one: then it is known to half a cell only."""

    latitude_deg: kinds.Latitude
    longitude_deg: kinds.Longitude
    height_m: kinds.Height = 0.0
    locator: kinds.Locator | None = None
    uncertainty_km: Annotated[float, Field(alias=rules.UNCERTAINTY_KM)] = 0.0

    _given = model_validator(mode="before")(rules.place_given)
    _whole = model_validator(mode="wrap")(rules.one_place)


@dataclass(config=CONFIG)
class Mount(Keys):
    """What the mount can reach. The azimuth range runs clockwise from `azimuth_from_deg` to `azimuth_to_deg`."""

    maximum_elevation_deg: Annotated[Number, Field(gt=0, le=180, description="an elevation in degrees")] = 90.0
    azimuth_from_deg: kinds.Azimuth | None = None
    azimuth_to_deg: kinds.Azimuth | None = None
    inclinometer_offset_deg: Annotated[InclinometerOffset, BeforeValidator(rules.number_or_positions)] = field(
        default_factory=InclinometerOffset
    )
    dial_resolution_deg: Annotated[
        Number, Field(gt=0, le=10, description="the smallest step of the dial in degrees")
    ] = 0.1
    maximum_wind_m_s: Annotated[Number, Field(gt=0, le=60, description="a wind in metres a second")] | None = None

    _whole = model_validator(mode="after")(rules.both_ends)


@dataclass(config=CONFIG)
class SiteKeys(Keys):
    """Another place for home's equipment; what is absent is as at home."""

    position: Annotated[Position, Field(examples=["{locator: GF25cl, height_m: 212}"])]
    horizon: Horizon = ()
    mount: Mount | None = None
    minimum_elevation_deg: MinimumElevation | None = None
    hours_to_get_there: TravelHours = 0.0
    notes: Text | None = None


@dataclass(config=CONFIG)
class Site:
    """A site as it was read; `assumed` as a station's, of what belongs to the place."""

    name: str
    position: Position
    horizon: Horizon
    terrain: Terrain | None
    mount: Mount | None
    minimum_elevation_deg: float | None
    hours_to_get_there: float
    notes: str | None = None
    assumed: tuple[str, ...] = ()
