"""Two ranges of the policy: how long slots are, and how high skylines stand that nobody has surveyed.

Frozen dataclasses, checked on the way in; their places in a season file are `model.Policy`'s.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator
from pydantic.dataclasses import dataclass

from pipeline.inputs import rules
from pipeline.inputs.kinds import CONFIG, Keys, Number, Whole


@dataclass(config=CONFIG)
class SlotMinutes(Keys):
    """How long a slot is: as short as costs no chance, within these limits."""

    least: Annotated[Whole, Field(ge=5, le=240, description="a number of minutes")] = 45
    most: Annotated[Whole, Field(ge=5, le=240, description="a number of minutes")] = 60

    _rising = model_validator(mode="after")(rules.least_and_most)


@dataclass(config=CONFIG)
class AssumedSkyline(Keys):
    """How high skylines stand where a file states none: half of all places below the one, nine in ten below the other.

    Logarithms of such heights are taken as normal (judgement, no source).
    """

    median_deg: Annotated[Number, Field(gt=0, le=45, description="an elevation in degrees")] = 3.0
    nine_in_ten_deg: Annotated[Number, Field(gt=0, le=60, description="an elevation in degrees")] = 10.0

    _rising = model_validator(mode="after")(rules.half_below_most)
