"""A large choice of slots night by night: what each slot costs its night, and the best sequence of slots of one night.

From a `Problem`; by dynamic programming over the number of slots, hours and gaps exact. A demand that would come twice
the same night is parted by time, before or after, and what promises most is looked at first.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.agenda.milp_hours import SiteHours
from pipeline.agenda.milp_model import LEAST_NIGHT_COST, NEVER, QUANTUM, UNITS, Problem, ties_of

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Strip:
    """The items of one night, (n,), by demand and start; `parts` are the rows of each demand.

    Costs in contacts: of being the night's first slot and its last (n,), and the manned time before each start and end
    (n,). `by_busy` (n,) orders the rows by when the dish is free again; `free` (n,) of them are so before each start.
    """

    items: IntArray
    owner: IntArray
    parts: Mapping[int, slice]
    start: IntArray
    begin: FloatArray
    finish: FloatArray
    first: FloatArray
    last: FloatArray
    by_busy: IntArray
    free: IntArray
    room: int
    cost: float

    def chain(self, gain: FloatArray) -> tuple[float, list[int]]:
        """The most that slots in a row earn at these gains (n,) less their hours, and their rows; NEVER without any."""
        alone = gain - (self.finish - self.begin)
        value, levels = alone - self.first, list[FloatArray]()
        best, at = NEVER, (0, 0)
        for level in range(self.room):
            if level:
                top = np.maximum.accumulate((value + self.finish)[self.by_busy])
                value = alone - self.begin + np.where(self.free > 0, top[self.free - 1], NEVER)
            whole = value - self.last
            row = int(np.argmax(whole))
            if whole[row] == NEVER:
                break
            levels.append(value)
            if whole[row] > best:
                best, at = float(whole[row]), (level, row)
        return (best, self._back(levels, *at)) if levels else (NEVER, [])

    def _back(self, levels: list[FloatArray], level: int, row: int) -> list[int]:
        rows = [row]
        for below in levels[:level][::-1]:
            earlier = self.by_busy[: self.free[row]]
            row = int(earlier[np.argmax((below + self.finish)[earlier])])
            rows.append(row)
        return rows[::-1]

    def spent(self, rows: list[int]) -> float:
        """What the night and its hours cost with these rows, contacts."""
        if not rows:
            return 0.0
        first, last = min(rows, key=lambda row: self.start[row]), max(rows, key=lambda row: self.finish[row])
        return float(self.first[first] + self.finish[last] - self.begin[first] + self.last[last]) + self.cost

    def best(self, gain: FloatArray, twice: Mapping[int, float], most: int) -> tuple[float, list[int]]:
        """A bound on what rows earn, no demand coming twice, at these gains (n,), a number each, and the best rows met.

        So many sequences are looked at. Demands in `twice` may come twice for so much less, where the rows are those of
        the bound.
        """
        value, rows = self.chain(gain)
        count = itertools.count(1)
        settled = frozenset(owner for owner, less in twice.items() if less <= 0.0)
        heap = [(-value, 0, gain, rows, settled, 0.0)]
        known, best = NEVER, list[int]()
        for _ in range(most):
            if -heap[0][0] == NEVER:
                break
            minus, _, now, rows, settled, less = heapq.heappop(heap)
            single = self._single(rows, gain)
            value = float(gain[single].sum()) - self.spent(single) + self.cost
            if value > known:
                known, best = value, single
            pair = self._pair(rows, settled)
            if pair is None or known >= -minus:
                return -minus, best
            owner = int(self.owner[pair[0]])
            part, middle = self.parts[owner], (self.start[pair[0]] + self.start[pair[1]]) / 2.0
            for side in (self.start[part] > middle, self.start[part] <= middle):
                fewer = now.copy()
                fewer[part] = np.where(side, NEVER, now[part])
                value, found = self.chain(fewer)
                heapq.heappush(heap, (-(value - less), next(count), fewer, found, settled, less))
            if owner in twice:
                more = twice[owner]
                heapq.heappush(heap, (minus + more, next(count), now, rows, settled | {owner}, less + more))
        return max(-heap[0][0], known), best

    def _single(self, rows: list[int], gain: FloatArray) -> list[int]:
        """These rows without those of a demand that has a better one."""
        found: dict[int, int] = {}
        for row in rows:
            owner = int(self.owner[row])
            if owner not in found or gain[row] > gain[found[owner]]:
                found[owner] = row
        return list(found.values())

    def _pair(self, rows: list[int], settled: frozenset[int]) -> tuple[int, int] | None:
        """The first two rows of one demand, of those not settled."""
        seen: dict[int, int] = {}
        for row in rows:
            owner = int(self.owner[row])
            if owner in seen and owner not in settled:
                return seen[owner], row
            seen[owner] = row
        return None


class Ground:
    """All items that may be chosen at all, (m,), by demand: night, times, worth in whole quanta, trifle of ties.

    `of` (demands,) are the items of each, `place` (m,) where they stand in it; `strips` are the nights with any.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        sizes = [one.slots.size for one in problem.demands]
        owner = np.repeat(np.arange(len(sizes)), sizes)
        nothing = np.zeros(0, dtype=np.int64)
        slot = np.concatenate([nothing, *(one.slots for one in problem.demands)])
        place = np.concatenate([nothing, *(np.arange(size) for size in sizes)])
        worth = np.concatenate([np.zeros(0), *(one.worth for one in problem.demands)])
        usable = (problem.room > 0) & (problem.open_nights | (problem.most_nights > 0))
        may = np.array([one.most > 0 for one in problem.demands], dtype=bool)
        self.rows = np.flatnonzero(usable[problem.night[slot]] & may[owner]) if slot.size else nothing
        self.owner, self.slot, self.place = owner[self.rows], slot[self.rows], place[self.rows]
        self.tie = ties_of(problem, owner, slot)[self.rows] / UNITS
        self.night, self.start = problem.night[self.slot], problem.start[self.slot]
        self.busy_until = problem.busy_until[self.slot]
        self.worth = whole(worth[self.rows])
        edges = np.searchsorted(self.owner, np.arange(len(sizes) + 1))
        self.of = [slice(int(low), int(high)) for low, high in itertools.pairwise(edges)]
        self.strips = {int(night): self._strip(int(night)) for night in np.unique(self.night)}

    def together(self, item: int) -> FloatArray:
        """What an item and each of its demand's are worth together, (n,) contacts; NEVER where they must not go."""
        demand = int(self.owner[item])
        pairs = self.problem.demands[demand].pair_worth
        assert pairs is not None
        return whole(pairs[self.place[item], self.place[self.of[demand]]])

    def _strip(self, night: int) -> Strip:
        items = np.flatnonzero(self.night == night)
        start, busy_until = self.start[items], self.busy_until[items]
        by_busy = np.argsort(busy_until, kind="stable")
        edges = np.flatnonzero(np.diff(self.owner[items], prepend=-1, append=-1))
        cost = 0.0 if self.problem.open_nights[night] else max(self.problem.night_cost, LEAST_NIGHT_COST)
        return Strip(
            items=items,
            owner=self.owner[items],
            parts={int(self.owner[items[low]]): slice(int(low), int(high)) for low, high in itertools.pairwise(edges)},
            start=start,
            by_busy=by_busy,
            free=np.searchsorted(busy_until[by_busy], start, side="right"),
            room=int(self.problem.room[night]),
            cost=cost,
            **_hours(self.problem.hours, night, start, self.slot[items]),
        )


def whole(worth: FloatArray) -> FloatArray:
    """Worth (n,), a number of contacts, in whole quanta; NEVER stays."""
    return np.asarray(np.round(worth / QUANTUM) * QUANTUM)


def _hours(hours: SiteHours | None, night: int, start: IntArray, slot: IntArray) -> dict[str, FloatArray]:
    """The costs of hours of a strip."""
    if hours is None:
        return {name: np.zeros(start.size) for name in ("begin", "finish", "first", "last")}
    held, until, zero = hours.held_first[night], hours.held_last[night], float(start.min())

    def manned(moment: FloatArray) -> FloatArray:
        inside = np.clip(moment - held, 0.0, until - held) if not np.isnan(held) else 0.0
        return np.asarray(hours.minute_cost * (moment - zero - inside))

    begin, finish = manned(start.astype(float)), manned(hours.end[slot].astype(float))
    # Where a slot must not be first somebody is there from the latest before it on that may.
    order = np.argsort(start, kind="stable")
    able = np.isfinite(hours.arriving[slot])[order]
    latest = np.maximum.accumulate(np.where(able, np.arange(order.size), -1))
    latest = latest[np.searchsorted(start[order], start, side="right") - 1]
    from_row = order[np.maximum(latest, 0)]
    arriving = hours.arriving[slot][from_row] + hours.minute_cost * (start - start[from_row])
    first, last = np.where(latest >= 0, arriving, np.inf), np.zeros(start.size)
    if not np.isnan(held):
        edge = float(manned(np.array([held]))[0])
        first = np.where(start < held, first - hours.held_arriving[night], begin - edge)
        last = np.maximum(edge - finish, 0.0)
    return {"begin": begin, "finish": finish, "first": first, "last": last}
