"""The choice of slots against trying every set: small problems of every kind, and the same answer every time."""

from __future__ import annotations

import dataclasses
from itertools import combinations, pairwise, product
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from pipeline.agenda import milp_solve
from pipeline.agenda.large_solve import choose_large
from pipeline.agenda.milp_hours import SiteHours
from pipeline.agenda.milp_model import LEAST_NIGHT_COST, NEVER, QUANTUM, Columns, Demand, Problem
from pipeline.agenda.milp_solve import Choice, Limits, choose, choose_by_nights
from pipeline.agenda.solver import Relaxation, Rows, Searched, search

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


def _with_hours(problem: Problem, seed: int, forbid: bool) -> Problem:
    """The same with hours that cost something: nights held by what is agreed, starts that must not be first."""
    random = np.random.default_rng(seed)
    nights, minute_cost = problem.room.size, float(random.choice([0.01, 0.05, 0.2])) / 60.0
    arrive = float(random.choice([0.0, 60.0, 120.0]))
    # Home is there from some minute of each night on: arriving before that costs twice, or is out of the question.
    opens = np.arange(nights) * 1440 + random.integers(-150, 120, nights)

    def arriving(start: np.ndarray, night: np.ndarray) -> np.ndarray:
        outside = np.clip(opens[night] - (start - arrive), 0.0, arrive)
        return minute_cost * (arrive + outside)

    held_first = np.where(
        random.random(nights) < 0.3, np.arange(nights) * 1440 + 15.0 * random.integers(0, 12, nights), np.nan
    )
    held_last = held_first + 60.0
    end = problem.busy_until - GAP
    costs = arriving(problem.start, problem.night)
    first = opens[problem.night] > problem.start - arrive
    # Slots agreed are apart from all others.
    clash = (problem.start < held_last[problem.night] + GAP) & (end + GAP > held_first[problem.night])
    demands = []
    for demand in problem.demands:
        fit = ~clash[demand.slots]
        together = None if demand.pair_worth is None else demand.pair_worth[np.ix_(fit, fit)]
        demands.append(Demand(demand.slots[fit], demand.worth[fit], together, demand.most))
    keep = frozenset((d, s) for d, s in problem.keep if not clash[s])
    hours = SiteHours(
        minute_cost=minute_cost,
        end=end,
        arriving=np.where(first, np.inf, costs) if forbid else costs,
        held_first=held_first,
        held_last=held_last,
        held_arriving=np.where(np.isnan(held_first), 0.0, arriving(np.nan_to_num(held_first), np.arange(nights))),
    )
    return dataclasses.replace(
        problem, demands=tuple(demands), keep=keep, hours=hours, open_nights=problem.open_nights | ~np.isnan(held_first)
    )


def _hours_of(problem: Problem, slots: list[int]) -> float:
    """What the hours of a set cost beyond those of what is agreed, slot by slot; infinite where one is first and must
    not be."""
    hours, total = problem.hours, 0.0
    if hours is None:
        return 0.0
    for night in {int(problem.night[s]) for s in slots}:
        mine = [s for s in slots if problem.night[s] == night]
        first = min(mine, key=lambda s: int(problem.start[s]))
        begin, end = float(problem.start[first]), float(max(hours.end[s] for s in mine))
        cost = float(hours.arriving[first])
        if not np.isnan(hours.held_first[night]):
            if hours.held_first[night] < begin:
                begin, cost = float(hours.held_first[night]), float(hours.held_arriving[night])
            end = max(end, float(hours.held_last[night]))
            cost -= float(hours.held_arriving[night])
            total -= hours.minute_cost * float(hours.held_last[night] - hours.held_first[night])
        total += cost + hours.minute_cost * (end - begin)
    return total


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
    slots = [int(d.slots[p]) for d, pick in zip(problem.demands, picks, strict=True) for p in pick]
    total -= _hours_of(problem, slots)
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
        if not _fits(problem, slots) or not np.isfinite(_hours_of(problem, slots)):
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


@settings(max_examples=120)
@given(
    st.integers(0, 10**6), st.integers(0, 9), st.integers(1, 3), st.integers(1, 4), st.booleans(), st.integers(0, 3),
    st.booleans(),
)  # fmt: skip
def test_against_every_set_with_hours(
    seed: int, slots: int, demands: int, nights: int, separate: bool, keep: int, forbid: bool
) -> None:
    """Hours on site cost: the sets tried one by one, each night from its first slot to its last."""
    problem = _with_hours(_random_problem(seed, slots, demands, nights, separate, keep), seed, forbid)
    choice = choose(problem)
    kept, worth, _ = _exhaustive(problem)
    assert choice.kept == kept
    # What settles ties is less than a quantum altogether, and hours come in no whole quanta.
    assert worth - QUANTUM < choice.value <= worth + 1e-6
    assert choice.gap == 0.0
    assert _fits(problem, [slot for _, slot in choice.taken])
    again = choose(dataclasses.replace(problem, hours=dataclasses.replace(problem.hours, minute_cost=0.0)))
    assert again.gap == 0.0


@pytest.mark.parametrize("seed", range(3))
def test_hours_in_a_large_problem_against_the_plain_form(seed: int) -> None:
    """Many partners: the same value as one program over all columns with a variable for each pair of first and last."""
    problem = _large(seed, 3, 3, 4)
    nights = problem.room.size
    hours = SiteHours(
        0.02 / 60.0, problem.busy_until - GAP, np.full(problem.start.size, 0.04), *np.full((3, nights), np.nan)
    )
    choice = choose(dataclasses.replace(problem, hours=hours))
    assert choice.gap == 0.0
    assert choice.value == pytest.approx(_plain(dataclasses.replace(problem, hours=hours)), abs=QUANTUM)


def _plain(problem: Problem) -> float:
    """The greatest worth in a plain form: a variable for every span of a night, all columns at once."""
    assert problem.hours is not None
    columns = [(d, (k,)) for d, one in enumerate(problem.demands) for k in range(one.slots.size)]
    columns += [
        (d, (a, b))
        for d, one in enumerate(problem.demands)
        if one.pair_worth is not None
        for a, b in combinations(range(one.slots.size), 2)
        if np.isfinite(one.pair_worth[a, b])
    ]
    worth = [
        problem.demands[d].worth[p[0]] if len(p) == 1 else problem.demands[d].pair_worth[p[0], p[1]] for d, p in columns
    ]
    slots = [[int(problem.demands[d].slots[k]) for k in p] for d, p in columns]
    spans = [
        (night, int(first), int(last))
        for night in range(problem.room.size)
        for first in np.unique(problem.start[problem.night == night])
        for last in np.unique(problem.hours.end[problem.night == night])
        if last > first
    ]
    price = [problem.night_cost + 0.04 + problem.hours.minute_cost * (last - first) for _, first, last in spans]
    rows, limits = [], []

    def row(column: list[float], span: list[float], limit: float) -> None:
        rows.append(column + span)
        limits.append(limit)

    for demand in range(len(problem.demands)):
        row([float(d == demand) for d, _ in columns], [0.0] * len(spans), 1.0)
    for slot in range(problem.start.size):
        # Each slot lies within the span of its night.
        holds = [
            -float(n == problem.night[slot] and f <= problem.start[slot] and last >= problem.hours.end[slot])
            for n, f, last in spans
        ]
        row([float(slot in some) for some in slots], holds, 0.0)
        moment = problem.start[slot]
        here = (problem.start <= moment) & (problem.busy_until > moment)
        row([float(sum(here[s] for s in some)) for some in slots], [0.0] * len(spans), 1.0)
    for night in range(problem.room.size):
        row([0.0] * len(columns), [float(n == night) for n, _, _ in spans], 1.0)
        row(
            [float(sum(problem.night[s] == night for s in some)) for some in slots],
            [0.0] * len(spans),
            float(problem.room[night]),
        )
    row([0.0] * len(columns), [1.0] * len(spans), float(problem.most_nights))
    cost = np.array([-one for one in worth] + price)
    found = milp(
        cost,
        integrality=np.ones(cost.size),
        bounds=Bounds(0.0, 1.0),
        constraints=LinearConstraint(np.array(rows), -np.inf, np.array(limits)),
        options={"mip_rel_gap": 0.0},
    )
    return -float(found.fun)


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
    short, full = choose(problem, Limits(node_limit=1)), choose(problem)
    assert full.value <= short.bound + QUANTUM
    assert short.value <= full.value + QUANTUM


def _with_cheap_hours(problem: Problem) -> Problem:
    nothing = np.full((3, problem.room.size), np.nan)
    hours = SiteHours(0.02 / 60.0, problem.busy_until - GAP, np.full(problem.start.size, 0.04), *nothing)
    return dataclasses.replace(problem, hours=hours)


@pytest.mark.parametrize("held", [20, 6_000])
def test_pairs_are_taken_up_in_few_rounds(held: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """One pair for each two nights a round: few programs, none with more columns than were held and came new."""
    problem, sizes, programs = _with_cheap_hours(_large(1, 3, 3, 4)), [], []

    def counted(cost: np.ndarray, rows: Rows) -> Relaxation:
        sizes.append(cost.size)
        return Relaxation(cost, rows)

    def searched(cost: np.ndarray, *rest: Any) -> Searched:
        programs.append(cost.size)
        return search(cost, *rest)

    plain = choose(problem)
    monkeypatch.setattr(milp_solve, "Relaxation", counted)
    monkeypatch.setattr(milp_solve, "search", searched)
    monkeypatch.setattr(milp_solve, "MOST_IN_USE", held)
    choice = choose(problem)
    assert choice.value == pytest.approx(plain.value, abs=QUANTUM)
    assert choice.gap == 0.0
    assert 0 < len(sizes) <= 6
    assert 0 < len(programs) <= 3


def test_every_number_of_nights_is_as_if_asked_alone() -> None:
    """Forwards, backwards and again: where the relaxation stood before changes nothing that is chosen."""
    problem = _with_cheap_hours(_large(1, 6, 4, 4))
    by_nights = choose_by_nights(problem)
    values = []
    for nights in (4, 1, 2, 3, 1, 4):
        alone, found = choose(dataclasses.replace(problem, most_nights=nights)), by_nights(nights)
        assert found.taken == alone.taken
        assert found.value == pytest.approx(alone.value, abs=1e-9)
        assert found.gap == alone.gap == 0.0
        values.append(found.value)
    assert values[1] < values[2] < values[3] <= values[0]


def test_slots_that_hardly_differ_are_told_apart() -> None:
    """By less than the solver's own tolerance: the better one is taken, wherever it stands."""
    start = np.array([0, 1440])
    demand = Demand(np.array([0, 1]), np.array([0.9, 0.9]), None, 1)
    empty = np.zeros(2, dtype=bool)
    for better in (0, 1):
        second = np.where(np.arange(2) == better, 0.5, 0.5 + 1e-9)
        problem = Problem(start, start + 60, np.array([0, 1]), (demand,), 0.3, np.full(2, 3), empty, 1, second=second)
        assert [slot for _, slot in choose(problem).taken] == [better]


def test_a_program_of_few_columns_asks_no_relaxation(monkeypatch: pytest.MonkeyPatch) -> None:
    """And chooses the same: 3 partners with 4 slots on each of 3 nights are 36 columns."""
    problem = _with_cheap_hours(_large(1, 3, 3, 4))
    few = dataclasses.replace(
        problem, demands=tuple(dataclasses.replace(one, pair_worth=None) for one in problem.demands)
    )
    relaxed: list[int] = []
    monkeypatch.setattr(milp_solve, "Relaxation", lambda *rest: relaxed.append(1) or Relaxation(*rest))
    at_once = choose(few)
    assert relaxed == []
    monkeypatch.setattr(milp_solve, "FIRST_COLUMNS", 1)
    found = choose(few)
    assert relaxed
    assert found.taken == at_once.taken
    assert found.value == pytest.approx(at_once.value)
    assert at_once.gap == found.gap == 0.0


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


def test_a_search_whose_effort_is_spent_still_gives_a_good_set_and_a_true_bound() -> None:
    """Two partners up all day with home are slots that stand in for each other: the search is ended, not waited for."""
    problem = _with_cheap_hours(_large(1, 3, 3, 4))
    proven, ended = choose(problem), choose(problem, Limits(effort=0))
    assert proven.gap == 0.0
    assert ended.nodes < proven.nodes or ended.gap == 0.0
    assert choose_large(problem, (), False).value - QUANTUM <= ended.value <= proven.value + QUANTUM
    assert ended.bound >= proven.value - QUANTUM
    assert Limits(20_000, 100_000).nodes(_columns_of(1_000)) == 100
    assert Limits(50, 100_000).nodes(_columns_of(1_000)) == 50
    assert Limits(50, 0).nodes(_columns_of(1_000)) == 1


def _columns_of(count: int) -> Columns:
    none = np.zeros(count, dtype=np.int64)
    return Columns(none, none, none)
