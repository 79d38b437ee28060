"""Remedies tried on the whole agenda: the inputs changed, the slot grid made anew, the best agenda chosen again.

From the slot grid and the agenda as they are. How many are tried goes by the size of the problem, never by a clock, so
that reasons stay of the order of the agenda's own cost.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from pipeline.absence.changes import all_changed
from pipeline.absence.remedies import (
    LargerDish,
    LowerNightCost,
    ModeAdded,
    MoreNights,
    MorePower,
    MoreSlots,
    Remedy,
    Tried,
)
from pipeline.absence.upgrades import alone
from pipeline.agenda.agenda import Agenda, Chosen, make_agenda
from pipeline.agenda.commitments import PAST
from pipeline.agenda.slot_grid import SlotGrid, make_slot_grid
from pipeline.pairs.survey import make_survey
from pipeline.record.inputs import Inputs
from pipeline.windows.instants import instant_of_minute

# Whole agendas that reasons may cost: the more pairs of slots each has to price, the fewer.
MOST_AGENDAS, LEAST_AGENDAS = 4, 1
PAIRS_TO_PRICE = 2_000_000
EQUIPMENT = (LargerDish, MorePower, ModeAdded)
# What leaves every possible slot as it is.
ROOM = (MoreNights, MoreSlots, LowerNightCost)


@dataclass
class Attempts:
    """The agendas made of changed inputs, by the words of the change, and how many may still be made."""

    grid: SlotGrid
    agenda: Agenda
    made: dict[str, Agenda] = field(default_factory=dict)

    @property
    def left(self) -> int:
        """Agendas that may still be made."""
        sizes = np.bincount(self.agenda.pool.pair).astype(float)
        work = int((sizes**2).sum()) * len(self.grid.operators)
        return min(MOST_AGENDAS, max(LEAST_AGENDAS, PAIRS_TO_PRICE // max(work, 1))) - len(self.made)

    def outcome(self, pair: int, remedies: tuple[Remedy, ...]) -> Tried | None:
        """What the partner gets once the remedies are applied; None where that is no slot more than it has.

        None too where no more agendas may be made.
        """
        inputs, words = all_changed(self.grid.inputs, pair, remedies)
        if words not in self.made:
            if self.left <= 0:
                return None
            self.made[words] = make_agenda(self._grid(inputs, pair, remedies), bounded=False)
        now = slots_of(self.agenda, pair)
        then = slots_of(self.made[words], pair)
        wanted = wanted_still(self.grid, self.agenda, pair)
        if served(then, wanted) <= served(now, wanted):
            return None
        had = {one.start for one in now}
        new = next((one for one in then if one.start not in had), then[-1])
        return Tried(remedies, words, instant_of_minute(new.start), float(new.slot.chance[0]))

    def _grid(self, inputs: Inputs, pair: int, remedies: tuple[Remedy, ...]) -> SlotGrid:
        """The slot grid of changed inputs: windows and samples are made anew only where equipment changes."""
        grid = self.grid
        if all(isinstance(one, ROOM) for one in remedies):
            return replace(grid, inputs=inputs)
        upgrades = [one for one in remedies if isinstance(one, EQUIPMENT)]
        windows, samples, modes = grid.windows, grid.samples, tuple(grid.modes)
        if any(one.end == "home" for one in upgrades):
            scene = make_survey(inputs, grid.period, lambda _: None, shifts=False)
            windows, samples, modes = scene.windows, scene.samples, scene.modes
        elif upgrades:
            scene = make_survey(alone(inputs, pair), grid.period, lambda _: None, shifts=False)
            calls = [station.call for station in inputs.partners]
            windows = _exchanged(windows, scene.windows, calls, pair)
            samples = _exchanged(samples, scene.samples, calls, pair)
            modes = (*modes[:pair], scene.modes[0], *modes[pair + 1 :])
        return make_slot_grid(inputs, grid.period, windows, samples, modes)


def slots_of(agenda: Agenda, pair: int) -> list[Chosen]:
    """A partner's slots in order of time: those ahead, and those of which nobody has said how they went."""
    return [one for one in agenda.slots if one.pair == pair and one.outcome in ("", PAST)]


def wanted_still(grid: SlotGrid, agenda: Agenda, pair: int) -> dict[str, int]:
    """Contacts that each operator still wants with a partner."""
    return {one: max(0, agenda.commitments.wanted(grid, pair, one)) for one in grid.operators}


def served(slots: list[Chosen], wanted: dict[str, int]) -> int:
    """How many of the slots that a partner wants it has: so many with each operator, no more."""
    count = Counter(one.operator for one in slots)
    return sum(min(number, wanted.get(operator, 0)) for operator, number in count.items())


def _exchanged(frame: pd.DataFrame, rows: pd.DataFrame, calls: list[str], pair: int) -> pd.DataFrame:
    """The table with other rows for one partner, in the season's order."""
    place = frame["partner"].map({call: number for number, call in enumerate(calls)}).to_numpy(dtype=np.int64)
    parts = [part for part in (frame[place < pair], rows, frame[place > pair]) if len(part)]
    return pd.concat(parts, ignore_index=True) if parts else frame.iloc[:0]
