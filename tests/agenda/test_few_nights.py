"""The best slots of few nights by looking at every set: against the integer program, within everybody's limits."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import pytest

from pipeline.agenda.few_nights import _exact, best_of_few_nights
from pipeline.agenda.milp_hours import SiteHours
from pipeline.agenda.milp_model import NEVER, QUANTUM, Demand, Problem
from pipeline.agenda.milp_solve import choose
from pipeline.agenda.night_bounds import bits_of, closer_bounds, make_grid
from pipeline.agenda.night_sets import Items, sets_of_night
from tests.agenda.test_milp_solve import _fits, _random_problem, _with_hours, _worth


def _problem(seed: int) -> Problem:
    """One to three nights on which nothing is agreed; hours that cost or forbid in two of three, contacts apart in one
    of four."""
    random = np.random.default_rng(seed)
    slots, demands, nights = int(random.integers(4, 40)), int(random.integers(1, 7)), int(random.integers(1, 4))
    plain = _random_problem(seed, slots, demands, nights, seed % 4 == 1, 0)
    plain = dataclasses.replace(
        plain,
        demands=tuple(_sensible(one, most=2 + seed % 3) for one in plain.demands),
        open_nights=np.zeros(nights, dtype=bool),
        most_nights=nights,
        room=np.maximum(plain.room, 1),
    )
    if seed % 3 == 0:
        return plain
    with_hours = _with_hours(plain, seed, forbid=seed % 2 == 0)
    assert with_hours.hours is not None
    nobody, nothing = np.full(nights, np.nan), np.zeros(nights)
    hours = dataclasses.replace(with_hours.hours, held_first=nobody, held_last=nobody, held_arriving=nothing)
    return dataclasses.replace(with_hours, hours=hours, open_nights=plain.open_nights)


def _sensible(demand: Demand, most: int) -> Demand:
    """Two slots together never bring more than both alone, as chances do; other limits where each counts alone."""
    if demand.pair_worth is None:
        return dataclasses.replace(demand, most=most)
    both = demand.worth[:, None] + demand.worth[None]
    return dataclasses.replace(demand, pair_worth=np.minimum(demand.pair_worth, both))


def _weekend(seed: int) -> Problem:
    """Three nights of a slot each quarter of an hour, on which four partners share most of the time."""
    random, starts = np.random.default_rng(seed), 14
    night, at = np.repeat(np.arange(3), starts), np.tile(np.arange(starts), 3)
    start = night * 1440 + 15 * at
    demands = []
    for _ in range(4):
        first, many = random.integers(0, 5, 3), random.integers(starts - 6, starts, 3)
        rows = np.flatnonzero((at >= first[night]) & (at < (first + many)[night]))
        sure = random.uniform(0.3, 0.9) + random.uniform(-0.06, 0.06) * (at[rows] - starts / 2)
        sure += random.uniform(-0.15, 0.15, 3)[night[rows]] + random.uniform(-0.05, 0.05, rows.size)
        chance, priority = np.clip(sure, 0.26, 0.97), float(random.choice([0.5, 1.0, 2.0]))
        together = 1 - (1 - chance[:, None]) * (1 - chance * random.uniform(0.5, 1.0))
        allowed = together - np.maximum(chance[:, None], chance) >= 0.05
        pair_worth = np.where(allowed & allowed.T, priority * np.maximum(together, together.T), NEVER)
        demands.append(_sensible(Demand(rows, priority * chance, pair_worth, 1), most=1))
    nobody, nothing = np.full(3, np.nan), np.zeros(3)
    return Problem(
        start=start,
        busy_until=start + 75,
        night=night,
        demands=tuple(demands),
        night_cost=0.3,
        room=np.full(3, 3),
        open_nights=np.zeros(3, dtype=bool),
        most_nights=3,
        hours=SiteHours(0.01 / 60, start + 60, np.full(start.size, 0.02), nobody, nobody, nothing),
    )


CASES = [
    *((_problem, range(first, first + 40)) for first in range(0, 120, 40)),
    *((_weekend, range(first, first + 12)) for first in range(0, 36, 12)),
]


@pytest.mark.parametrize(("made", "seeds"), CASES)
def test_as_good_as_the_integer_program(made: Callable[[int], Problem], seeds: range) -> None:
    """What the program proves to be the best is found, and nobody has more slots than may be."""
    for number in seeds:
        problem = made(number)
        taken = best_of_few_nights(problem)
        assert taken is not None
        picks = tuple(
            tuple(sorted(int(np.flatnonzero(demand.slots == slot)[0]) for one, slot in taken if one == place))
            for place, demand in enumerate(problem.demands)
        )
        for demand, pick in zip(problem.demands, picks, strict=True):
            assert len(set(pick)) == len(pick) <= (demand.most if demand.pair_worth is None else 2), number
        assert _fits(problem, [slot for _, slot in taken]), number
        assert _worth(problem, picks) == pytest.approx(choose(problem).value, abs=QUANTUM / 2), number


def test_no_bound_is_passed() -> None:
    """Whatever sets of a choice of each night are worth together, both bounds lie above it; best sets below."""
    random, cost, looked = np.random.default_rng(7), 0.3, 0
    for seed in range(4):
        items = Items(_weekend(seed))
        nights = [sets_of_night(items, np.flatnonzero(items.night == night), 3, cost) for night in range(3)]
        grid = make_grid(nights, [np.arange(one.best.size) for one in nights], cost)
        places = random.choice(np.flatnonzero(np.isfinite(grid.real.ravel())), 60, replace=False)
        picks, shared = grid.picks(places), grid.shared_at(places)
        closer = closer_bounds(nights, picks, shared)
        for number, place in enumerate(places):
            links = [(pair, demand) for pair, bits in shared.items() for demand in bits_of(int(bits[number]))]
            worth, _ = _exact(nights, [int(pick[number]) for pick in picks], links, -np.inf)
            assert grid.real.flat[place] - 1e-9 <= worth <= min(grid.bound.flat[place], closer[number]) + 1e-9
            looked += worth > grid.real.flat[place] + QUANTUM
    assert looked > 20


def test_another_road_is_taken_where_this_one_does_not_lead() -> None:
    """Nights in use, too many nights, or too much room on one."""
    plain = _problem(3)
    assert best_of_few_nights(plain) is not None
    assert best_of_few_nights(dataclasses.replace(plain, open_nights=~plain.open_nights)) is None
    assert best_of_few_nights(dataclasses.replace(plain, room=plain.room + 3)) is None
    assert best_of_few_nights(dataclasses.replace(plain, room=0 * plain.room)) is None
    assert best_of_few_nights(dataclasses.replace(plain, most_nights=0)) == ()
