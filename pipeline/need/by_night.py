"""The best chance with one partner on each night, with equipment tried in place of what the files say.

From the slot grid of the pair alone, all stages before it made anew for each antenna, receiver or mode that is tried.
Power moves one direction's margin decibel for decibel, so that it needs no new sky.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from pipeline.absence.changes import Assignment, assigned
from pipeline.absence.upgrades import alone
from pipeline.agenda.candidates import find_slots, with_chances
from pipeline.agenda.slot_grid import SlotGrid, make_slot_grid
from pipeline.inputs.model import BandEquipment, Station
from pipeline.pairs.survey import make_survey
from pipeline.record.inputs import Inputs
from pipeline.windows.span import Span

FloatArray = npt.NDArray[np.float64]

ENDS = ("home", "partner")
POWER = "power_w"


@dataclass(frozen=True)
class Chances:
    """The best slot's chance on each night, (n,); nights without a slot are left out."""

    nights: tuple[dt.date, ...]
    chance: FloatArray

    @property
    def best(self) -> float:
        """On the best night; 0 where there is none."""
        return float(self.chance.max(initial=0.0))

    @property
    def median(self) -> float:
        """On the median night, the poorer of the middle two; 0 where there is none."""
        return float(np.sort(self.chance)[(self.chance.size - 1) // 2]) if self.chance.size else 0.0

    def nights_from(self, threshold: float) -> tuple[dt.date, ...]:
        """The nights that reach a chance, the best first, the earlier of equals."""
        order = np.argsort(-self.chance, kind="stable")
        return tuple(self.nights[row] for row in order if self.chance[row] >= threshold)


@dataclass(frozen=True)
class Pairing:
    """Home and one partner over a span, and whether slots keep to both ends' hours or stand at any hour.

    `inputs` hold that partner alone. Slot grids are kept by what was tried, so that no sky is worked out twice.
    """

    inputs: Inputs
    span: Span
    any_hour: bool
    grids: dict[tuple[Assignment, ...], SlotGrid] = field(default_factory=dict)

    @property
    def band(self) -> str:
        """The band of the pair."""
        return self.inputs.bands[0]

    def station(self, end: str) -> Station:
        """Home, or the partner."""
        return self.inputs.home if end == "home" else self.inputs.partners[0]

    def equipment(self, end: str) -> BandEquipment:
        """What an end has on the pair's band."""
        return self.station(end).bands[self.band]

    def key(self, *names: str) -> tuple[str, ...]:
        """The keys of a figure of the band in a station's file."""
        return ("bands", self.band, *names)

    def grid(self, tried: Sequence[Assignment] = ()) -> SlotGrid:
        """The slot grid with some values put in place of the files'."""
        key = tuple(tried)
        if key not in self.grids:
            inputs = with_all(self.inputs, tried)
            found = make_survey(inputs, self.span, lambda _: None, shifts=False)
            self.grids[key] = make_slot_grid(inputs, found.period, found.windows, found.samples, found.modes)
        return self.grids[key]

    def chances(self, tried: Sequence[Assignment] = ()) -> Chances:
        """The best slot of each night with some values put in place of the files'."""
        powers = [one for one in tried if one.keys[-1] == POWER]
        grid = self.grid([one for one in tried if one.keys[-1] != POWER])
        more_db = {
            "partner" if one.end == "home" else "home": 10.0 * math.log10(one.value / self.equipment(one.end).power_w)
            for one in powers
        }
        free = grid.minutes.sun if self.any_hour else grid.minutes.free
        found = find_slots(grid.minutes, free, grid.inputs.season.policy.slot_minutes, grid.least)
        # A power that is stated leaves less doubt than one assumed, so the inputs change as well.
        inputs = with_all(grid.inputs, powers)
        slots = with_chances(inputs, grid.modes, grid.track, found, more_db, shorten=True)
        order = np.lexsort((slots.start, -slots.chance, slots.night))
        first = order[np.diff(slots.night[order], prepend=-1).astype(bool)]
        nights = tuple(grid.period.dates[night] for night in slots.night[first])
        return Chances(nights, slots.chance[first])


def make_pairing(inputs: Inputs, pair: int, span: Span) -> Pairing:
    """Home and a partner within both ends' hours; at any hour where these leave no slot at all."""
    own = alone(inputs, pair)
    within = Pairing(own, span, any_hour=False)
    return within if within.chances().nights else Pairing(own, span, any_hour=True, grids=within.grids)


def with_all(inputs: Inputs, tried: Sequence[Assignment]) -> Inputs:
    """The inputs of one pair with values put in place of the files'."""
    for one in tried:
        inputs = assigned(inputs, 0, one)
    return inputs
