"""How a station file states its skyline: points, a survey in a file, elevation tiles; and what the tiles tell.

The points that count are always a list of `HorizonPoint`; `Terrain` tells where they came from elevation tiles.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field, model_validator
from pydantic.dataclasses import dataclass

from pipeline.inputs import kinds, rules
from pipeline.inputs.kinds import CONFIG, Keys, Number


@dataclass(config=CONFIG)
class HorizonPoint(Keys):
    """One surveyed point of the skyline; elevation is the apparent one, as seen from the dish."""

    azimuth_deg: kinds.Azimuth
    elevation_deg: kinds.Elevation


Horizon = Annotated[
    tuple[HorizonPoint, ...], AfterValidator(rules.one_height_each), BeforeValidator(rules.listed_points)
]


@dataclass(config=CONFIG)
class HorizonKeys(Keys):
    """The skyline as keys: a survey by points or by file, elevation tiles, or a survey that wins over the tiles."""

    file: kinds.Words | None = None
    points: Horizon = ()
    terrain: kinds.Words | None = None
    antenna_height_m: Annotated[Number, Field(ge=0, le=200, description="a height above the ground in metres")] = 2.0
    ignored_within_m: Annotated[Number, Field(ge=10, le=5000, description="a distance in metres")] = 100.0
    missing_is_sea: kinds.Truth = False

    _whole = model_validator(mode="wrap")(rules.one_survey)


@dataclass(config=CONFIG)
class UnknownArc:
    """Azimuths, clockwise from one to the other, degrees, over which no tile covers ground that might show."""

    from_deg: float
    to_deg: float
    from_km: float


@dataclass(config=CONFIG)
class Terrain:
    """What elevation tiles say of a station's skyline, beside the points themselves.

    `top` is its highest point and `top_km` how far off that stands; `surveyed` whether points of a survey win over it;
    `missing` the corners of degrees that no tile covers, the nearest first; `holes` the shares of tiles without height.
    """

    place: str
    tiles: tuple[str, ...]
    ground_m: float
    antenna_height_m: float
    ignored_within_m: float
    highest_m: float
    top: HorizonPoint
    top_km: float | None
    surveyed: bool
    missing_is_sea: bool
    unknown: tuple[UnknownArc, ...] = ()
    missing: tuple[str, ...] = ()
    holes: tuple[tuple[str, float], ...] = ()
