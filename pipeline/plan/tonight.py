"""Offsets of tonight's dials: what each shows, less the truth; none where the crew has given none.

A tripod that is turned by hand has new ones each evening; the station file holds those that stay.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from pipeline.inputs.model import Mount
from pipeline.inputs.mounting import FeedPosition

NOTHING: Mapping[FeedPosition, float] = MappingProxyType({})


@dataclass(frozen=True)
class Offsets:
    """Degrees; of the azimuth dial, and of the inclinometer by the feed's position where one was given."""

    dial_deg: float | None = None
    inclinometer_deg: Mapping[FeedPosition, float] = field(default_factory=lambda: NOTHING)

    def __bool__(self) -> bool:
        return self.dial_deg is not None or bool(self.inclinometer_deg)

    def of_dial(self) -> float:
        """What is added to a true azimuth to dial it: nothing where none was given."""
        return self.dial_deg or 0.0

    def of_inclinometer(self, mount: Mount, position: FeedPosition) -> float:
        """What is added to an apparent elevation: tonight's, else the station file's."""
        return self.inclinometer_deg.get(position, mount.inclinometer_offset_deg.at(position))

    def changed(self, dial_deg: float | None, inclinometer_deg: Mapping[FeedPosition, float | None]) -> Offsets:
        """These with others in their place; what is not named stays.

        A dial offset of nought is none. None of an inclinometer takes tonight's away: the station file's counts again.
        """
        dial = self.dial_deg if dial_deg is None else dial_deg or None
        both = dict(self.inclinometer_deg) | dict(inclinometer_deg)
        return Offsets(dial, {position: value for position, value in both.items() if value is not None})
