"""How a mount's inclinometer reads: one offset, or one for each position of a feed that is turned with its box.

A frozen dataclass, checked on the way in; its place in a station file is `model.Mount`'s.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field
from pydantic.dataclasses import dataclass

from pipeline.inputs.kinds import CONFIG, Keys, Number

FeedPosition = Literal["horizontal", "vertical"]
FEED_POSITIONS: tuple[FeedPosition, ...] = ("horizontal", "vertical")
Offset = Annotated[Number, Field(ge=-90, le=90, description="an offset in degrees")]


@dataclass(config=CONFIG)
class InclinometerOffset(Keys):
    """What the inclinometer shows, less the true elevation, with the feed in either position, degrees."""

    horizontal: Offset = 0.0
    vertical: Offset = 0.0

    def at(self, position: FeedPosition) -> float:
        """With the feed in this position."""
        return self.horizontal if position == "horizontal" else self.vertical
