"""The best slots of one night or a weekend by looking at every set: what nights are worth is asked for many times.

The same problem and figures as `milp_solve`, for nights on which nothing is agreed and with at most three slots each.
Sets of one night are put together by whom they serve; whoever is served on two nights couples their slots.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from pipeline.agenda.milp_model import LEAST_NIGHT_COST, NEVER, QUANTUM, Problem

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

MOST_SLOTS, MOST_NIGHTS, MOST_DEMANDS = 3, 3, 60
# Sets of three of so many slots of a night take some hundredths of a second.
MOST_ITEMS = 130
# Choices of partners on all nights that are looked at, those of them tried one by one, and slots of one such choice
# looked at together: beyond them, on a weekend with many partners, a trifle may be left.
MOST_COMBINED, FIRST_TRIED, MOST_TRIED, MOST_TOGETHER = 2_000_000, 100, 500, 100_000


@dataclass(frozen=True)
class _Sets:
    """Sets of slots of one night, (s,), those of one choice of demands together and the best of them first.

    Items are -1 where there are fewer than three. `serves` and `twice` are bits of the demands that have a slot, or
    two, in it; worth less night and hours, contacts. `begins` (c + 1,) bound the sets of each choice.
    """

    items: IntArray
    value: FloatArray
    serves: IntArray
    twice: IntArray
    begins: IntArray

    @property
    def best(self) -> FloatArray:
        """Of each choice the best set's value, (c,)."""
        return self.value[self.begins[:-1]]

    def of(self, choice: int, least: float) -> tuple[IntArray, FloatArray]:
        """The sets of one choice that are worth as much at least: items (k, 3) and values (k,)."""
        rows = slice(int(self.begins[choice]), int(self.begins[choice + 1]))
        good = self.value[rows] >= least
        return self.items[rows][good], self.value[rows][good]


def best_of_few_nights(problem: Problem) -> tuple[tuple[int, int], ...] | None:
    """(demand, slot) of the best set; None where this is not the way to find it."""
    items = _Items(problem)
    nights = np.unique(items.night)
    if not nights.size or problem.most_nights < 1:
        return ()
    rows = [np.flatnonzero(items.night == night) for night in nights]
    few = nights.size <= min(MOST_NIGHTS, problem.most_nights) and len(problem.demands) <= MOST_DEMANDS
    if not few or problem.open_nights[nights].any() or max(map(len, rows)) > MOST_ITEMS:
        return None
    room = problem.room[nights]
    if room.max() > MOST_SLOTS:
        return None
    cost = max(problem.night_cost, LEAST_NIGHT_COST)
    sets = [_sets_of_night(items, mine, int(most), cost) for mine, most in zip(rows, room, strict=True)]
    chosen = _together(items, sets, cost)
    if chosen is None:
        return None
    return tuple((int(items.demand[one]), int(items.slot[one])) for one in chosen)


class _Items:
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


def _sets_of_night(items: _Items, rows: IntArray, room: int, cost: float) -> _Sets:
    """All sets of one night that earn the night, by whom they serve."""
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


def _by_choice(items: _Items, table: IntArray, value: FloatArray) -> _Sets:
    bits = np.where(table >= 0, 1 << items.demand[table], 0).astype(np.int64)
    serves = np.bitwise_or.reduce(bits, axis=1)
    twice = (bits[:, 0] & bits[:, 1]) | (bits[:, 0] & bits[:, 2]) | (bits[:, 1] & bits[:, 2])
    order = np.lexsort((-value, twice, serves))
    table, value, serves, twice = table[order], value[order], serves[order], twice[order]
    fresh = np.ones(order.size, dtype=bool)
    fresh[1:] = (np.diff(serves) != 0) | (np.diff(twice) != 0)
    return _Sets(table, value, serves, twice, np.append(np.flatnonzero(fresh), order.size))


def _together(items: _Items, nights: list[_Sets], cost: float) -> list[int] | None:
    """The best sets of all nights together; None where there is too much to look at."""
    nights = [one for one in nights if one.value.size]
    best, chosen = 0.0, list[int]()
    for count in range(1, len(nights) + 1):
        for some in combinations(nights, count):
            try:
                value, rows = _Combination(items, list(some), cost).best(best)
            except _TooMany:
                return None
            if value > best:
                best, chosen = value, rows
    return chosen


class _TooMany(Exception):
    """More sets share partners than can be looked at one by one."""


class _Combination:
    """One set of each of some nights, in order of time; who is served on two of them couples their slots."""

    def __init__(self, items: _Items, nights: list[_Sets], cost: float) -> None:
        self.items, self.nights, self.cost = items, nights, cost
        self.at_best = [
            np.array([items.worth[_slots_of(items, one, demand, -np.inf)].max(initial=0.0) for demand in self._demands])
            for one in nights
        ]

    @property
    def _demands(self) -> range:
        return range(self.items.thrice.size)

    def best(self, least: float) -> tuple[float, list[int]]:
        """(worth, items) of the best combination that is worth more than `least`."""
        tops = [float(one.value.max()) for one in self.nights]
        choices = [
            np.flatnonzero(one.best + sum(tops) - top > least) for one, top in zip(self.nights, tops, strict=True)
        ]
        size = int(np.prod([one.size for one in choices]))
        if size > MOST_COMBINED:
            raise _TooMany
        if not size:
            return 0.0, []
        picks = [grid.ravel() for grid in np.meshgrid(*choices, indexing="ij")]
        value = np.sum([one.best[pick] for one, pick in zip(self.nights, picks, strict=True)], axis=0)
        shared = {
            (a, b): self._serves(a, picks[a]) & self._serves(b, picks[b]) for a, b in combinations(range(len(picks)), 2)
        }
        clash = np.bitwise_or.reduce([*shared.values(), np.zeros(size, dtype=np.int64)]) != 0
        found, rows = least, list[int]()
        if (~clash).any():
            place = int(np.argmax(np.where(clash, -np.inf, value)))
            if value[place] > found:
                found, rows = float(value[place]), self._rows([int(pick[place]) for pick in picks])
        bound = np.where(clash, value, -np.inf)
        # A second bound: everybody at its best, whatever else a night holds.
        loose = np.sum([self._each_at_best(night, pick) for night, pick in enumerate(picks)], axis=0)
        for pair, demands in shared.items():
            needed = [found - sum(tops) + tops[one] for one in pair]
            more, from_best = self._most_of_shared(pair, demands, [picks[one] for one in pair], needed)
            bound, loose = bound + more, loose + from_best
        bound = np.minimum(bound, loose)
        order = np.argsort(-bound, kind="stable")
        for slack, most in ((0.0, FIRST_TRIED), (np.inf, MOST_TRIED)):
            # First each choice's best sets alone, so that the bound has something good to be held against.
            for tried, place in enumerate(order):
                above = float(bound[place]) - found
                if above <= QUANTUM / 2 or tried == most:
                    break
                here = [int(pick[place]) for pick in picks]
                both = {pair: int(demands[place]) for pair, demands in shared.items()}
                real, mine = self._exact(here, both, min(above, slack))
                if real > found:
                    found, rows = real, mine
        return (found, rows) if rows else (0.0, [])

    def _serves(self, night: int, choice: IntArray) -> IntArray:
        one = self.nights[night]
        return one.serves[one.begins[:-1]][choice]

    def _rows(self, choice: list[int]) -> list[int]:
        every = np.concatenate([one.items[one.begins[each]] for one, each in zip(self.nights, choice, strict=True)])
        return [int(row) for row in every[every >= 0]]

    def _each_at_best(self, night: int, choice: IntArray) -> FloatArray:
        """What the demands of each choice are worth on a night if each had its best slot there, less the night."""
        one, items = self.nights[night], self.items
        serves, twice = (bits[one.begins[:-1]][choice] for bits in (one.serves, one.twice))
        total = np.full(choice.size, -self.cost)
        for demand in self._demands:
            slots = (serves >> demand & 1) + (twice >> demand & 1) * (2.0 if items.thrice[demand] else 1.0)
            total += self.at_best[night][demand] * slots
        return total

    def _most_of_shared(
        self, pair: tuple[int, int], shared: IntArray, picks: list[IntArray], needed: list[float]
    ) -> tuple[FloatArray, FloatArray]:
        """What pairs of slots on two nights have at most beyond each alone, below nought, for each combination.

        Beyond each alone, and beyond the best slot of each alone. Only slots of sets that are worth what is `needed` on
        each night can be part of anything better.
        """
        items, more, from_best = self.items, np.zeros(shared.size), np.zeros(shared.size)
        one, other = (self.nights[night] for night in pair)
        for demand in self._demands:
            both = (shared >> demand) & 1 == 1
            if not both.any():
                continue
            here, there = (
                _slots_of(items, night, demand, least) for night, least in zip((one, other), needed, strict=True)
            )
            beyond = items.both[np.ix_(here, there)]
            together = items.worth[here][:, None] + items.worth[there][None] + beyond
            alone = [self.at_best[night][demand] for night in pair]
            more[both] += float(beyond.max(initial=NEVER))
            from_best[both] += float(together.max(initial=NEVER)) - float(sum(alone))
            twice = one.twice[one.begins[:-1]][picks[0]] | other.twice[other.begins[:-1]][picks[1]]
            more[both & ((twice >> demand) & 1 == 1) & ~items.thrice[demand]] = NEVER
        return more, from_best

    def _exact(self, choice: list[int], shared: dict[tuple[int, int], int], above: float) -> tuple[float, list[int]]:
        """The best slots where it is settled who is served on which night; its bound lies so far above what is known.

        A set that falls short of its night's best by more cannot be part of anything better.
        """
        sets = [one.of(each, float(one.best[each]) - above) for one, each in zip(self.nights, choice, strict=True)]
        chosen = [0] * len(sets)
        while True:
            before = list(chosen)
            for some in self._groups(sets):
                value, chosen = self._best_with(sets, shared, some, chosen)
            if chosen == before or len(self._groups(sets)) == 1:
                break
        every = np.concatenate([table[row] for (table, _), row in zip(sets, chosen, strict=True)])
        return value, [int(row) for row in every[every >= 0]]

    def _groups(self, sets: list[tuple[IntArray, FloatArray]]) -> list[tuple[int, ...]]:
        """Nights to be looked at together: all of them, or where that is too much two by two in turn."""
        every = tuple(range(len(sets)))
        small = int(np.prod([values.size for _, values in sets])) <= MOST_TOGETHER
        return [every] if small else list(combinations(every, 2))

    def _best_with(
        self,
        sets: list[tuple[IntArray, FloatArray]],
        shared: dict[tuple[int, int], int],
        some: tuple[int, ...],
        chosen: list[int],
    ) -> tuple[float, list[int]]:
        """The best sets of some nights, those of the others as they are chosen."""
        held = [
            (table, values) if night in some else (table[[row]], values[[row]])
            for night, ((table, values), row) in enumerate(zip(sets, chosen, strict=True))
        ]
        shape = [values.size for _, values in held]
        total = np.zeros(shape)
        for place, (_, values) in enumerate(held):
            total = total + values.reshape([-1 if axis == place else 1 for axis in range(len(held))])
        for (a, b), demands in shared.items():
            more = self._coupled(held[a][0], held[b][0], demands)
            total = total + more.reshape([shape[axis] if axis in (a, b) else 1 for axis in range(len(held))])
        best = np.unravel_index(int(np.argmax(total)), total.shape)
        rows = [int(best[night]) if night in some else chosen[night] for night in range(len(sets))]
        return float(total[best]), rows

    def _coupled(self, one: IntArray, other: IntArray, demands: int) -> FloatArray:
        """What slots of the same demands in each two sets, (k, l), have more than each alone."""
        more = np.zeros((len(one), len(other)))
        for demand in self._demands:
            if not (demands >> demand) & 1:
                continue
            # Each set serves it once: who has two slots on a night has none on another.
            here, there = (_slot_of(self.items, table, demand) for table in (one, other))
            more += self.items.both[np.ix_(here, there)]
        return more


def _slots_of(items: _Items, sets: _Sets, demand: int, least: float) -> IntArray:
    """The slots with which any set of a night that is worth as much serves a demand."""
    good = sets.items[sets.value >= least]
    held = np.unique(good[good >= 0])
    return held[items.demand[held] == demand]


def _slot_of(items: _Items, table: IntArray, demand: int) -> IntArray:
    """The first slot of each set that serves a demand, (k,)."""
    mine = (table >= 0) & (items.demand[table] == demand)
    return table[np.arange(len(table)), np.argmax(mine, axis=1)]


def _whole(worth: FloatArray) -> FloatArray:
    """Worth in whole quanta, as the program compares it; NEVER stays."""
    return np.where(np.isfinite(worth), np.round(np.nan_to_num(worth, neginf=0.0) / QUANTUM) * QUANTUM, NEVER)
