"""What a season says of its letters: who signs, the words of its own, and how many times one may offer.

Frozen dataclasses, checked on the way in; their place in a season file is `model.Season`'s.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field
from pydantic.dataclasses import dataclass

from pipeline.inputs import kinds
from pipeline.inputs.kinds import CONFIG, Keys, Text, Whole


@dataclass(config=CONFIG)
class Sender(Keys):
    """Who signs the letters."""

    name: Annotated[Text, Field(examples=["Basalt Tor"])]
    email: kinds.Mail


@dataclass(config=CONFIG)
class Letters(Keys):
    """Words of the season's letters."""

    sender: Sender | None = None
    greeting: Text = "Dear {operator}"
    closing: Text = "Good echoes"
    reply_by: kinds.Day | None = None
    meet: Text | None = None
    choices: Annotated[Whole, Field(ge=1, le=3, description="a number of times, 1 to 3,")] = 2
