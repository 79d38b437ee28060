"""All slots of some nights, and all sets of slots of one night by whom they serve: what `few_nights` looks through.

From a problem of the agenda; at most three slots a night.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from pipeline.agenda.milp_model import NEVER, QUANTUM, Problem

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

MOST_SLOTS = 3


class Items:
    """All (demand, slot) by time; `both` (n, n) is what two have beyond each alone, NEVER where they clash."""

    def __init__(self, problem: Problem) -> None:
        sizes = [demand.slots.size if demand.most > 0 else 0 for demand in problem.demands]
        demand = np.repeat(np.arange(len(sizes)), sizes)
        nothing = np.zeros(0, dtype=np.int64)
        place = np.concatenate([nothing, *(np.arange(size) for size in sizes)]).astype(np.int64)
        mine = [one for one, size in zip(problem.demands, sizes, strict=True) if size]
        slot = np.concatenate([nothing, *(one.slots for one in mine)]).astype(np.int64)
        worth = np.concatenate([np.zeros(0), *(one.worth for one in mine)])
        order = np.lexsort((demand, problem.start[slot]))
        self.demand, self.slot, self.worth = demand[order], slot[order], _whole(worth[order])
        self.night = problem.night[self.slot]
        self.start, self.busy_until = problem.start[self.slot], problem.busy_until[self.slot]
        hours = problem.hours
        end = self.busy_until if hours is None else hours.end[self.slot]
        minute_cost = 0.0 if hours is None else hours.minute_cost
        # What being the first and the last slot of a night adds.
        self.first = minute_cost * self.start - (0.0 if hours is None else hours.arriving[self.slot])
        self.last = -minute_cost * end
        # How many slots a demand may have: with a pair's worth two, else as many as it says.
        self.most = np.array([2 if one.pair_worth is not None else one.most for one in problem.demands], dtype=int)
        self.both = self._both(problem, place[order])

    def _both(self, problem: Problem, place: IntArray) -> FloatArray:
        found = np.where(self.busy_until[:, None] <= self.start[None, :], 0.0, NEVER)
        for number, demand in enumerate(problem.demands):
            rows = np.flatnonzero(self.demand == number)
            if not rows.size or (demand.pair_worth is None and demand.most > 1):
                continue
            here = rows[:, None], rows
            if demand.pair_worth is None:
                found[here] = NEVER
                continue
            mine, alone = place[rows], self.worth[rows]
            more = _whole(demand.pair_worth[mine[:, None], mine]) - alone[:, None] - alone[None]
            found[here] = np.where(found[here] > NEVER, more, NEVER)
        return found


@dataclass(frozen=True, eq=False)
class Sets:
    """Sets of slots of one night, (s,), those of one choice of demands together and the best of them first.

    Items are -1 where there are fewer than three; worth less night and hours, contacts. Of each choice `served` are the
    bits (c,) of the demands that have a slot in it, two at least, and three; `begins` (c + 1,) bound its sets.
    """

    source: Items
    items: IntArray
    value: FloatArray
    served: tuple[IntArray, IntArray, IntArray]
    begins: IntArray
    # Filled as they are asked for.
    _slots: dict[int, tuple[IntArray, IntArray]] = field(default_factory=dict)
    _apart: dict[tuple[int, ...], IntArray] = field(default_factory=dict)

    @cached_property
    def best(self) -> FloatArray:
        """Of each choice the best set's value, (c,)."""
        return self.value[self.begins[:-1]]

    @cached_property
    def top(self) -> float:
        """The best value of all."""
        return float(self.value.max())

    @cached_property
    def best_with(self) -> FloatArray:
        """Of each choice the best set that holds each item: worth (c, n), without a unit; NEVER where none does."""
        choices, width = self.best.size, self.source.demand.size + 1  # the last place is that of -1: no item
        begin = np.repeat(np.arange(choices) * width, np.diff(self.begins))
        best = np.full((MOST_SLOTS, choices * width), NEVER)
        for column in range(MOST_SLOTS):
            # A choice's best set stands first: written last, it stays.
            best[column, (begin + self.items[:, column] % width)[::-1]] = self.value[::-1]
        return np.asarray(best.max(axis=0).reshape(choices, width)[:, :-1])

    @cached_property
    def held(self) -> IntArray:
        """The items that any set holds, (k,), in order."""
        return np.flatnonzero((self.best_with > NEVER).any(axis=0))

    def slots_of(self, demand: int) -> tuple[IntArray, IntArray]:
        """The items (k,) of a demand in any set; and which of them each set has first, (s,), any where it has none."""
        if demand not in self._slots:
            owner = np.append(self.source.demand, -1)
            slots, place = self.held[owner[self.held] == demand], np.zeros(owner.size, dtype=np.int64)
            place[slots] = np.arange(slots.size)
            one, two, three = self.items.T
            first = np.where(owner[one] == demand, one, np.where(owner[two] == demand, two, three))
            self._slots[demand] = slots, place[first]
        return self._slots[demand]

    def apart(self, choice: int, demands: list[int]) -> IntArray:
        """Of one choice's sets, the best first, the rows of the first with their slots of these demands, (k,).

        What others have beside them plays no part on another night.
        """
        key = (choice, *demands)
        if key not in self._apart:
            rows = np.arange(self.begins[choice], self.begins[choice + 1])
            held = np.zeros(rows.size, dtype=np.int64)
            for demand in demands:
                slots, place = self.slots_of(demand)
                held = held * slots.size + place[rows]
            self._apart[key] = rows[np.sort(np.unique(held, return_index=True)[1])]
        return self._apart[key]


def sets_of_night(items: Items, rows: IntArray, room: int, cost: float) -> Sets:
    """All sets of one night, of its items `rows` (n,), that earn the night, by whom they serve."""
    worth, both = items.worth[rows], items.both[rows[:, None], rows]
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
            fit = (demand[i] != demand[j]) | (demand[j] != demand[k]) | (items.most[demand[i]] >= MOST_SLOTS)
            every.append((np.stack([i, j, k], axis=1)[fit], value[fit]))
    table = np.full((sum(len(one) for one, _ in every), MOST_SLOTS), -1, dtype=np.int64)
    value = np.concatenate([one for _, one in every]) - cost
    top = 0
    for one, _ in every:
        table[top : top + len(one), : one.shape[1]] = rows[one]
        top += len(one)
    good = value > 0.0
    return _by_choice(items, table[good], value[good])


def _by_choice(items: Items, table: IntArray, value: FloatArray) -> Sets:
    # Whom a set serves as one number; so few of them are there that the bits are those of the numbers, not of the sets.
    owner = np.append(items.demand, items.most.size)
    base = items.most.size + 1
    number = (owner[table[:, 0]] * base + owner[table[:, 1]]) * base + owner[table[:, 2]]
    present = np.flatnonzero(np.bincount(number))
    bit = np.append(1 << np.arange(items.most.size), 0)
    one, two, three = bit[present // base**2], bit[present // base % base], bit[present % base]
    bits = np.stack([one | two | three, (one & two) | (one & three) | (two & three), one & two & three], axis=1)
    kinds, kind = np.unique(bits, axis=0, return_inverse=True)
    rank = np.zeros(base**3, dtype=np.int64)
    rank[present] = kind.ravel()
    choice = rank[number].astype(np.uint16 if len(kinds) < 2**16 else np.int64)
    by_value = np.argsort(-value, kind="stable")
    order = by_value[np.argsort(choice[by_value], kind="stable")]
    begins = np.append(0, np.cumsum(np.bincount(choice, minlength=len(kinds))))
    serves, twice, thrice = kinds.T
    return Sets(items, table[order], value[order], (serves, twice, thrice), begins)


def _whole(worth: FloatArray) -> FloatArray:
    """Worth in whole quanta, as the program compares it; NEVER stays."""
    return np.where(np.isfinite(worth), np.round(np.nan_to_num(worth, neginf=0.0) / QUANTUM) * QUANTUM, NEVER)
