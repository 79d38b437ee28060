"""Linear and integer programs against scipy's simplex and branch and bound, and against every choice of small ones."""

from __future__ import annotations

import subprocess
import sys
from itertools import product

import numpy as np
import pytest
from scipy import sparse
from scipy.optimize import linprog

from pipeline.agenda.solver import Relaxation, Rows, search
from tests.conftest import Outside


def _program(seed: int, variables: int = 7, rows: int = 5) -> tuple[np.ndarray, Rows]:
    random = np.random.default_rng(seed)
    matrix = random.integers(-1, 4, (rows, variables)).astype(float)
    limits = random.integers(1, 5, rows).astype(float)
    return random.normal(-1.0, 1.0, variables), Rows(
        sparse.csc_matrix(matrix), limits, np.zeros(variables), np.ones(variables)
    )


def test_relaxations_against_scipy_also_when_asked_again(outside: Outside) -> None:
    """Cost, and prices: by how much less a row costs with a little more room, where that is one figure."""
    worst = 0.0
    for seed in range(20):
        cost, rows = _program(seed)
        asked = Relaxation(cost, rows)
        for room in (0.0, 1.0, -0.5, 0.0):
            limits = rows.limits + room
            found = asked.least(limits)
            bounds = np.stack([rows.low, rows.high], axis=1)
            expected = linprog(cost, rows.matrix.toarray(), limits, bounds=bounds, method="highs-ipm")
            assert found.cost == pytest.approx(expected.fun, abs=1e-7)
            assert float(cost @ found.x) == pytest.approx(found.cost, abs=1e-9)
            assert (rows.matrix @ found.x <= limits + 1e-7).all()
            # Strong duality: rows and bounds together pay for the whole.
            alone = np.minimum(cost + found.prices @ rows.matrix, 0.0)
            assert float(alone @ rows.high - found.prices @ limits) == pytest.approx(found.cost, abs=1e-7)
            worst = max(worst, abs(found.cost - float(expected.fun)))
    outside("scipy linprog, interior points", 80, f"{worst:.1g} of a cost", "linear programs")


def test_searches_against_every_choice() -> None:
    for seed in range(30):
        cost, rows = _program(seed)
        every = np.array(list(product((0.0, 1.0), repeat=cost.size)))
        fits = every[(every @ rows.matrix.T.toarray() <= rows.limits + 1e-9).all(axis=1)]
        found = search(cost, rows, np.ones(cost.size, dtype=bool), 1_000)
        assert found.x is not None
        assert float(cost @ found.x) == pytest.approx(float((fits @ cost).min()), abs=1e-7)
        assert found.bound == pytest.approx(float(cost @ found.x), abs=1e-6)


def test_some_variables_may_be_parts() -> None:
    """Two halves together where each would be too much as a whole."""
    rows = Rows(sparse.csc_matrix(np.array([[2.0, 2.0]])), np.array([3.0]), np.zeros(2), np.ones(2))
    cost = np.array([-1.0, -1.0])
    assert search(cost, rows, np.array([True, True]), 100).bound == pytest.approx(-1.0)
    assert search(cost, rows, np.array([True, False]), 100).bound == pytest.approx(-1.5)


def test_where_nothing_meets_the_rows() -> None:
    rows = Rows(sparse.csc_matrix(np.ones((1, 2))), np.array([-1.0]), np.zeros(2), np.ones(2))
    found = search(np.ones(2), rows, np.ones(2, dtype=bool), 100)
    assert found.x is None
    assert found.bound == np.inf
    asked = Relaxation(np.ones(2), rows)
    with pytest.raises(ValueError, match="has no least: Infeasible"):
        asked.least(rows.limits)
    assert asked.least(np.array([1.0])).cost == 0.0
    with pytest.raises(ValueError, match="has no least: Infeasible"):
        asked.least(np.array([-2.0]))


def test_where_the_cost_has_no_end() -> None:
    rows = Rows(sparse.csc_matrix(np.array([[0.0, 1.0]])), np.array([1.0]), np.zeros(2), np.array([np.inf, 1.0]))
    with pytest.raises(ValueError, match="has no least: Unbounded"):
        Relaxation(-np.ones(2), rows).least(rows.limits)


@pytest.mark.parametrize("wrong", ["cost", "matrix", "limit", "sizes", "none whole"])
def test_what_is_no_program_never_gives_a_result(wrong: str) -> None:
    cost, rows = _program(1)
    whole = np.ones(cost.size, dtype=bool)
    if wrong == "cost":
        cost[2] = np.nan
    elif wrong == "matrix":
        rows.matrix.data[0] = np.inf
    elif wrong == "limit":
        rows.limits[1] = np.nan
    elif wrong == "sizes":
        cost = cost[:-1]
    else:
        whole[:] = False
    with pytest.raises(ValueError, match="program"):
        search(cost, rows, whole, 100)
    if wrong != "none whole":
        with pytest.raises(ValueError, match="program"):
            Relaxation(cost, rows)


def test_limits_that_are_changed_later_change_nothing() -> None:
    cost, rows = _program(3)
    asked = Relaxation(cost, rows)
    first = asked.least(rows.limits).cost
    rows.limits[:] += 1.0
    assert asked.least(rows.limits).cost < first
    assert asked.least(rows.limits - 1.0).cost == pytest.approx(first)


def test_sets_that_hardly_differ_are_told_apart() -> None:
    """The four least of a dozen costs that differ by parts in 1e12 of their sum."""
    for seed in range(20):
        cost = -1e5 - 1e-7 * np.random.default_rng(seed).permutation(12)
        rows = Rows(sparse.csc_matrix(np.ones((1, 12))), np.array([4.0]), np.zeros(12), np.ones(12))
        found = search(cost, rows, np.ones(12, dtype=bool), 1_000)
        assert found.x is not None
        assert sorted(np.flatnonzero(found.x > 0.5)) == sorted(np.argsort(cost)[:4])


def test_standard_output_stays_ours() -> None:
    """The solver has a banner, which would stand before a table or JSON that is read by a program."""
    script = (
        "import numpy as np\nfrom scipy import sparse\n"
        "from pipeline.agenda.solver import Relaxation, Rows, search\n"
        "rows = Rows(sparse.csc_matrix(np.ones((1, 2))), np.ones(1), np.zeros(2), np.ones(2))\n"
        "Relaxation(-np.ones(2), rows).least(rows.limits)\n"
        "search(-np.ones(2), rows, np.ones(2, dtype=bool), 10)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert (done.stdout, done.stderr) == ("", "")
