"""Linear and integer programs of the agenda: the least cost where no row of `matrix @ x` is above its limit.

By HiGHS in one thread and as the programs stand (Huangfu and Hall 2018, Mathematical Programming Computation 10, 119):
for programs as small as these more threads only wait for one another, and looking for what could be left out of one
takes as long as solving it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
from scipy import sparse

from pipeline.agenda.silence import silent_solver

if TYPE_CHECKING:
    from highspy import Highs

FloatArray = npt.NDArray[np.float64]

# What HiGHS says of a solution that meets all bounds.
FEASIBLE = 2


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
            self._solver = _solver(cost, rows, presolve="off")
        self._limits = rows.limits

    def least(self, limits: FloatArray) -> Relaxed:
        """The least under these limits (rows,), without a unit. Raises ValueError where nothing meets them."""
        for row in np.flatnonzero(limits != self._limits):
            self._solver.changeRowBounds(int(row), -np.inf, float(limits[row]))
        self._limits = limits
        with silent_solver():
            self._solver.run()
        found, told = self._solver.getSolution(), self._solver.getInfo()
        if told.primal_solution_status != FEASIBLE or told.dual_solution_status != FEASIBLE:
            raise ValueError("no variables meet the rows of this program")
        return Relaxed(
            cost=float(told.objective_function_value),
            x=np.array(found.col_value),
            prices=np.maximum(-np.array(found.row_dual), 0.0),
        )


def search(cost: FloatArray, rows: Rows, whole: npt.NDArray[np.bool_], most_nodes: int) -> Searched:
    """The least cost (v,) where some variables, `whole` (v,), are whole numbers; it ends by a number of nodes."""
    import highspy

    with silent_solver():
        # What jumps about for a first set takes longer than all the rest of so small a search.
        jumping = {"mip_heuristic_run_feasibility_jump": False}
        solver = _solver(cost, _binding(rows), presolve="off", mip_rel_gap=0.0, mip_max_nodes=most_nodes, **jumping)
        those = np.flatnonzero(whole).astype(np.int32)
        solver.changeColsIntegrality(those.size, those, np.full(those.size, highspy.HighsVarType.kInteger))
        solver.run()
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


def _solver(cost: FloatArray, rows: Rows, **options: float | str) -> Highs:
    """The solver with a program in it."""
    # Most commands that know agendas solve none.
    import highspy

    program = highspy.HighsLp()
    program.num_row_, program.num_col_ = rows.matrix.shape
    program.col_cost_, program.col_lower_, program.col_upper_ = cost, rows.low, rows.high
    program.row_lower_, program.row_upper_ = np.full(rows.limits.size, -np.inf), rows.limits
    columns = program.a_matrix_
    columns.format_ = highspy.MatrixFormat.kColwise
    columns.num_row_, columns.num_col_ = rows.matrix.shape
    columns.start_, columns.index_, columns.value_ = rows.matrix.indptr, rows.matrix.indices, rows.matrix.data
    solver = highspy.Highs()
    for name, value in {"output_flag": False, "threads": 1, **options}.items():
        solver.setOptionValue(name, value)
    solver.passModel(program)
    return solver
