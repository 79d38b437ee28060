"""The choice of slots as a mixed-integer linear program: what is asked, its columns, rows and prices as matrices.

One slot at a time at the dish, so many a night, so many nights; a partner's one or two slots are a column each, so that
the chance of two slots together stays linear. Conflicts are cliques: of slots that share a moment one is taken. Hours
on site come in by `milp_hours`, where they cost anything.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy import sparse

from pipeline.agenda.milp_hours import Manning, SiteHours

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# Worth is compared to a ten-thousandth of a contact; what is equal to that is settled by the date.
QUANTUM = 1e-4
# The solver's own tolerances are absolute: worth is handed over in these units, ten to a quantum.
UNITS = 1e5
TIE_UNITS = 4.0
LEAST_NIGHT_COST = 2 * QUANTUM
# No two slots: not allowed.
NEVER = -np.inf


@dataclass(frozen=True)
class Demand:
    """What one partner and operator could have: slots (n,) by their index, worth of each alone (n,), in contacts.

    With `pair_worth` (n, n) at most two are taken and are worth that together; NEVER where they must not go together.
    Without it each counts alone and at most `most` are taken.
    """

    slots: IntArray
    worth: FloatArray
    pair_worth: FloatArray | None
    most: int


@dataclass(frozen=True)
class Problem:
    """All slots (n,): start and the end of what they occupy, with the gap, minutes; night. Limits by night (nights,).

    `open_nights` are in use already: they cost nothing and are counted already. `keep` marks slots of a demand as
    (demand, slot) that should stay, as many as can.
    """

    start: IntArray
    busy_until: IntArray
    night: IntArray
    demands: tuple[Demand, ...]
    night_cost: float
    room: IntArray
    open_nights: npt.NDArray[np.bool_]
    most_nights: int
    keep: frozenset[tuple[int, int]] = frozenset()
    # What settles ties, 0 to 1, the less the better; the start where it is not given.
    second: FloatArray | None = None
    # What hours on site cost; nothing where it is not given.
    hours: SiteHours | None = None


@dataclass(frozen=True)
class Choice:
    """(demand, slot) chosen; worth less what nights and hours cost; the bound nobody can pass; how hard it was."""

    taken: tuple[tuple[int, int], ...]
    value: float
    bound: float
    kept: int
    nodes: int
    columns: int

    @property
    def gap(self) -> float:
        """Contacts by which a better set could still lie above; 0 where this one is proven the best."""
        return 0.0 if self.bound - self.value < QUANTUM else self.bound - self.value


@dataclass(frozen=True)
class Columns:
    """One or two items of a demand each, (c,): `second` is -1 where there is one; items count through all demands."""

    demand: IntArray
    first: IntArray
    second: IntArray

    def __add__(self, other: Columns) -> Columns:
        return Columns(
            np.concatenate([self.demand, other.demand]),
            np.concatenate([self.first, other.first]),
            np.concatenate([self.second, other.second]),
        )

    def take(self, rows: npt.NDArray[np.generic]) -> Columns:
        """Some of them, by row (k,)."""
        return Columns(self.demand[rows], self.first[rows], self.second[rows])


class Program:
    """A problem as matrices: rows over items once, columns as they come."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.sizes = [demand.slots.size for demand in problem.demands]
        self.offset = np.concatenate([[0], np.cumsum(self.sizes)]).astype(np.int64)
        self.owner = np.repeat(np.arange(len(self.sizes)), self.sizes)
        self.slot = np.concatenate([np.zeros(0, dtype=np.int64), *(demand.slots for demand in problem.demands)])
        self.night = problem.night[self.slot]
        self.nights = problem.room.size
        self.kept = np.array(
            [(int(d), int(s)) in problem.keep for d, s in zip(self.owner, self.slot, strict=True)], dtype=bool
        )
        self.manning = None
        if problem.hours is not None and self.slot.size:
            gap = int((problem.busy_until - problem.hours.end).max())
            self.manning = Manning(problem.hours, self.night, problem.start[self.slot], self.slot, gap)
        # Variables behind the columns: the nights, then those of their hours.
        self.rest = self.nights + (0 if self.manning is None else self.manning.cost.size)
        self.rows, self.rest_part, self.limit = self._item_rows()
        self.tie = ties_of(problem, self.owner, self.slot)

    def allowing(self, most_nights: int) -> Program:
        """The same with another number of nights that may be used; matrices are shared."""
        other = copy(self)
        other.problem = replace(self.problem, most_nights=most_nights)
        other.limit = self.limit.copy()
        other.limit[self.row_of_nights] = most_nights
        return other

    def _item_rows(self) -> tuple[sparse.csr_matrix, sparse.csr_matrix, FloatArray]:
        """Limits on items: one slot at a time, slots of a night, nights in all. Rows over items and over the rest."""
        cliques, lids = self._cliques()
        self.across = lids < 0
        count = len(cliques)
        self.row_of_nights = count + self.nights
        item = np.concatenate([np.zeros(0, dtype=np.int64), *cliques])
        row = np.repeat(np.arange(count), [clique.size for clique in cliques])
        rows = sparse.csr_matrix((np.ones(item.size), (row, item)), shape=(count, self.slot.size))
        tied = np.flatnonzero(lids >= 0)
        lids_of = sparse.csr_matrix((-np.ones(tied.size), (tied, lids[tied])), shape=(count, self.nights))
        by_night = sparse.csr_matrix(
            (np.ones(self.slot.size), (self.night, np.arange(self.slot.size))), shape=(self.nights, self.slot.size)
        )
        room = sparse.diags(-self.problem.room.astype(float), format="csr")
        all_nights = sparse.csr_matrix(np.where(self.problem.open_nights, 0.0, 1.0)[None])
        over_items = [rows, by_night, sparse.csr_matrix((1, self.slot.size))]
        over_rest = [self._widened(sparse.vstack([lids_of, room, all_nights]))]
        limit = [np.where(lids >= 0, 0.0, 1.0), np.zeros(self.nights), np.array([self.problem.most_nights])]
        if self.manning is not None:
            more_items, more_rest = self.manning.rows()
            over_items.append(more_items)
            over_rest.append(more_rest)
            limit.append(np.zeros(more_items.shape[0]))
        return sparse.vstack(over_items).tocsr(), sparse.vstack(over_rest).tocsr(), np.concatenate(limit)

    def _cliques(self) -> tuple[list[IntArray], IntArray]:
        """Items of which one is taken at most, and the night that must be used for it; -1: of several nights.

        Where hours count those of one night are in the rows of its hours.
        """
        night, begins, ends = self.night, self.problem.start[self.slot], self.problem.busy_until[self.slot]
        cliques, lids = [], []
        previous: frozenset[int] = frozenset()
        for moment in np.unique(begins):
            # All that would occupy the dish at this moment: slots that overlap at all do so when the later begins.
            here = np.flatnonzero((begins <= moment) & (ends > moment))
            group = frozenset(here.tolist())
            if group <= previous:
                continue
            previous = group
            held = np.unique(night[here])
            found = [(here[night[here] == one], int(one)) for one in held] if self.manning is None else []
            for clique, lid in found if held.size == 1 else [*found, (here, -1)]:
                cliques.append(clique)
                lids.append(lid)
        return cliques, np.array(lids, dtype=np.int64)

    def _widened(self, over_nights: sparse.spmatrix) -> sparse.csr_matrix:
        """Rows over nights as rows over nights and hours."""
        empty = sparse.csr_matrix((over_nights.shape[0], self.rest - self.nights))
        return sparse.hstack([over_nights, empty]).tocsr()

    def singles(self) -> Columns:
        """Every item alone."""
        items = np.flatnonzero(np.array([d.most > 0 for d in self.problem.demands], dtype=bool)[self.owner])
        return Columns(self.owner[items], items, np.full(items.size, -1))

    def worth(self, columns: Columns) -> FloatArray:
        """Each column's worth in whole quanta, units, (columns,); the tie-break apart."""
        found = np.zeros(columns.demand.size)
        for number, demand in enumerate(self.problem.demands):
            mine = columns.demand == number
            first, second = columns.first[mine] - self.offset[number], columns.second[mine] - self.offset[number]
            alone = columns.second[mine] < 0
            values = demand.worth[first]
            if demand.pair_worth is not None and not alone.all():
                values = np.where(alone, values, demand.pair_worth[first, np.where(alone, first, second)])
            found[mine] = values
        return np.round(found / QUANTUM) * QUANTUM * UNITS

    def trifles(self, columns: Columns) -> FloatArray:
        """Each column's tie-break, units, (columns,)."""
        return self.tie[columns.first] + np.where(columns.second >= 0, self.tie[columns.second], 0.0)

    def matrix(self, columns: Columns) -> sparse.csc_matrix:
        """All rows over the columns and, behind them, the nights and their hours."""
        count = columns.demand.size
        two = np.flatnonzero(columns.second >= 0)
        place = np.concatenate([np.arange(count), two])
        item = np.concatenate([columns.first, columns.second[two]])
        chosen = sparse.csr_matrix((np.ones(place.size), (item, place)), shape=(self.slot.size, count))
        upper = sparse.hstack([self.rows @ chosen, self.rest_part])
        # No demand is served more often than asked; on a night that is not used not at all.
        demands = sparse.csr_matrix(
            (np.ones(count), (columns.demand, np.arange(count))), shape=(len(self.sizes), count)
        )
        touched = sparse.csr_matrix(
            (np.ones(place.size), (columns.demand[place] * self.nights + self.night[item], place)),
            shape=(len(self.sizes) * self.nights, count),
        )
        touched.data = np.minimum(touched.data, 1.0)
        lids = -np.tile(np.eye(self.nights), (len(self.sizes), 1)) * np.repeat(self.most, self.nights)[:, None]
        keeping = -(self.kept[columns.first] + (columns.second >= 0) * self.kept[columns.second].astype(float))
        return sparse.bmat(
            [
                [upper],
                [sparse.hstack([demands, sparse.csr_matrix((len(self.sizes), self.rest))])],
                [sparse.hstack([touched, self._widened(sparse.csr_matrix(lids))])],
                [sparse.csr_matrix(np.concatenate([keeping, np.zeros(self.rest)])[None])],
            ]
        ).tocsc()

    @property
    def most(self) -> FloatArray:
        """Columns that each demand may have (demands,), a number: one where two slots are a column of their own."""
        return np.array([1 if d.pair_worth is not None else d.most for d in self.problem.demands], dtype=float)

    def limits(self, keep: int) -> FloatArray:
        """Upper limits of all rows, (rows,), each in the unit of its row."""
        return np.concatenate([self.limit, self.most, np.zeros(len(self.sizes) * self.nights), [-float(keep)]])

    def rest_units(self) -> FloatArray:
        """What using each night costs, then its hours, units (rest,)."""
        cost = round(max(self.problem.night_cost, LEAST_NIGHT_COST) / QUANTUM) * QUANTUM * UNITS
        nights = np.where(self.problem.open_nights, 0.0, cost)
        return nights if self.manning is None else np.concatenate([nights, self.manning.cost * UNITS])

    def rest_bounds(self) -> tuple[FloatArray, FloatArray]:
        """Least and most of each night's variable and of those of its hours, 0 to 1, (rest,) each."""
        open_nights = self.problem.open_nights.astype(float)
        most = np.where(self.problem.room > 0, 1.0, open_nights)
        if self.manning is None:
            return open_nights, most
        # A night that costs nothing and holds nothing yet is in use once it has a slot: only then are there hours.
        used = np.where(np.isnan(self.manning.hours.held_first), 0.0, open_nights)
        return np.append(used, self.manning.least), np.append(most, np.ones(self.manning.least.size))

    def whole(self) -> npt.NDArray[np.bool_]:
        """Which of (rest,) are whole numbers: each night's variable; its hours follow the slots."""
        return np.arange(self.rest) < self.nights

    def spent(self, columns: Columns, nights: npt.NDArray[np.bool_]) -> float:
        """What the nights in use, (nights,), and the hours of a whole choice cost, units."""
        total = float(self.rest_units()[: self.nights][nights].sum())
        if self.manning is not None:
            items = np.concatenate([columns.first, columns.second[columns.second >= 0]])
            total += self.manning.spent(items) * UNITS
        return total

    def priced(self, duals: FloatArray) -> tuple[list[FloatArray], FloatArray]:
        """Reduced worth of every pair of each demand, (n, n) above the diagonal, and of every item alone, (items,).

        `duals` are the rows' prices, not negative. All in units of worth.
        """
        items = self.rows.shape[0]
        demand_dual = duals[items : items + len(self.sizes)]
        night_dual = duals[items + len(self.sizes) : -1].reshape(len(self.sizes), self.nights)
        cost = self.rows.T @ duals[:items] + self.tie - self.kept * duals[-1]
        nightly = night_dual[self.owner, self.night]
        single = self.worth(Columns(self.owner, np.arange(self.owner.size), np.full(self.owner.size, -1)))
        alone = single - cost - nightly - demand_dual[self.owner]
        pairs = []
        for number, demand in enumerate(self.problem.demands):
            mine = slice(int(self.offset[number]), int(self.offset[number + 1]))
            if demand.pair_worth is None:
                pairs.append(np.full((0, 0), NEVER))
                continue
            each, night = (cost + nightly)[mine], self.night[mine]
            value = np.round(demand.pair_worth / QUANTUM) * QUANTUM * UNITS
            reduced = value - each[:, None] - each[None] - demand_dual[number]
            reduced += np.where(night[:, None] == night[None], nightly[mine][:, None], 0.0)
            reduced[np.tril_indices(night.size)] = NEVER
            pairs.append(reduced)
        return pairs, alone

    def earned(self, duals: FloatArray) -> tuple[FloatArray, FloatArray, float]:
        """What at these prices each item earns its night (items,), a night in use by itself (nights,), and the rest.

        The rest are the rows of several nights; `duals` are (rows,), and all is in units of worth.
        """
        items = self.rows.shape[0]
        by_demand = duals[items + len(self.sizes) : -1].reshape(len(self.sizes), self.nights)
        across = np.append(self.across, np.zeros(items - self.across.size, dtype=bool))
        alone = np.where(across, 0.0, duals[:items])
        return self.rows.T @ alone, self.most @ by_demand, float(duals[:items][across].sum())

    def pairs_above(self, reduced: list[FloatArray], least: float, most: int) -> Columns:
        """Pairs whose reduced worth is above `least`, at most so many of each demand, the best first.

        `reduced` (n, n) of each demand, units.
        """
        found = [Columns(*(np.zeros(0, dtype=np.int64) for _ in range(3)))]
        for number, values in enumerate(reduced):
            first, second = np.nonzero(values > least)
            order = np.lexsort((second, first, -values[first, second]))[:most]
            found.append(
                Columns(
                    np.full(order.size, number),
                    first[order] + self.offset[number],
                    second[order] + self.offset[number],
                )
            )
        total = found[0]
        for one in found[1:]:
            total = total + one
        return total

    def best_pairs(self, reduced: list[FloatArray], least: float, most: int) -> Columns:
        """Of each demand and two nights the pair of greatest reduced worth, where above `least`; the best `most`.

        Many pairs of the same two nights would stand in for each other. `reduced` (n, n) of each demand, units.
        """
        found = []
        for number, values in enumerate(reduced):
            first, second = np.nonzero(values > least)
            night = self.night[self.offset[number] : self.offset[number + 1]]
            order = np.lexsort((second, first, -values[first, second]))
            both = night[first[order]] * self.nights + night[second[order]]
            _, fresh = np.unique(both, return_index=True)
            order = order[np.sort(fresh)[:most]]
            found.append(
                np.stack(
                    [
                        np.full(order.size, number),
                        first[order] + self.offset[number],
                        second[order] + self.offset[number],
                    ]
                )
            )
        table = np.concatenate([np.zeros((3, 0), dtype=np.int64), *found], axis=1)
        return Columns(*table)


def ties_of(problem: Problem, owner: IntArray, slot: IntArray) -> FloatArray:
    """A trifle for each item, units, by the second criterion, less so further down; all together below a quantum.

    Items are told by demand and slot, (items,) each. Among equals the demand named first has the better one.
    """
    if not slot.size:
        return np.zeros(0)
    demands, start = len(problem.demands), problem.start[slot]
    second = (start - start.min()) / (np.ptp(start) + 1)
    if problem.second is not None:
        second = problem.second[slot]
    most = min(2 * demands, max(1, int(problem.room.sum())))
    order = 1.0 + 0.5 * (demands - owner) / max(1, demands)
    return np.asarray(TIE_UNITS / most / 1.5 * order * second)
