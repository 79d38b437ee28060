"""The best agenda with a site for each night: every slot of every site in one program, the way and changes counted.

A night at a site is a night of its own in the program, so that its way costs what it costs; two sites of one night
share the dish's time there, and where the program takes both all the same, the night is settled on the better one.
What a change costs hangs together over nights: runs of nights at one site are tried at their neighbours', then every
choice with one change. A choice without a change is an agenda of one site, any other is worth the program's bound less
its changes at most: so it is known how far from the best a choice may be.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise, permutations

import numpy as np
import numpy.typing as npt

from pipeline.agenda.agenda import held_by_nobody, join, make_problem, proposed
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.commitments import Commitments, Kept
from pipeline.agenda.contacts import contacts_of
from pipeline.agenda.milp_hours import SiteHours
from pipeline.agenda.milp_model import Problem
from pipeline.agenda.milp_solve import choose
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.agenda.ties import second_criterion

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

# Rounds in which runs of nights are tried at another site.
MOST_ROUNDS = 6
# So many choices with one change are tried one by one where the bound leaves room for a better one.
MOST_SPLITS = 40
SMALL = 1e-6


@dataclass(frozen=True)
class Ground:
    """A site's slots: `pool` on the nights of the span, `own` the same on its grid's; what the way costs a night.

    `held` is what is agreed already, at any site; `nights_here` are nights of the span on which some of it is here.
    """

    grid: SlotGrid
    pool: Candidates
    own: Candidates
    way_cost: float
    held: Commitments = field(default_factory=held_by_nobody)
    nights_here: tuple[int, ...] = ()


@dataclass(frozen=True)
class Chosen:
    """Slots by time and the site of each; contacts to expect; `net` is their worth less all costs.

    `gap` is by how much another choice may be better at most, None where nothing bounds it.
    `at` leads from each night in use to its site, in order of the nights, those with agreed slots (`held_at`) included.
    """

    slots: tuple[Kept, ...]
    sites: tuple[int, ...]
    contacts: float
    net: float
    gap: float | None
    held_at: tuple[tuple[int, int], ...] = ()

    @property
    def at(self) -> dict[int, int]:
        """The site of each night in use."""
        mine = {one.night: site for one, site in zip(self.slots, self.sites, strict=True)}
        return dict(sorted((mine | dict(self.held_at)).items()))

    @property
    def changes(self) -> int:
        """How often the site is another than on the night set up before."""
        return changes_of(list(self.at.values()))


def changes_of(sites: Sequence[int]) -> int:
    """How often neighbours in a row differ."""
    return sum(one != other for one, other in pairwise(sites))


@dataclass(frozen=True)
class _Solved:
    chosen: Chosen
    bound: float


def best_alone(grounds: Sequence[Ground], site: int, nights: int) -> Chosen:
    """The best agenda of the whole span at one site."""
    allowed = np.zeros((len(grounds), nights), dtype=bool)
    allowed[site] = True
    solved = _solved(grounds, allowed)
    return dataclasses.replace(solved.chosen, gap=_gap(solved.bound, solved.chosen.net))


def best_choice(grounds: Sequence[Ground], nights: int, alone: Sequence[Chosen]) -> Chosen:
    """The best agenda with a site for each night; `alone` are those of one site each, to begin from."""
    relaxed = _solved(grounds, np.ones((len(grounds), nights), dtype=bool), bounded=True)
    best = _best([relaxed.chosen, *alone])
    for start in (relaxed.chosen, best):
        best = _best([best, _with_fewer_changes(grounds, nights, start)])
    # A choice without a change is one of the agendas of one site; any other pays for one change at least.
    cost = grounds[0].grid.inputs.season.policy.site_change_cost
    # Where nothing bounds the agenda of one site, that of all sites together does.
    single = min(max(np.inf if one.gap is None else one.net + one.gap for one in alone), relaxed.bound)
    bound = max(single, relaxed.bound - cost)
    splits = list(_splits(grounds, nights)) if bound > best.net + SMALL else []
    if 0 < len(splits) <= MOST_SPLITS:
        # Each choice with one change; a better one pays for two at least.
        tried = [_solved(grounds, one) for one in splits]
        best = _best([best, *(one.chosen for one in tried)])
        bound = min(bound, max(single, relaxed.bound - 2.0 * cost, *(one.bound - cost for one in tried)))
    return dataclasses.replace(best, gap=_gap(bound, best.net))


def _best(choices: Sequence[Chosen]) -> Chosen:
    """The first of the best."""
    return max(choices, key=lambda one: round(one.net, 6))


def _gap(bound: float, net: float) -> float | None:
    if not np.isfinite(bound):
        return None
    return bound - net if bound - net > SMALL else 0.0


def _splits(grounds: Sequence[Ground], nights: int) -> Iterator[BoolArray]:
    """One site up to a night with slots, another from there on: every such pair at every such night."""
    some = np.unique(np.concatenate([one.pool.night for one in grounds]))
    place = np.arange(nights)
    for night in some[1:]:
        for before, after in permutations(range(len(grounds)), 2):
            yield _one_each(np.where(place < night, before, after), len(grounds))


def _with_fewer_changes(grounds: Sequence[Ground], nights: int, chosen: Chosen) -> Chosen:
    """From a choice on, each run of nights at one site tried at the site of the run before and behind it.

    Nights not in use go with those before them, so that another night of a run may take the place of one.
    """
    for _ in range(MOST_ROUNDS):
        tried = [_solved(grounds, _one_each(filled(at, nights), len(grounds))).chosen for at in _moves(chosen.at)]
        better = _best([chosen, *tried])
        if better.net <= chosen.net + SMALL:
            return chosen
        chosen = better
    return chosen


def _moves(at: dict[int, int]) -> list[dict[int, int]]:
    """The nights in use with one run of them at the site of a neighbour, and as they are."""
    nights, sites = list(at), list(at.values())
    edges = [0, *(place for place in range(1, len(sites)) if sites[place] != sites[place - 1]), len(sites)]
    moves = [at] if at else []
    for run, (first, last) in enumerate(pairwise(edges)):
        near = [sites[edges[other]] for other in (run - 1, run + 1) if 0 <= other < len(edges) - 1]
        moves += [at | dict.fromkeys(nights[first:last], site) for site in dict.fromkeys(near)]
    return moves


def filled(at: dict[int, int], nights: int) -> IntArray:
    """A site for every night, (nights,): that of the night in use before it, else of the first one; of none the first.

    `at` leads from nights in use to their sites.
    """
    if not at:
        return np.zeros(nights, dtype=np.int64)
    used = sorted(at)
    last = np.maximum(np.searchsorted(used, np.arange(nights), side="right") - 1, 0)
    return np.array([at[night] for night in used], dtype=np.int64)[last]


def _one_each(site: IntArray, sites: int) -> BoolArray:
    """One site allowed on each night, (nights,), as a table of sites and nights."""
    return np.asarray(site[None, :] == np.arange(sites)[:, None])


def _solved(grounds: Sequence[Ground], allowed: BoolArray, bounded: bool = False) -> _Solved:
    """The best slots where each site (rows) may be used on these nights (columns); a night has one site in the end.

    The bound is that of the first program, in which a night may still have two; of a large one it is infinite unless
    asked for (`bounded`).
    """
    bound = np.inf
    for round_ in range(allowed.shape[1] + 1):
        problem, people, pool, sites = _problem(grounds, allowed)
        choice = choose(problem, bounded=bounded and round_ == 0)
        if round_ == 0:
            bound = choice.bound
        taken = sorted(choice.taken, key=lambda one: int(pool.start[one[1]]))
        at = sites[[slot for _, slot in taken]] if taken else np.zeros(0, dtype=np.int64)
        nights = pool.night[[slot for _, slot in taken]] if taken else at
        double = next((int(one) for one in np.unique(nights) if np.unique(at[nights == one]).size > 1), None)
        if double is None:
            break
        # The site with more of the night's chances keeps it.
        mine = [place for place, night in enumerate(nights) if night == double]
        worth = np.zeros(len(grounds))
        np.add.at(worth, at[mine], [float(pool.chance_met[taken[place][1]]) for place in mine])
        allowed = allowed.copy()
        allowed[np.arange(len(grounds)) != int(np.argmax(worth)), double] = False
    slots = proposed(people, pool, taken)
    policy, wishes = grounds[0].grid.inputs.season.policy, grounds[0].grid.inputs.wishes
    held_at = tuple((night, site) for site, one in enumerate(grounds) for night in one.nights_here)
    chosen = Chosen(slots, tuple(int(one) for one in at), contacts_of(slots, wishes), choice.value, None, held_at)
    return _Solved(dataclasses.replace(chosen, net=chosen.net - policy.site_change_cost * chosen.changes), bound)


def _problem(
    grounds: Sequence[Ground], allowed: BoolArray
) -> tuple[Problem, list[tuple[int, str]], Candidates, IntArray]:
    """All allowed slots as one problem: a night at a site is a night of its own, whose way is paid as it is begun."""
    rows = [np.flatnonzero(allowed[site][one.pool.night]) for site, one in enumerate(grounds)]
    pools = [one.pool.take(mine) for one, mine in zip(grounds, rows, strict=True)]
    pool = pools[0]
    for other in pools[1:]:
        pool = join(pool, other)
    site = np.repeat(np.arange(len(grounds)), [mine.size for mine in rows])
    grid, count = grounds[0].grid, allowed.shape[1]
    # Windows are those of each site's own grid: only the ties ask for them, each of its own.
    second = [second_criterion(one.grid, one.own.take(mine)) for one, mine in zip(grounds, rows, strict=True)]
    held = grounds[0].held
    problem, people = make_problem(grid, held, dataclasses.replace(pool, window=pool.window * 0), {})
    way = np.array([one.way_cost for one in grounds])
    in_use = np.zeros((len(grounds), count), dtype=bool)
    for number, one in enumerate(grounds):
        in_use[number, list(one.nights_here)] = True
    return (
        dataclasses.replace(
            problem,
            night=site * count + pool.night,
            room=np.tile(problem.room, len(grounds)),
            open_nights=in_use.ravel(),
            second=np.concatenate(second),
            hours=_hours(problem, pool, way, site, in_use),
        ),
        people,
        pool,
        site,
    )


def _hours(problem: Problem, pool: Candidates, way: FloatArray, site: IntArray, in_use: BoolArray) -> SiteHours:
    """The hours of nights at sites: each slot's way, (sites,), is paid; `site` is that of each slot of the pool, (n,).

    What is agreed (`in_use`, sites and nights) has its hours at its site.
    """
    hours, nowhere = problem.hours, np.full(in_use.shape, np.nan)
    if hours is None:
        return SiteHours(0.0, pool.end, way[site], nowhere.ravel(), nowhere.ravel(), np.repeat(way, in_use.shape[1]))
    first, last = (np.where(in_use, held[None, :], nowhere).ravel() for held in (hours.held_first, hours.held_last))
    return SiteHours(
        minute_cost=hours.minute_cost,
        end=pool.end,
        arriving=way[site] + hours.arriving,
        held_first=first,
        held_last=last,
        held_arriving=(hours.held_arriving[None, :] + way[:, None]).ravel(),
    )
