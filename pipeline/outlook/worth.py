"""What a night is worth: the best agenda of it alone, within both ends' hours; and what the sky would give beyond them.

From the slot grid and what was agreed, by the agenda's own program. A usable slot is one that could be planned at a
chance of at least marginal; heard is who could be worked at whatever hour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from pipeline.agenda.agenda import Agenda, make_problem, one_night_more, proposed, slots_on_offer
from pipeline.agenda.candidates import Candidates, find_slots, with_chances
from pipeline.agenda.commitments import Commitments, Kept
from pipeline.agenda.contacts import contacts_of
from pipeline.agenda.few_nights import best_of_few_nights
from pipeline.agenda.milp_solve import choose
from pipeline.agenda.slot_grid import SlotGrid

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Worth:
    """The usable slots of a span and what its nights are worth alone, n nights and p partners."""

    grid: SlotGrid
    held: Commitments

    @cached_property
    def usable(self) -> Candidates:
        """Every slot that could be planned, whatever else is agreed."""
        return slots_on_offer(self.grid, replace(self.held, busy=(), promised=()))

    @cached_property
    def best(self) -> Candidates:
        """Of each night and partner the usable slot of best chance, the earliest of equals; by night and partner."""
        return best_of_each(self.usable)

    @cached_property
    def heard(self) -> npt.NDArray[np.bool_]:
        """Whom the sky would give at whatever hour, (n, p)."""
        return heard_at_any_hour(self.grid)

    def best_on(self, night: int) -> Candidates:
        """The best usable slots of one night, a partner each, in the season's order."""
        return self.best.take(np.flatnonzero(self.best.night == night))

    def alone(self, nights: Sequence[int]) -> list[Kept]:
        """The slots of the best agenda of some nights alone, as if nothing were agreed on others.

        Of few nights with few slots by looking at every set of them.
        """
        kept = tuple(one for one in self.held.kept if one.night in set(nights) and not one.is_over)
        busy = tuple(edges for edges in self.held.busy if self.grid.night_of(edges[0]) in set(nights))
        mine = replace(self.held, kept=kept, busy=busy, open_offers=(), promised=())
        here = self.usable.take(np.flatnonzero(np.isin(self.usable.night, sorted(nights))))
        pool = slots_on_offer(self.grid, mine, here)
        problem, people = make_problem(self.grid, mine, pool, {}, ties=False)
        found = best_of_few_nights(problem)
        if found is None:
            problem, people = make_problem(self.grid, mine, pool, {})
            found = choose(problem, bounded=False).taken
        return [*kept, *proposed(people, pool, found)]

    def contacts_alone(self, nights: Sequence[int]) -> float:
        """Contacts to expect from these nights by themselves."""
        if not np.isin(self.usable.night, list(nights)).any() and not self.held.kept:
            return 0.0
        return contacts_of(self.alone(nights), self.grid.inputs.wishes)


def contacts_in_agenda(grid: SlotGrid, agenda: Agenda) -> FloatArray:
    """What the agenda would lose without the slots of each night, (n,), contacts."""
    whole, wishes = contacts_of(agenda.slots, grid.inputs.wishes), grid.inputs.wishes
    lost = np.zeros(len(grid.period.dates))
    for night in agenda.nights:
        lost[night] = whole - contacts_of([one for one in agenda.slots if one.night != night], wishes)
    return lost


def contacts_if_added(grid: SlotGrid, agenda: Agenda) -> FloatArray:
    """What each night not in use would add to the agenda, its other slots as they are: (n,), contacts."""
    wishes, added = grid.inputs.wishes, np.zeros(len(grid.period.dates))
    whole = contacts_of(agenda.slots, wishes)
    for night in sorted(set(agenda.pool.night.tolist()) - agenda.nights):
        problem, people, pool = one_night_more(grid, agenda, night)
        more = proposed(people, pool, choose(problem, bounded=False).taken)
        added[night] = max(0.0, contacts_of([*agenda.slots, *more], wishes) - whole)
    return added


def best_of_each(slots: Candidates) -> Candidates:
    """Of each night and pair the slot worth most (to 0.001), the earliest of equals; by night and pair."""
    order = np.lexsort((slots.start, -np.round(slots.chance_met, 3), slots.pair, slots.night))
    fresh = np.diff(slots.night[order], prepend=-1).astype(bool) | np.diff(slots.pair[order], prepend=-1).astype(bool)
    return slots.take(order[fresh])


def heard_at_any_hour(grid: SlotGrid) -> npt.NDArray[np.bool_]:
    """Whether each partner could be worked on each night if both ends were always there, (nights, partners).

    Who has a good slot within the hours has one at any hour; else of a night's places with one partner that of best
    mean margin speaks for all.
    """
    heard = np.zeros((len(grid.period.dates), len(grid.inputs.partners)), dtype=bool)
    good = grid.slots.chance >= grid.least_chance
    heard[grid.slots.night[good], grid.slots.pair[good]] = True
    found = find_slots(grid.minutes, grid.minutes.sun, grid.inputs.season.policy.slot_minutes, grid.least)
    found = {name: values[~heard[found["night"], found["pair"]]] for name, values in found.items()}
    margin = np.minimum(*(_mean_margin(grid, values, found) for values in grid.track.margin_db.values()))
    order = np.lexsort((-margin, found["pair"], found["night"]))
    key = found["night"][order] * len(grid.inputs.partners) + found["pair"][order]
    first = order[np.diff(key, prepend=-1).astype(bool)]
    places = with_chances(grid.inputs, grid.modes, grid.track, {name: values[first] for name, values in found.items()})
    good = places.chance >= grid.least_chance
    heard[places.night[good], places.pair[good]] = True
    return heard


def _mean_margin(grid: SlotGrid, values: FloatArray, slots: dict[str, IntArray]) -> FloatArray:
    """The margin at one end, mean of begin, middle and end of each slot, dB; a missing mode is worst."""
    looks = [slots["start"], (slots["start"] + slots["end"]) / 2.0, slots["end"]]
    seen = np.stack([grid.track.at(values, minute, slots["window"]) for minute in looks])
    return np.asarray(np.nan_to_num(seen.mean(axis=0), nan=-999.0))
