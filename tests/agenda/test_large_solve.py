"""Large seasons against the proven best of small ones: rules, what is lost, the bound, and the same answer again."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from pipeline.agenda import milp_solve
from pipeline.agenda.few_nights import MOST_ITEMS
from pipeline.agenda.large_solve import choose_large
from pipeline.agenda.milp_model import NEVER, QUANTUM, Choice, Demand, Problem
from pipeline.agenda.milp_solve import choose, is_large
from tests.agenda.test_milp_solve import (
    _fits,
    _hours_of,
    _large,
    _random_problem,
    _with_cheap_hours,
    _with_hours,
    _worth,
)

SEEDS = range(150)


def _problem(seed: int) -> Problem:
    """A small problem of every kind: agreed nights, separate contacts, hours that cost or forbid, slots to keep."""
    random = np.random.default_rng(seed)
    slots, demands, nights = int(random.integers(4, 30)), int(random.integers(1, 6)), int(random.integers(1, 6))
    plain = _random_problem(seed, slots, demands, nights, bool(seed % 2), seed % 3)
    return plain if seed % 5 == 0 else _with_hours(plain, seed, bool(seed % 3 == 0))


def _picks(problem: Problem, choice: Choice) -> tuple[tuple[int, ...], ...]:
    """Of each demand the places that are taken."""
    found: list[list[int]] = [[] for _ in problem.demands]
    for number, slot in choice.taken:
        found[number].append(int(np.flatnonzero(problem.demands[number].slots == slot)[0]))
    return tuple(tuple(sorted(one)) for one in found)


def _keeps_the_rules(problem: Problem, choice: Choice) -> bool:
    picks = _picks(problem, choice)
    for demand, pick in zip(problem.demands, picks, strict=True):
        most = 2 if demand.pair_worth is not None and demand.most else demand.most
        if len(pick) > most or len(set(pick)) < len(pick):
            return False
        if demand.pair_worth is not None and len(pick) == 2 and demand.pair_worth[pick[0], pick[1]] == NEVER:
            return False
    slots = [slot for _, slot in choice.taken]
    return _fits(problem, slots) and bool(np.isfinite(_hours_of(problem, slots)))


def test_against_the_proven_best_of_small_problems() -> None:
    """A set that keeps all rules and is worth what it says; the best seldom missed; a bound that no set passes."""
    short, gaps = [], []
    for seed in SEEDS:
        problem = dataclasses.replace(_problem(seed), keep=frozenset())
        best, found = choose(problem), choose_large(problem)
        assert best.gap == 0.0
        assert _keeps_the_rules(problem, found), seed
        assert found.value == pytest.approx(_worth(problem, _picks(problem, found)), abs=1e-6), seed
        assert found.value <= best.value + QUANTUM, seed
        assert found.bound >= best.value - QUANTUM, seed
        short.append(max(0.0, best.value - found.value))
        gaps.append(found.gap)
    assert np.mean(np.array(short) < QUANTUM) >= 0.95
    assert np.mean(short) <= 0.007
    assert max(short) <= 0.25
    assert np.median(gaps) < QUANTUM
    assert np.mean(gaps) <= 0.05


def test_as_many_slots_stay_as_can(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is to be kept is kept as often as the exact choice keeps it, by all other rules."""
    problems = [one for one in map(_problem, SEEDS) if one.keep]
    assert len(problems) > 50
    for problem in problems:
        exact = choose(problem)
        monkeypatch.setattr(milp_solve, "is_large", lambda one, whole=problem: one is whole)
        found = choose(problem)
        monkeypatch.undo()
        assert found.kept == exact.kept == len(problem.keep & set(found.taken))
        assert _keeps_the_rules(problem, found)
        assert found.value <= exact.value + QUANTUM
        assert found.bound >= exact.value - QUANTUM


# Of any seeds those whose best is proven within half a second of the processor's.
@pytest.mark.parametrize("seed", range(1, 4))
def test_a_season_of_some_size(seed: int) -> None:
    """Eight partners on eight nights: within a fiftieth of the proven best, and told within a tenth of it."""
    problem = _with_cheap_hours(_large(seed, 8, 8, 6))
    best, found = choose(problem), choose_large(problem)
    assert best.value - found.value <= 0.02 * best.value
    assert best.value - QUANTUM <= found.bound <= found.value + 0.1 * best.value


def test_the_same_answer_every_time() -> None:
    problem = _with_cheap_hours(_large(7, 10, 10, 8))
    assert choose_large(problem) == choose_large(problem)


def test_a_bound_is_made_where_it_is_asked_for() -> None:
    problem = _with_cheap_hours(_large(3, 4, 4, 4))
    told, untold = choose_large(problem), choose_large(problem, bounded=False)
    assert untold.taken == told.taken
    assert np.isfinite(told.bound)
    assert untold.bound == np.inf


def _of_size(items: int, nights: int) -> Problem:
    """One partner with so many slots, spread over the nights."""
    night = np.sort(np.arange(items) % nights)
    start = night * 1440 + 5 * np.arange(items)
    demand = Demand(np.arange(items), np.full(items, 0.5), None, 1)
    return Problem(start, start + 75, night, (demand,), 0.3, np.full(nights, 3), np.zeros(nights, dtype=bool), 6)


@pytest.mark.parametrize(
    ("items", "nights", "large"),
    [
        (999, 100, False), (1_000, 100, True), (MOST_ITEMS, 1, False), (MOST_ITEMS + 1, 1, True), (0, 1, False),
    ],
)  # fmt: skip
def test_where_the_roads_part(items: int, nights: int, large: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """A thousand slots in all, or more of one night than are looked at set by set: the integer program is not asked."""
    problem, asked = _of_size(items, nights), []
    monkeypatch.setattr(milp_solve, "_choose_large", lambda *_: asked.append(True))
    choose(problem)
    assert is_large(problem) == large == bool(asked)


@pytest.mark.parametrize(("items", "large"), [(100, False), (120, True)])
def test_many_pairs_of_slots_are_a_large_problem_too(items: int, large: bool) -> None:
    """One who is up all day with home: few slots, and six thousand pairs of them; several with fewer each are not."""
    plain = _of_size(items, items)
    whole = Demand(np.arange(items), np.ones(items), np.ones((items, items)), 1)
    assert is_large(dataclasses.replace(plain, demands=(whole,))) == large
    assert is_large(dataclasses.replace(plain, demands=(whole, whole))) == large
