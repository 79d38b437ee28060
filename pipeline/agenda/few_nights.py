"""The best slots of one night or a weekend by looking at every set: what nights are worth is asked for many times.

The same problem and figures as `milp_solve`, for nights on which nothing is agreed and with at most three slots each.
Sets of one night are put together by whom they serve; whoever is served on two nights couples their slots.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import numpy.typing as npt

from pipeline.agenda.milp_model import LEAST_NIGHT_COST, NEVER, QUANTUM, Problem
from pipeline.agenda.night_sets import MOST_SLOTS, Items, Sets, sets_of_night

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

MOST_NIGHTS, MOST_DEMANDS = 3, 60
# Sets of three of so many slots of a night take some hundredths of a second.
MOST_ITEMS = 130
# Choices of partners on all nights that are looked at, those of them tried one by one, and slots of one such choice
# looked at together: beyond them, on a weekend with many partners, a trifle may be left.
MOST_COMBINED, FIRST_TRIED, MOST_TRIED, MOST_TOGETHER = 2_000_000, 100, 500, 100_000
# Sums of the same values in another order differ by less.
ROUNDING = 1e-9


def best_of_few_nights(problem: Problem) -> tuple[tuple[int, int], ...] | None:
    """(demand, slot) of the best set; None where this is not the way to find it."""
    items = Items(problem)
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
    sets = [sets_of_night(items, mine, int(most), cost) for mine, most in zip(rows, room, strict=True)]
    chosen = _together(items, sets, cost)
    if chosen is None:
        return None
    return tuple((int(items.demand[one]), int(items.slot[one])) for one in chosen)


def _together(items: Items, nights: list[Sets], cost: float) -> list[int] | None:
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

    def __init__(self, items: Items, nights: list[Sets], cost: float) -> None:
        self.items, self.nights, self.cost = items, nights, cost
        self.at_best = [self._at_best(one) for one in nights]

    def _at_best(self, night: Sets) -> FloatArray:
        """What the best slot of each demand in any set of a night is worth, (demands,)."""
        best = np.zeros(self.items.thrice.size)
        slots = night.slots(-np.inf)
        np.maximum.at(best, self.items.demand[slots], self.items.worth[slots])
        return best

    @property
    def _demands(self) -> range:
        return range(self.items.thrice.size)

    def best(self, least: float) -> tuple[float, list[int]]:
        """(worth, items) of the best combination that is worth more than `least`."""
        tops = [one.top for one in self.nights]
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
            (a, b): self.nights[a].served[picks[a]] & self.nights[b].served[picks[b]]
            for a, b in combinations(range(len(picks)), 2)
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
                real, mine = self._exact(here, both, min(above, slack), found)
                if real > found:
                    found, rows = real, mine
        return (found, rows) if rows else (0.0, [])

    def _rows(self, choice: list[int]) -> list[int]:
        every = np.concatenate([one.items[one.begins[each]] for one, each in zip(self.nights, choice, strict=True)])
        return [int(row) for row in every[every >= 0]]

    def _each_at_best(self, night: int, choice: IntArray) -> FloatArray:
        """What the demands of each choice are worth on a night if each had its best slot there, less the night."""
        one, items = self.nights[night], self.items
        serves, twice = one.served[choice], one.served_twice[choice]
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
        slots = [night.slots(least) for night, least in zip((one, other), needed, strict=True)]
        twice = one.served_twice[picks[0]] | other.served_twice[picks[1]]
        for demand in self._demands:
            both = (shared >> demand) & 1 == 1
            if not both.any():
                continue
            here, there = (held[items.demand[held] == demand] for held in slots)
            beyond = items.both[np.ix_(here, there)]
            together = items.worth[here][:, None] + items.worth[there][None] + beyond
            alone = [self.at_best[night][demand] for night in pair]
            more[both] += float(beyond.max(initial=NEVER))
            from_best[both] += float(together.max(initial=NEVER)) - float(sum(alone))
            more[both & ((twice >> demand) & 1 == 1) & ~items.thrice[demand]] = NEVER
        return more, from_best

    def _exact(
        self, choice: list[int], shared: dict[tuple[int, int], int], above: float, known: float
    ) -> tuple[float, list[int]]:
        """The best slots where it is settled who is served on which night; its bound lies so far above what is known.

        A set that falls short of its night's best by more cannot be part of anything better.
        """
        tops = [float(one.best[each]) for one, each in zip(self.nights, choice, strict=True)]
        rows = [
            self._apart(one, each, _coupling(night, shared), top - above)
            for night, (one, each, top) in enumerate(zip(self.nights, choice, tops, strict=True))
        ]
        more = {pair: self._coupled(pair, rows, demands) for pair, demands in shared.items() if demands}
        values = [one.value[mine] for one, mine in zip(self.nights, rows, strict=True)]
        kept = _promising(values, more, known)
        if not all(mine.size for mine in kept):
            return NEVER, []
        values = [value[mine] for value, mine in zip(values, kept, strict=True)]
        more = {(a, b): matrix[np.ix_(kept[a], kept[b])] for (a, b), matrix in more.items()}
        chosen, groups = [0] * len(values), _groups(values)
        while True:
            before = list(chosen)
            for some in groups:
                value, chosen = _best_with(values, more, some, chosen)
            if chosen == before or len(groups) == 1:
                break
        every = np.concatenate(
            [
                one.items[mine[left[place]]]
                for one, mine, left, place in zip(self.nights, rows, kept, chosen, strict=True)
            ]
        )
        return value, [int(row) for row in every[every >= 0]]

    def _apart(self, night: Sets, choice: int, demands: int, least: float) -> IntArray:
        """Of one choice's sets that are worth as much, the best first, the first with their slots of these demands.

        What others have beside them plays no part on another night.
        """
        if (choice, demands) not in night.apart:
            rows = np.arange(night.begins[choice], night.begins[choice + 1])
            key = np.zeros(rows.size, dtype=np.int64)
            for demand in self._bits(demands):
                key = key * self.items.demand.size + self._slot_of(night, demand)[rows]
            night.apart[choice, demands] = rows[np.sort(np.unique(key, return_index=True)[1])]
        rows = night.apart[choice, demands]
        return rows[: np.searchsorted(-night.value[rows], -least, side="right")]

    def _coupled(self, pair: tuple[int, int], rows: list[IntArray], demands: int) -> FloatArray:
        """What slots of the same demands in each two sets of two nights, (k, l), have more than each alone."""
        more = np.zeros((rows[pair[0]].size, rows[pair[1]].size))
        for demand in self._bits(demands):
            # Each set serves it once: who has two slots on a night has none on another.
            here, there = (self._slot_of(self.nights[night], demand)[rows[night]] for night in pair)
            more += self.items.both[here[:, None], there]
        return more

    def _bits(self, demands: int) -> list[int]:
        return [demand for demand in self._demands if (demands >> demand) & 1]

    def _slot_of(self, night: Sets, demand: int) -> IntArray:
        """The first slot of each set of a night that serves a demand, (s,); any where none does."""
        if demand not in night.first_slots:
            mine = (night.items >= 0) & (self.items.demand[night.items] == demand)
            night.first_slots[demand] = night.items[np.arange(len(mine)), np.argmax(mine, axis=1)]
        return night.first_slots[demand]


def _promising(values: list[FloatArray], more: dict[tuple[int, int], FloatArray], known: float) -> list[IntArray]:
    """Of each night the sets, by index, that could be part of anything above what is known.

    `values` (k,) of each night's sets, `more` (k, l) what sets of two nights have beyond each alone.
    """
    kept = []
    for night, value in enumerate(values):
        bound = value.copy()
        for other, theirs in enumerate(values):
            matrix = more.get((min(night, other), max(night, other)))
            if matrix is not None:
                bound += ((matrix if night < other else matrix.T) + theirs).max(axis=1)
            elif other != night:
                bound += theirs.max()
        bound += sum(max(0.0, float(matrix.max())) for pair, matrix in more.items() if night not in pair)
        kept.append(np.flatnonzero(bound > known - ROUNDING))
    return kept


def _groups(values: list[FloatArray]) -> list[tuple[int, ...]]:
    """Nights to be looked at together: all of them, or where that is too much two by two in turn."""
    every = tuple(range(len(values)))
    small = int(np.prod([value.size for value in values])) <= MOST_TOGETHER
    return [every] if small else list(combinations(every, 2))


def _best_with(
    values: list[FloatArray], more: dict[tuple[int, int], FloatArray], some: tuple[int, ...], chosen: list[int]
) -> tuple[float, list[int]]:
    """The best sets of some nights, those of the others as they are chosen."""
    held = [slice(None) if night in some else slice(row, row + 1) for night, row in enumerate(chosen)]
    parts = [value[mine] for value, mine in zip(values, held, strict=True)]
    total = np.zeros([part.size for part in parts])
    for place, part in enumerate(parts):
        total = total + part.reshape([-1 if axis == place else 1 for axis in range(len(parts))])
    for pair, matrix in more.items():
        mine = matrix[held[pair[0]], held[pair[1]]]
        total = total + mine.reshape([part.size if axis in pair else 1 for axis, part in enumerate(parts)])
    best = np.unravel_index(int(np.argmax(total)), total.shape)
    rows = [int(best[night]) if night in some else chosen[night] for night in range(len(values))]
    return float(total[best]), rows


def _coupling(night: int, shared: dict[tuple[int, int], int]) -> int:
    """The demands, as bits, that a night shares with any other."""
    bits = 0
    for pair, demands in shared.items():
        bits |= demands if night in pair else 0
    return bits
