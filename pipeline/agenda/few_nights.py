"""The best slots of one night or a weekend by looking at every set: what nights are worth is asked for many times.

The same problem and figures as `milp_solve`, for nights on which nothing is agreed and with at most three slots each.
Sets of one night are put together by whom they serve; whoever is served on two nights couples their slots.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import numpy.typing as npt

from pipeline.agenda.milp_model import LEAST_NIGHT_COST, NEVER, QUANTUM, Problem
from pipeline.agenda.night_bounds import Grid, Pair, bits_of, closer_bounds, make_grid
from pipeline.agenda.night_sets import MOST_SLOTS, Items, Sets, sets_of_night
from pipeline.agenda.night_sieve import Link, Sieve

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

MOST_NIGHTS, MOST_DEMANDS = 3, 60
# Sets of three of so many slots of a night take some hundredths of a second.
MOST_ITEMS = 130
# Choices of partners on all nights that are looked at, those of them tried one by one, and slots of one such choice
# looked at together: beyond them, on a weekend with many partners, a trifle may be left.
MOST_COMBINED, MOST_TRIED, MOST_TOGETHER = 2_000_000, 500, 100_000


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
    if room.min() < 1 or room.max() > MOST_SLOTS:
        return None
    cost = max(problem.night_cost, LEAST_NIGHT_COST)
    sets = [sets_of_night(items, mine, int(most), cost) for mine, most in zip(rows, room, strict=True)]
    chosen = _together([one for one in sets if one.value.size], cost)
    if chosen is None:
        return None
    return tuple((int(items.demand[one]), int(items.slot[one])) for one in chosen)


def _together(nights: list[Sets], cost: float) -> list[int] | None:
    """The best sets of all nights together; None where there is too much to look at."""
    best, chosen = 0.0, list[int]()
    for one in nights:
        if one.top > best:
            best, chosen = one.top, _items(one.items[[one.begins[np.argmax(one.best)]]])
    together = [some for count in range(2, len(nights) + 1) for some in combinations(nights, count)]
    grids = [_grid_of(some, cost, best) for some in together]
    # First the best sets of all choices, so that bounds have something good to be held against.
    for some, grid in zip(together, grids, strict=True):
        if grid is None:
            return None
        if grid.real.max(initial=NEVER) > best:
            best = float(grid.real.max())
            picks = grid.picks(np.array([np.argmax(grid.real)]))
            rows = [one.begins[pick[0]] for one, pick in zip(some, picks, strict=True)]
            chosen = _items(np.stack([one.items[row] for one, row in zip(some, rows, strict=True)]))
    for some, grid in zip(together, grids, strict=True):
        if grid is not None:
            value, mine = _better(some, grid, best)
            best, chosen = (value, mine) if mine else (best, chosen)
    return chosen


def _grid_of(nights: Sequence[Sets], cost: float, least: float) -> Grid | None:
    """All combinations of some nights' choices that could be worth more than `least`; None where they are too many."""
    spare = sum(one.top for one in nights) - least
    choices = [np.flatnonzero(one.best + spare - one.top > 0.0) for one in nights]
    return make_grid(nights, choices, cost) if np.prod([one.size for one in choices]) <= MOST_COMBINED else None


def _better(nights: Sequence[Sets], grid: Grid, known: float) -> tuple[float, list[int]]:
    """(worth, items) of the best sets of a grid, in order of time, if they are worth more than is known."""
    found, rows = known, list[int]()
    left = np.flatnonzero(((grid.bound > found + QUANTUM / 2) & (grid.real < grid.value)).ravel())
    picks, shared = grid.picks(left), grid.shared_at(left)
    bound = np.minimum(grid.bound.ravel()[left], closer_bounds(nights, picks, shared))
    for place in np.argsort(-bound, kind="stable")[:MOST_TRIED]:
        if bound[place] <= found + QUANTUM / 2:
            break
        links = [(pair, demand) for pair, bits in shared.items() for demand in bits_of(int(bits[place]))]
        real, mine = _exact(nights, [int(pick[place]) for pick in picks], links, found)
        if real > found:
            found, rows = real, mine
    return found, rows


def _items(every: IntArray) -> list[int]:
    """The items of sets (nights, 3), in order."""
    return [int(row) for row in every.ravel() if row >= 0]


def _exact(
    nights: Sequence[Sets], choice: Sequence[int], links: Sequence[Link], known: float
) -> tuple[float, list[int]]:
    """The best slots where it is settled who is served on which night, if they are worth more than is known."""
    linked = [sorted({demand for pair, demand in links if night in pair}) for night in range(len(nights))]
    rows = [one.apart(each, mine) for one, each, mine in zip(nights, choice, linked, strict=True)]
    rows = Sieve(nights, rows, links).above(known)
    if not all(mine.size for mine in rows):
        return NEVER, []
    values = [one.value[mine] for one, mine in zip(nights, rows, strict=True)]
    more = _coupled(nights, rows, links)
    chosen, groups = [0] * len(values), _groups(values)
    while True:
        before = list(chosen)
        for some in groups:
            value, chosen = _best_with(values, more, some, chosen)
        if chosen == before or len(groups) == 1:
            break
    return value, _items(np.stack([one.items[mine[at]] for one, mine, at in zip(nights, rows, chosen, strict=True)]))


def _coupled(nights: Sequence[Sets], rows: Sequence[IntArray], links: Sequence[Link]) -> dict[Pair, FloatArray]:
    """What slots of the same demands in each two sets of two nights, (k, l), have more than each alone."""
    more: dict[Pair, FloatArray] = {}
    for pair, demand in links:
        # Each set serves it once: who has two slots on a night has none on another.
        found = [nights[night].slots_of(demand) for night in pair]
        here, there = (slots[place[rows[night]]] for night, (slots, place) in zip(pair, found, strict=True))
        beyond = nights[0].source.both[here[:, None], there]
        more[pair] = more[pair] + beyond if pair in more else beyond
    return more


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
