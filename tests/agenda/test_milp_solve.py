"""The choice of slots against trying every set: small problems of every kind, and the same answer every time."""

from __future__ import annotations

import dataclasses
from itertools import combinations, pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.agenda.milp_model import LEAST_NIGHT_COST, NEVER, QUANTUM, Demand, Problem
from pipeline.agenda.milp_solve import Choice, choose

GAP = 15


def _random_problem(seed: int, slots: int, demands: int, nights: int, separate: bool, keep: int) -> Problem:
    random = np.random.default_rng(seed)
    night = np.sort(random.integers(0, nights, slots))
    start = night * 1440 + 15 * random.integers(0, 12, slots)
    start = np.sort(start)
    night = start // 1440
    length = random.choice([20, 60], slots)
    made = []
    owner = random.integers(0, demands, slots)
    for number in range(demands):
        mine = np.flatnonzero(owner == number)
        # Round figures, so that ties are common.
        chance = np.round(random.uniform(0.25, 1.0, mine.size), int(random.integers(1, 4)))
        worth = chance * random.choice([0.5, 1.0, 2.0])
        if separate and number == 0:
            made.append(Demand(mine, worth, None, 2))
            continue
        together = (1 - (1 - chance[:, None]) * (1 - 0.6 * chance[None])) * worth.max(initial=1.0)
        together = np.maximum(together, together.T)
        allowed = together - np.maximum(worth[:, None], worth[None]) >= 0.05
        made.append(Demand(mine, worth, np.where(allowed, together, NEVER), 1))
    kept = random.choice(slots, min(keep, slots), replace=False)
    return Problem(
        start=start,
        busy_until=start + length + GAP,
        night=night,
        demands=tuple(made),
        night_cost=float(random.choice([0.0, 0.3, 0.7])),
        room=random.integers(0, 4, nights),
        open_nights=random.random(nights) < 0.2,
        most_nights=int(random.integers(0, nights + 1)),
        keep=frozenset((int(owner[k]), int(k)) for k in kept),
    )


def _fits(problem: Problem, slots: list[int]) -> bool:
    busy = sorted((int(problem.start[s]), int(problem.busy_until[s])) for s in slots)
    if any(later[0] < earlier[1] for earlier, later in pairwise(busy)):
        return False
    nights = [int(problem.night[s]) for s in slots]
    new = {n for n in nights if not problem.open_nights[n]}
    return len(new) <= problem.most_nights and all(nights.count(n) <= problem.room[n] for n in set(nights))


def _worth(problem: Problem, picks: tuple[tuple[int, ...], ...]) -> float:
    """Contacts of one set, to the quantum as the choice counts them."""
    total = 0.0
    for demand, pick in zip(problem.demands, picks, strict=True):
        values = [demand.worth[p] for p in pick]
        if demand.pair_worth is not None and len(pick) == 2:
            values = [demand.pair_worth[pick[0], pick[1]]]
        total += sum(round(value / QUANTUM) * QUANTUM for value in values)
    used = {int(problem.night[d.slots[p]]) for d, pick in zip(problem.demands, picks, strict=True) for p in pick}
    return total - max(problem.night_cost, LEAST_NIGHT_COST) * sum(not problem.open_nights[n] for n in used)


def _exhaustive(problem: Problem) -> tuple[int, float, list[list[int]]]:
    """(most slots kept, greatest worth among those, the sets that have it) by trying all."""
    options = []
    for demand in problem.demands:
        picks: list[tuple[int, ...]] = [()]
        picks += [(k,) for k in range(demand.slots.size)] if demand.most else []
        for a, b in combinations(range(demand.slots.size), 2):
            if demand.pair_worth is None:
                picks += [(a, b)] if demand.most > 1 else []
            elif np.isfinite(demand.pair_worth[a, b]):
                picks.append((a, b))
        options.append(picks)
    best: tuple[int, float] = (-1, -np.inf)
    sets: list[list[int]] = []
    for picks in product(*options):
        slots = [int(d.slots[p]) for d, pick in zip(problem.demands, picks, strict=True) for p in pick]
        if not _fits(problem, slots):
            continue
        kept = sum(
            (n, int(d.slots[p])) in problem.keep
            for n, (d, pick) in enumerate(zip(problem.demands, picks, strict=True))
            for p in pick
        )
        rank = (kept, round(_worth(problem, picks), 6))
        if rank > best:
            best, sets = rank, []
        if rank == best:
            sets.append(sorted(slots))
    return best[0], best[1], sets


def _check(problem: Problem) -> Choice:
    choice = choose(problem)
    kept, worth, sets = _exhaustive(problem)
    slots = sorted(slot for _, slot in choice.taken)
    assert choice.kept == kept
    assert choice.value == pytest.approx(worth, abs=1e-6)
    assert choice.gap == 0.0
    assert slots in sets
    # Among equals the earliest in sum, each start weighed a little more for the demands named first.
    weight = np.zeros(problem.start.size)
    for number, demand in enumerate(problem.demands):
        weight[demand.slots] = 1.0 + 0.5 * (len(problem.demands) - number) / len(problem.demands)
    lateness = [float((weight[one] * (problem.start[one] - problem.start.min(initial=0))).sum()) for one in sets]
    assert lateness[sets.index(slots)] == pytest.approx(min(lateness), abs=1e-6)
    return choice


@settings(max_examples=60)
@given(st.integers(0, 10**6), st.integers(0, 9), st.integers(1, 3), st.integers(1, 4), st.booleans(), st.integers(0, 3))
def test_against_every_set(seed: int, slots: int, demands: int, nights: int, separate: bool, keep: int) -> None:
    _check(_random_problem(seed, slots, demands, nights, separate, keep))


def _large(seed: int, partners: int, nights: int, each: int) -> Problem:
    random = np.random.default_rng(seed)
    starts, owners = [], []
    for partner in range(partners):
        for night in range(nights):
            first = random.integers(0, 24)
            starts += [night * 1440 + 15 * (first + k) for k in range(each)]
            owners += [partner] * each
    start, owner = np.array(starts), np.array(owners)
    order = np.lexsort((owner, start))
    start, owner = start[order], owner[order]
    demands = []
    for partner in range(partners):
        mine = np.flatnonzero(owner == partner)
        chance = np.clip(random.normal(0.6, 0.2) + 0.2 * np.sin(start[mine] / 5000 + partner), 0.25, 0.99)
        together = 1 - (1 - chance[:, None]) * (1 - 0.5 * chance[None])
        together = np.maximum(together, together.T)
        allowed = together - np.maximum(chance[:, None], chance[None]) >= 0.05
        demands.append(Demand(mine, chance, np.where(allowed, together, NEVER), 1))
    return Problem(
        start=start,
        busy_until=start + 75,
        night=start // 1440,
        demands=tuple(demands),
        night_cost=0.3,
        room=np.full(nights, 3),
        open_nights=np.zeros(nights, dtype=bool),
        most_nights=6,
    )


def test_the_same_answer_every_time() -> None:
    problem = _large(3, 5, 8, 5)
    first, second = choose(problem), choose(problem)
    assert first == second
    assert first.gap == 0.0


def test_a_limit_of_nodes_is_told_by_a_bound() -> None:
    """Stopped at the first node the bound still holds: no full search gets past it."""
    problem = _large(5, 6, 10, 6)
    short, full = choose(problem, node_limit=1), choose(problem)
    assert full.value <= short.bound + QUANTUM
    assert short.value <= full.value + QUANTUM


def test_nothing_to_choose_from() -> None:
    nothing = np.zeros(0, dtype=np.int64)
    problem = Problem(nothing, nothing, nothing, (), 0.3, np.full(3, 3), np.zeros(3, dtype=bool), 6)
    assert choose(problem).taken == ()
    empty = Demand(nothing, np.zeros(0), np.zeros((0, 0)), 1)
    problem = Problem(nothing, nothing, nothing, (empty,), 0.3, np.full(3, 3), np.zeros(3, dtype=bool), 6)
    assert choose(problem).taken == ()


@pytest.mark.parametrize(("second", "wins"), [(None, 0), ([0.9, 0.1], 1), ([0.1, 0.9], 0)])
def test_ties_go_by_the_second_criterion(second: list[float] | None, wins: int) -> None:
    """Two slots of equal worth on two nights, one night allowed: the quieter one, or the earlier where none is told."""
    start = np.array([0, 1440])
    demand = Demand(np.array([0, 1]), np.array([0.9, 0.9]), None, 1)
    problem = Problem(start, start + 75, np.array([0, 1]), (demand,), 0.3, np.full(2, 3), np.zeros(2, dtype=bool), 1)
    problem = dataclasses.replace(problem, second=None if second is None else np.array(second))
    assert [slot for _, slot in choose(problem).taken] == [wins]
