"""One partner with fewer slots than it wants: its slots, what keeps the good ones away alone, and what two together do.

From the slot grid and the agenda; every figure is worked out once, when it is asked for.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations

import numpy as np
import numpy.typing as npt

from pipeline.absence.counterfactuals import NO_LIMIT, Trials
from pipeline.absence.obstacles import OBSTACLES, Obstacle, Search
from pipeline.absence.trying import slots_of
from pipeline.agenda.agenda import Agenda, slots_on_offer
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.commitments import blocked
from pipeline.agenda.slot_grid import SlotGrid


@dataclass(frozen=True)
class Case:
    """One partner with fewer slots than it wants."""

    grid: SlotGrid
    agenda: Agenda
    trials: Trials
    pair: int
    kept_away: dict[int, Candidates] = field(default_factory=dict)

    @property
    def own(self) -> tuple[tuple[int, int], ...]:
        """The slots that it has."""
        return tuple((one.start, one.end) for one in slots_of(self.agenda, self.pair))

    @cached_property
    def search(self) -> Search:
        """Its minutes, to be looked at under other inputs."""
        return Search(self.trials, self.pair, self.own)

    @cached_property
    def slots(self) -> Candidates:
        """Its slots that no rule forbids, poor ones too, clear of those it has."""
        mine = self.grid.slots.take(np.flatnonzero(self.grid.slots.pair == self.pair))
        gap = self.grid.inputs.season.policy.gap_minutes
        return mine.take(np.flatnonzero(~blocked(mine, self.own, gap)))

    @cached_property
    def good(self) -> Candidates:
        """Those that could be proposed."""
        return slots_on_offer(self.grid, self.agenda.commitments, self.slots)

    @property
    def promise(self) -> float:
        """What its best slot would be worth, poor ones too."""
        return self.grid.inputs.wishes[self.pair].priority * float(self.slots.chance_met.max(initial=0.0))

    @cached_property
    def on_nights(self) -> npt.NDArray[np.bool_]:
        """Which of those lie on nights that the agenda uses."""
        return np.isin(self.good.night, sorted(self.agenda.nights))

    @cached_property
    def anywhere(self) -> Candidates:
        """Of each night its best place if nobody slept and no rule held."""
        trials, whenever = self.trials, self.trials.whenever
        places = trials.places(self.pair, home=whenever, partner=whenever, sun=NO_LIMIT, busy=self.own)
        return trials.best(self.pair, places)

    @property
    def alone(self) -> Iterator[tuple[Obstacle, Candidates]]:
        """Obstacles each of which alone keeps good slots away, and these slots; none is looked at before its turn."""
        for place, obstacle in enumerate(OBSTACLES):
            if place not in self.kept_away:
                self.kept_away[place] = self.search.without(obstacle)
            if self.kept_away[place].start.size:
                yield obstacle, self.kept_away[place]

    @cached_property
    def together(self) -> tuple[tuple[Obstacle, Obstacle], ...]:
        """Pairs of obstacles that keep good slots away only together."""
        alone = [one for one, _ in self.alone]
        others = [one for one in OBSTACLES if one not in alone and self.search.holds(one)]
        return tuple(both for both in combinations(others, 2) if self.search.without(*both).start.size)

    @property
    def nights_full(self) -> bool:
        """Whether the agenda uses as many nights as the policy allows."""
        return len(self.agenda.nights) >= self.grid.inputs.season.policy.maximum_nights
