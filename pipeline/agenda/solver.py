"""Linear and integer programs of the agenda: the least cost where no row of `matrix @ x` is above its limit.

By HiGHS (Huangfu and Hall 2018, Mathematical Programming Computation 10, 119), in one thread and as the programs stand:
of ones as small as these, more threads and a look at what could be left out take longer than the search.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
from scipy import sparse

from pipeline.agenda.silence import silent_solver

if TYPE_CHECKING:
    from highspy import Highs, HighsStatus

FloatArray = npt.NDArray[np.float64]

# What HiGHS says of a solution that meets all bounds.
FEASIBLE = 2
# Sets that differ by more than this (units of cost) are told apart: a tie may hang on little.
TOLERANCE = 1e-9
SEARCH = {
    "mip_rel_gap": 0.0,
    "mip_abs_gap": 0.0,
    "mip_feasibility_tolerance": TOLERANCE,
    "dual_feasibility_tolerance": TOLERANCE,
}
# What jumps about for a first set takes longer than all the rest of so small a search; older versions have no such.
IF_KNOWN = {"mip_heuristic_run_feasibility_jump": False}


@dataclass(frozen=True)
class Rows:
    """What bounds the variables (v,): `matrix` (rows, v) times them is at most `limits` (rows,); `low` to `high` (v,).

    None of them may be below 0.
    """

    matrix: sparse.csc_matrix
    limits: FloatArray
    low: FloatArray
    high: FloatArray


@dataclass(frozen=True)
class Relaxed:
    """The least of a linear program, its variables (v,), and the price of each row, (rows,), not negative."""

    cost: float
    x: FloatArray
    prices: FloatArray


@dataclass(frozen=True)
class Searched:
    """The best variables (v,) that a search found, None where it found none; no others cost less than `bound`.

    That is infinite where there are none at all. `nodes` is how many branches were looked at.
    """

    x: FloatArray | None
    bound: float
    nodes: int


class Relaxation:
    """A linear program; asked again with other limits it goes on from where it stood."""

    def __init__(self, cost: FloatArray, rows: Rows) -> None:
        with silent_solver():
            self._solver = _solver(cost, rows, {})
        self._limits = rows.limits.copy()

    def least(self, limits: FloatArray) -> Relaxed:
        """The least under these limits (rows,), without a unit.

        Raises ValueError where nothing meets them, nothing is the least, or a limit is no number.
        """
        import highspy

        with silent_solver():
            for row in np.flatnonzero(limits != self._limits):
                _require(self._solver.changeRowBounds(int(row), -np.inf, float(limits[row])))
            _require(self._solver.run())
        self._limits = limits.copy()
        status = self._solver.getModelStatus()
        if status != highspy.HighsModelStatus.kOptimal:
            raise ValueError(f"a linear program has no least: {self._solver.modelStatusToString(status)}")
        found = self._solver.getSolution()
        return Relaxed(
            cost=float(self._solver.getInfo().objective_function_value),
            x=np.array(found.col_value),
            prices=np.maximum(-np.array(found.row_dual), 0.0),
        )


def search(cost: FloatArray, rows: Rows, whole: npt.NDArray[np.bool_], most_nodes: int) -> Searched:
    """The least cost (v,) where some variables, `whole` (v,), are whole numbers; it ends by a number of nodes.

    That is 1 or more; costs have the unit of the caller. Raises ValueError where no variable is whole, or a figure is
    no number.
    """
    import highspy

    if not whole.any():
        raise ValueError("no variable of this program is whole; its relaxation is meant")
    with silent_solver():
        solver = _solver(cost, _binding(rows), SEARCH | {"mip_max_nodes": most_nodes})
        those = np.flatnonzero(whole).astype(np.int32)
        kinds = np.full(those.size, highspy.HighsVarType.kInteger)
        _require(solver.changeColsIntegrality(those.size, those, kinds))
        _require(solver.run())
    found, told = solver.getSolution(), solver.getInfo()
    none_at_all = solver.getModelStatus() == highspy.HighsModelStatus.kInfeasible
    return Searched(
        x=np.array(found.col_value) if told.primal_solution_status == FEASIBLE else None,
        bound=np.inf if none_at_all else float(told.mip_dual_bound),
        nodes=max(0, int(told.mip_node_count)),
    )


def _binding(rows: Rows) -> Rows:
    """Without the rows that all variables meet whatever they are; none of them is below 0."""
    entries = rows.matrix.tocoo()
    binds = rows.limits < 0.0
    binds[entries.row[entries.data > 0.0]] = True
    return Rows(rows.matrix.tocsr()[np.flatnonzero(binds)].tocsc(), rows.limits[binds], rows.low, rows.high)


def _solver(cost: FloatArray, rows: Rows, options: Mapping[str, float]) -> Highs:
    """The solver with a program in it. Raises ValueError where a figure is no number, or sizes do not go together."""
    # Loads where a program is solved: most commands that know agendas solve none.
    import highspy

    if not all(np.isfinite(figures).all() for figures in (cost, rows.matrix.data, rows.limits)):
        raise ValueError("a figure of this program is no number")
    program = highspy.HighsLp()
    program.num_row_, program.num_col_ = rows.matrix.shape
    program.col_cost_, program.col_lower_, program.col_upper_ = cost, rows.low, rows.high
    program.row_lower_, program.row_upper_ = np.full(rows.limits.size, -np.inf), rows.limits
    columns = program.a_matrix_
    columns.format_ = highspy.MatrixFormat.kColwise
    columns.num_row_, columns.num_col_ = rows.matrix.shape
    columns.start_, columns.index_, columns.value_ = rows.matrix.indptr, rows.matrix.indices, rows.matrix.data
    solver = highspy.Highs()
    always: dict[str, float | str] = {"output_flag": False, "threads": 1, "presolve": "off"}
    for name, value in {**always, **options}.items():
        _require(solver.setOptionValue(name, value))
    for name, is_on in IF_KNOWN.items():
        solver.setOptionValue(name, is_on)
    _require(solver.passModel(program))
    return solver


def _require(status: HighsStatus) -> None:
    """A step that the solver refuses must not pass for a result."""
    if status.name == "kError":
        raise ValueError("the solver refuses this program")
