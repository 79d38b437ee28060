"""Which slots to take: the set of greatest worth under the limits of dish, nights and people, found exactly.

By linear and integer programs (`solver`). Pairs of slots are priced into the linear relaxation as they are needed;
whatever its reduced worth proves unable to better the best set known is left out, so that nothing is lost (Barnhart et
al. 1998, Operations Research 46, 316, from memory). The search ends by a number of nodes, never by a clock.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt
from scipy import sparse

from pipeline.agenda.few_nights import MOST_ITEMS
from pipeline.agenda.milp_hours import Manning
from pipeline.agenda.milp_model import NEVER, UNITS, Choice, Columns, Problem, Program
from pipeline.agenda.milp_nights import bound_by_nights
from pipeline.agenda.solver import Relaxation, Rows, search

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

NODE_LIMIT = 20_000
# Nodes times columns of one program: a node takes the longer the more columns there are, and so many about ten seconds.
# Slots that stand in for each other can keep a search of two partners going for an hour that gains nothing.
EFFORT = 100_000
# Pairs taken up in one round of pricing, and the most that the last program may hold.
PRICED_AT_ONCE = 400
MOST_COLUMNS = 20_000
# Columns of the relaxation that are held from round to round; of so few all are taken up at once, which costs a tenth
# of the rounds.
MOST_IN_USE = 6_000
# From so many items on, in all or on one night, no integer program is asked: slots that stand in for each other make it
# take seconds a night and minutes a season (1,144 items over 55 nights: 14 s; 330 a night: not ended after 280 s). A
# night of fewer is looked at set by set.
MANY_ITEMS, MANY_A_NIGHT = 1_000, MOST_ITEMS + 1
# One partner who is up all day together with home has pairs enough for the program to search long among equals; many
# partners, or sites, with some pairs each have no such equals.
MANY_PAIRS = 6_000
SMALL = 1e-6
# What sets are worth is summed anew, so that they differ by more than this where they do: a tie may hang on less.
SAME = 1e-8
# The first program holds what may be short of the bound by this much (units, judged by how long searches took: mostly
# a dozen columns decide) and where hours count so many columns at least; there the next reaches so many times further
# if that was not enough.
FIRST_FLOOR, FIRST_COLUMNS, STEP = -2.0, 40, 4


@dataclass(frozen=True)
class Limits:
    """What ends a search: nodes, and nodes times columns."""

    node_limit: int = NODE_LIMIT
    effort: int = EFFORT

    def nodes(self, columns: Columns) -> int:
        """How many nodes a search over these columns may have."""
        return min(self.node_limit, max(1, self.effort // max(1, columns.demand.size)))


LIMITS = Limits()


def choose(problem: Problem, limits: Limits = LIMITS, bounded: bool = True) -> Choice:
    """The best set of slots, with a proven bound; where the limits end the search it lies above.

    Of a large problem a good set; its bound is infinite unless asked for (`bounded`).
    """
    if is_large(problem):
        kept = _kept_together(problem, limits) if problem.keep else ()
        return _choose_large(problem, kept, bounded)
    program = Program(problem)
    return _best(program, _Ground(program), limits)


def choose_by_nights(problem: Problem, limits: Limits = LIMITS) -> Callable[[int], Choice]:
    """What `choose` gives, without a bound for a large problem, at each number of nights that it is asked for.

    What these have in common is worked out once.
    """
    if is_large(problem):
        return lambda nights: choose(replace(problem, most_nights=nights), limits, bounded=False)
    program = Program(problem)
    ground = _Ground(program)
    return lambda nights: _best(program.allowing(nights), ground, limits)


def _best(program: Program, ground: _Ground, limits: Limits) -> Choice:
    """The best set of a small problem; `ground` is that of a program which differs in its number of nights at most."""
    found = _proven(program, ground, limits)
    if found.gap and not program.problem.keep:
        # What large problems are given may be better than where the search stood when it ended.
        other = _choose_large(program.problem, (), False)
        if other.value > found.value:
            return replace(found, taken=other.taken, value=other.value)
    return found


class _Ground:
    """All columns of a program, and its linear relaxation over them: the same for every number of nights."""

    def __init__(self, program: Program) -> None:
        self.program = program
        self.every = program.singles() + _pairs_within(program, np.ones(program.slot.size, dtype=bool))

    @cached_property
    def relaxation(self) -> Relaxation:
        """That over every column."""
        return _relaxation(self.program, 0, self.every)


def _choose_large(problem: Problem, kept: tuple[tuple[int, int], ...], bounded: bool) -> Choice:
    # Most seasons are small and never ask what loads here.
    from pipeline.agenda.large_solve import choose_large

    return choose_large(problem, kept, bounded)


def _proven(program: Program, ground: _Ground, limits: Limits) -> Choice:
    """The best set by an integer program, or what it had found when its limits ended it."""
    if not program.slot.size:
        return Choice((), 0.0, 0.0, 0, 0, 0)
    keep = _most_kept(program, limits) if program.kept.any() else 0
    if ground.every.demand.size <= FIRST_COLUMNS:
        # What no relaxation could make smaller.
        whole = _solve(program, ground.every, keep, limits)
        return _tell(program, whole, max(whole.objective, whole.bound), whole.nodes, ground.every.demand.size)
    bound, duals = _relax(program, keep, ground)
    reduced, alone = program.priced(duals)
    if program.manning is not None:
        return _by_nights(program, program.manning, keep, limits, (bound, reduced, alone), duals)
    first = _solve(program, _above(program, reduced, alone, FIRST_FLOOR)[0], keep, limits)
    # No set with a column of less than this can be better than the one found.
    floor = -(bound - first.objective) - 1.0
    columns, cut = _above(program, reduced, alone, floor)
    best = _solve(program, columns, keep, limits)
    if first.objective > best.objective + SAME:
        best, nodes = first, first.nodes + best.nodes
        best_bound = max(best.objective, best.bound)
    else:
        nodes, best_bound = first.nodes + best.nodes, best.bound
    best_bound = min(bound, max(best_bound, bound + cut))
    return _tell(program, best, best_bound, nodes, columns.demand.size)


def is_large(problem: Problem) -> bool:
    """Whether a problem has more items than the program takes, in all or on one night, or a demand more pairs."""
    slots = np.concatenate([np.zeros(0, dtype=np.int64), *(demand.slots for demand in problem.demands)])
    a_night = np.bincount(problem.night[slots], minlength=1)
    worths = (one.pair_worth for one in problem.demands if one.pair_worth is not None)
    pairs = max((int(np.isfinite(one).sum()) // 2 for one in worths), default=0)
    return bool(slots.size >= MANY_ITEMS or a_night.max() >= MANY_A_NIGHT or pairs >= MANY_PAIRS)


def _by_nights(
    program: Program,
    manning: Manning,
    keep: int,
    limits: Limits,
    relaxed: tuple[float, list[FloatArray], FloatArray],
    duals: FloatArray,
) -> Choice:
    """The same where hours count: both bounds together, and columns taken up from the best on until none is missing.

    `relaxed` are the linear relaxation's bound and the reduced worth of all columns.
    """
    nightly = bound_by_nights(program, manning, duals, keep)
    bound = min(relaxed[0], nightly.value)
    # Above the lower bound no column can lift a set; below it each by what both say.
    pairs = [
        np.minimum(np.minimum(one + relaxed[0], other + nightly.value) - bound, 0.0)
        for one, other in zip(relaxed[1], nightly.pairs, strict=True)
    ]
    alone = np.minimum(np.minimum(relaxed[2] + relaxed[0], nightly.alone + nightly.value) - bound, 0.0)
    every = np.sort(np.concatenate([alone, *(one[one > NEVER] for one in pairs)]))[::-1]
    most, nodes, best = FIRST_COLUMNS, 0, None
    floor, missing, inside, tried = FIRST_FLOOR / STEP, NEVER, NEVER, None
    while True:
        floor = max(missing, min(float(every[:most][-1]), STEP * floor))
        columns, cut = _above(program, pairs, alone, floor)
        found = _solve(program, columns, keep, limits, beyond=tried)
        nodes, inside = nodes + found.nodes, max(inside, found.bound)
        best = found if best is None or found.objective > best.objective + SAME else best
        missing = -(bound - best.objective) - 1.0
        # What is left out lies below the floor.
        best_bound = min(bound, max(best.objective, inside, bound + max(cut, floor)))
        # A search that its limits ended would only be longer over more columns.
        is_ended = found.nodes >= limits.nodes(columns)
        if missing >= floor or columns.demand.size >= every.size or is_ended:
            break
        most, tried = most * STEP, columns
    return _tell(program, best, best_bound, nodes, columns.demand.size)


def _above(program: Program, reduced: list[FloatArray], alone: FloatArray, floor: float) -> tuple[Columns, float]:
    """All columns of at least this reduced worth, and the best of those for which there is no room."""
    singles, most = program.singles(), MOST_COLUMNS // max(1, len(program.problem.demands))
    kept = singles.take(alone[singles.first] >= floor)
    return kept + program.pairs_above(reduced, floor, most), _left_out(reduced, floor, most)


@dataclass(frozen=True)
class _Solved:
    columns: Columns
    nights: npt.NDArray[np.bool_]
    objective: float
    bound: float
    nodes: int


def _relaxation(program: Program, keep: int, columns: Columns) -> Relaxation:
    cost, low, high = _costs(program, columns)
    # A column's own limit follows from its slots'; without one all prices stand at the rows.
    high[: columns.demand.size] = np.inf
    return Relaxation(cost, Rows(program.matrix(columns), program.limits(keep), low, high))


def _relax(program: Program, keep: int, ground: _Ground) -> tuple[float, FloatArray]:
    """The linear relaxation over every column: a bound on its value, and the prices of its rows.

    Columns are taken up until none is missing; of many those that are far from use are let go again.
    """
    columns, value = ground.every, NEVER
    if columns.demand.size > MOST_IN_USE:
        columns = program.singles() + _pairs_within(program, program.kept)
    while True:
        over = ground.relaxation if columns is ground.every else _relaxation(program, keep, columns)
        found = over.least(program.limits(keep))
        reduced, alone = program.priced(found.prices)
        singles = program.singles()
        new = singles.take(alone[singles.first] > SMALL * 100) + program.best_pairs(
            reduced, SMALL * 100, PRICED_AT_ONCE
        )
        have = set(zip(columns.first.tolist(), columns.second.tolist(), strict=True))
        fresh = np.array([pair not in have for pair in zip(new.first.tolist(), new.second.tolist(), strict=True)], bool)
        if not fresh.any():
            return -found.cost, found.prices
        # Let go only where there was a gain: so it comes to an end.
        if columns.demand.size > MOST_IN_USE and -found.cost > value + SMALL:
            value, used = -found.cost, found.x[: columns.demand.size] > 0.0
            worth = np.where(used, np.inf, _worth_of(program, columns, reduced, alone))
            columns = columns.take(np.sort(np.argsort(-worth, kind="stable")[: max(MOST_IN_USE, int(used.sum()))]))
        columns += new.take(fresh)


def _worth_of(program: Program, columns: Columns, reduced: list[FloatArray], alone: FloatArray) -> FloatArray:
    """The reduced worth of these columns, (columns,), from that of all."""
    worth = alone[columns.first]
    for number, values in enumerate(reduced):
        mine = np.flatnonzero((columns.demand == number) & (columns.second >= 0))
        first, second = (items[mine] - program.offset[number] for items in (columns.first, columns.second))
        worth[mine] = values[first, second]
    return worth


def _pairs_within(program: Program, chosen: npt.NDArray[np.bool_]) -> Columns:
    """All allowed pairs among the chosen of the items, (items,)."""
    found = [np.zeros((3, 0), dtype=np.int64)]
    for number, demand in enumerate(program.problem.demands):
        if demand.pair_worth is None:
            continue
        mine = chosen[program.offset[number] : program.offset[number + 1]]
        first, second = np.nonzero(np.triu(np.isfinite(demand.pair_worth) & mine & mine[:, None], 1))
        found.append(
            np.stack([np.full(first.size, number), first + program.offset[number], second + program.offset[number]])
        )
    return Columns(*np.concatenate(found, axis=1))


def _costs(program: Program, columns: Columns) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What is to be made small, and the bounds of all variables."""
    cost = np.concatenate([program.trifles(columns) - program.worth(columns), program.rest_units()])
    low, high = program.rest_bounds()
    return (
        cost,
        np.concatenate([np.zeros(columns.demand.size), low]),
        np.concatenate([np.ones(columns.demand.size), high]),
    )


def _solve(
    program: Program,
    columns: Columns,
    keep: int,
    most: Limits,
    cost: FloatArray | None = None,
    beyond: Columns | None = None,
) -> _Solved:
    """The integer program over these columns.

    With `beyond`, columns over which it was solved before, over sets that have another one: only they can be better.
    """
    usual, low, high = _costs(program, columns)
    counted, cost = cost is None, usual if cost is None else cost
    matrix, limits = program.matrix(columns), program.limits(keep)
    if beyond is not None:
        known = set(zip(beyond.first.tolist(), beyond.second.tolist(), strict=True))
        new = [pair not in known for pair in zip(columns.first.tolist(), columns.second.tolist(), strict=True)]
        row = sparse.csr_matrix(-np.append(np.array(new, dtype=float), np.zeros(program.rest))[None])
        matrix, limits = sparse.vstack([matrix, row]).tocsc(), np.append(limits, -1.0)
    whole = np.append(np.ones(columns.demand.size, dtype=bool), program.whole())
    found = search(cost, Rows(matrix, limits, low, high), whole, most.nodes(columns))
    if found.x is None:
        # Stopped before any set was found, or there is none: none but the empty one is known.
        nothing = columns.take(np.zeros(0, dtype=np.int64))
        return _Solved(nothing, program.problem.open_nights, NEVER, -found.bound, found.nodes)
    taken = found.x[: columns.demand.size] > 0.5
    nights = found.x[columns.demand.size :][: program.nights] > 0.5
    # Anew from what is taken: the solver's figures are true to its tolerance only.
    objective = -float(cost[: taken.size][taken].sum())
    if counted:
        objective -= program.spent(columns.take(taken), nights)
    return _Solved(columns.take(taken), nights, objective, -found.bound, found.nodes)


def _most_kept(program: Program, limits: Limits) -> int:
    """How many of the slots to keep can stay together."""
    items = np.flatnonzero(program.kept)
    columns = Columns(program.owner[items], items, np.full(items.size, -1)) + _pairs_within(program, program.kept)
    count = 1.0 + (columns.second >= 0)
    cost = np.concatenate([-count, np.zeros(program.rest)])
    return round(_solve(program, columns, 0, limits, cost).objective)


def _kept_together(problem: Problem, limits: Limits) -> tuple[tuple[int, int], ...]:
    """(demand, slot) of as many slots to keep as can stay together, of such sets the best."""
    demands = []
    for number, demand in enumerate(problem.demands):
        fit = np.array([(number, int(slot)) in problem.keep for slot in demand.slots], dtype=bool)
        pairs = None if demand.pair_worth is None else demand.pair_worth[np.ix_(fit, fit)]
        demands.append(replace(demand, slots=demand.slots[fit], worth=demand.worth[fit], pair_worth=pairs))
    return choose(replace(problem, demands=tuple(demands)), limits).taken


def _left_out(reduced: list[FloatArray], floor: float, most: int) -> float:
    """The best reduced worth among pairs that the last program has no room for; none: minus infinity."""
    worst = NEVER
    for values in reduced:
        above = values[values > floor]
        if above.size > most:
            worst = max(worst, float(np.sort(above)[-most - 1]))
    return worst


def _tell(program: Program, best: _Solved, bound: float, nodes: int, columns: int) -> Choice:
    """The result in contacts, without the trifles of the tie-break."""
    items = np.sort(np.concatenate([best.columns.first, best.columns.second[best.columns.second >= 0]]))
    taken = tuple((int(program.owner[item]), int(program.slot[item])) for item in items)
    trifle = float(program.trifles(best.columns).sum())
    value = (best.objective + trifle) / UNITS
    # The trifles never lower the bound by more than they all weigh together.
    return Choice(
        taken=taken,
        value=value,
        bound=max(value, (bound + trifle) / UNITS),
        kept=int(program.kept[items].sum()),
        nodes=nodes,
        columns=columns,
    )
