"""Linear and integer programs against scipy's simplex and branch and bound, and against every choice of small ones."""

from __future__ import annotations

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
    with pytest.raises(ValueError, match="no variables meet the rows"):
        Relaxation(np.ones(2), rows).least(rows.limits)
