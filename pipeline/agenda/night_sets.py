"""All slots of some nights, and all sets of slots of one night by whom they serve: what `few_nights` looks through.

From a problem of the agenda; at most three slots a night.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from pipeline.agenda.milp_model import NEVER, QUANTUM, Problem

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

MOST_SLOTS = 3


@dataclass(frozen=True)
class Sets:
    """Sets of slots of one night, (s,), those of one choice of demands together and the best of them first.

    Items are -1 where there are fewer than three. `serves` and `twice` are bits of the demands that have a slot, or
    two, in it; worth less night and hours, contacts. `begins` (c + 1,) bound the sets of each choice.
    """

    items: IntArray
    value: FloatArray
    serves: IntArray
    twice: IntArray
    begins: IntArray

    @cached_property
    def best(self) -> FloatArray:
        """Of each choice the best set's value, (c,)."""
        return self.value[self.begins[:-1]]

    @cached_property
    def served(self) -> IntArray:
        """Of each choice whom it serves, (c,), as bits."""
        return self.serves[self.begins[:-1]]

    @cached_property
    def served_twice(self) -> IntArray:
        """Of each choice whom it serves twice, (c,), as bits."""
        return self.twice[self.begins[:-1]]

    @cached_property
    def top(self) -> float:
        """The best value of all."""
        return float(self.value.max())

    def slots(self, least: float) -> IntArray:
        """The items, in order, of all sets that are worth as much at least, (k,)."""
        good = self.items[self.value >= least]
        held = np.zeros(int(self.items.max(initial=-1)) + 2, dtype=bool)
        held[good] = True  # the last place is that of -1: no item
        return np.flatnonzero(held[:-1])

    @cached_property
    def first_slots(self) -> dict[int, IntArray]:
        """By demand the first slot of each set that serves it, (s,): filled as they are asked for."""
        return {}

    @cached_property
    def apart(self) -> dict[tuple[int, int], IntArray]:
        """By choice and demands (bits) rows (k,) of sets that differ in their slots: filled as they are asked for."""
        return {}


class Items:
    """All (demand, slot) by time; `both` (n, n) is what two have beyond each alone, NEVER where they clash."""

    def __init__(self, problem: Problem) -> None:
        sizes = [demand.slots.size if demand.most > 0 else 0 for demand in problem.demands]
        demand = np.repeat(np.arange(len(sizes)), sizes)
        nothing = np.zeros(0, dtype=np.int64)
        place = np.concatenate([nothing, *(np.arange(size) for size in sizes)]).astype(np.int64)
        mine = (one.slots for one, size in zip(problem.demands, sizes, strict=True) if size)
        slot = np.concatenate([nothing, *mine]).astype(np.int64)
        order = np.lexsort((demand, problem.start[slot]))
        self.demand, self.slot, place = demand[order], slot[order], place[order]
        self.night = problem.night[self.slot]
        self.start, self.busy_until = problem.start[self.slot], problem.busy_until[self.slot]
        worth = [problem.demands[d].worth[p] for d, p in zip(self.demand, place, strict=True)]
        self.worth = _whole(np.array(worth, dtype=float))
        hours = problem.hours
        end = self.busy_until if hours is None else hours.end[self.slot]
        minute_cost = 0.0 if hours is None else hours.minute_cost
        # What being the first and the last slot of a night adds.
        self.first = minute_cost * self.start - (0.0 if hours is None else hours.arriving[self.slot])
        self.last = -minute_cost * end
        self.thrice = np.array([one.pair_worth is None and one.most >= MOST_SLOTS for one in problem.demands])
        self.both = self._both(problem, place)

    def _both(self, problem: Problem, place: IntArray) -> FloatArray:
        found = np.where(self.busy_until[:, None] <= self.start[None, :], 0.0, NEVER)
        for number, demand in enumerate(problem.demands):
            rows = np.flatnonzero(self.demand == number)
            here = np.ix_(rows, rows)
            if demand.pair_worth is None:
                found[here] += 0.0 if demand.most > 1 else NEVER
                continue
            alone = self.worth[rows]
            more = _whole(demand.pair_worth[np.ix_(place[rows], place[rows])]) - alone[:, None] - alone[None]
            found[here] = np.where(found[here] > NEVER, more, NEVER)
        return found


def sets_of_night(items: Items, rows: IntArray, room: int, cost: float) -> Sets:
    """All sets of one night, of its items `rows` (n,), that earn the night, by whom they serve."""
    worth, both = items.worth[rows], items.both[np.ix_(rows, rows)]
    begins, ends = worth + items.first[rows], worth + items.last[rows]
    every = [(np.arange(rows.size)[:, None], worth + items.first[rows] + items.last[rows])]
    pair = np.argwhere(both > NEVER)
    if room > 1 and pair.size:
        i, j = pair.T
        every.append((pair, begins[i] + ends[j] + both[i, j]))
        if room > 2:
            # Each pair with every slot behind its second one.
            at, k = np.nonzero((both[j] > NEVER) & (both[i] > NEVER))
            i, j = i[at], j[at]
            value = begins[i] + worth[j] + ends[k] + both[i, j] + both[j, k] + both[i, k]
            demand = items.demand[rows]
            same = (demand[i] == demand[j]) & (demand[j] == demand[k]) & ~items.thrice[demand[i]]
            every.append((np.stack([i, j, k], axis=1)[~same], value[~same]))
    table = np.full((sum(len(one) for one, _ in every), MOST_SLOTS), -1, dtype=np.int64)
    value = np.concatenate([one for _, one in every]) - cost
    top = 0
    for one, _ in every:
        table[top : top + len(one), : one.shape[1]] = rows[one]
        top += len(one)
    good = value > 0.0
    return _by_choice(items, table[good], value[good])


def _by_choice(items: Items, table: IntArray, value: FloatArray) -> Sets:
    bits = np.where(table >= 0, 1 << items.demand[table], 0).astype(np.int64)
    serves = np.bitwise_or.reduce(bits, axis=1)
    twice = (bits[:, 0] & bits[:, 1]) | (bits[:, 0] & bits[:, 2]) | (bits[:, 1] & bits[:, 2])
    order = np.lexsort((-value, twice, serves))
    table, value, serves, twice = table[order], value[order], serves[order], twice[order]
    fresh = np.ones(order.size, dtype=bool)
    fresh[1:] = (np.diff(serves) != 0) | (np.diff(twice) != 0)
    return Sets(table, value, serves, twice, np.append(np.flatnonzero(fresh), order.size))


def _whole(worth: FloatArray) -> FloatArray:
    """Worth in whole quanta, as the program compares it; NEVER stays."""
    return np.where(np.isfinite(worth), np.round(np.nan_to_num(worth, neginf=0.0) / QUANTUM) * QUANTUM, NEVER)
