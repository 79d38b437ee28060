"""Hours on site in the program of the slots: from when a night's first slot begins until its last one ends.

Moment by moment, without large constants: u(t) is the share of a night that the dish is manned at t, f(t) the share
that begins then; u never grows but by f, and all f of a night together are one at most. Slots that share a moment stay
below u there. So fractions of slots cost their fraction of the hours, pauses included, and whole ones make u whole.
The form is that of start-up costs in power scheduling (Rajan and Takriti 2005, IBM Research Report RC23628, from
memory).
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import sparse

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]
# Where a row has its entries: columns, and one value for all of them.
Entries = list[tuple[int, IntArray, float]]


@dataclass(frozen=True)
class SiteHours:
    """What being on site costs, contacts; times are minutes as in the problem.

    By slot (n,): its end without the gap, and what arriving before it costs where it is the night's first, infinite
    where it must not be; an earlier start never saves more of that than its longer hours cost. By night (nights,):
    first start and last end of what is agreed there, NaN where nothing is, and what arriving before that costs; such a
    night costs only what is added to its hours.
    """

    minute_cost: float
    end: IntArray
    arriving: FloatArray
    held_first: FloatArray
    held_last: FloatArray
    held_arriving: FloatArray

    def manned_at(self, night: int, moment: int) -> SiteHours:
        """The same where the dish is manned at that moment of a night whatever is chosen."""
        first, last = self.held_first.copy(), self.held_last.copy()
        first[night], last[night] = np.fmin(first[night], moment), np.fmax(last[night], moment)
        return dataclasses.replace(self, held_first=first, held_last=last)


@dataclass(frozen=True)
class Night:
    """Moments (m + 1,) that bound the m stretches of one night, and for each: cost of f and u, bounds of u.

    `may_begin` (m,) marks stretches at whose start the night may begin, one cost each; it ends at none of the moments
    before `closing`.
    """

    items: IntArray
    moments: FloatArray
    may_begin: BoolArray
    begin_cost: FloatArray
    manned_cost: FloatArray
    least: FloatArray
    is_held: bool
    closing: int


class Manning:
    """The variables u and f of all nights, night by night: cost (v,), contacts, and least (v,); at most 1 each.

    From the slots in question (items): night, start, row in `SiteHours`; and the gap behind each.
    """

    def __init__(self, hours: SiteHours, night: IntArray, start: IntArray, slot: IntArray, gap: int) -> None:
        self.hours, self.gap = hours, gap
        self.night, self.start, self.end = night, start, hours.end[slot]
        self.arriving = hours.arriving[slot]
        self.nights = [self._night(one) for one in range(hours.held_first.size)]
        empty = [np.zeros(0)]
        self.cost = np.concatenate(empty + [part for one in self.nights for part in (one.manned_cost, one.begin_cost)])
        self.least = np.concatenate(
            empty + [part for one in self.nights for part in (one.least, np.zeros(one.begin_cost.size))]
        )

    def _night(self, night: int) -> Night:
        mine = np.flatnonzero(self.night == night)
        if not mine.size:
            nothing = np.zeros(0)
            return Night(mine, nothing, nothing.astype(bool), nothing, nothing, nothing, False, 0)
        first, last = self.hours.held_first[night], self.hours.held_last[night]
        held = not np.isnan(first)
        zone = [first, last + self.gap] if held else []
        moments = np.unique(np.concatenate([self.start[mine], self.end[mine] + self.gap, zone]).astype(float))
        begins, stops = moments[:-1], moments[1:]
        # Of each stretch what lies outside the time agreed; that is manned in any case and costs nothing more.
        inside = np.clip(np.minimum(stops, zone[1]) - np.maximum(begins, zone[0]), 0.0, None) if held else 0.0 * begins
        arriving = np.full(begins.size, np.inf)
        arriving[np.searchsorted(begins, self.start[mine])] = self.arriving[mine]
        if held:
            arriving = np.where(begins < first, arriving - self.hours.held_arriving[night], np.inf)
            arriving[np.searchsorted(begins, first)] = 0.0
        else:
            # u lasts to the end of the gap behind the last slot.
            arriving = arriving - self.hours.minute_cost * self.gap
        may_begin = np.isfinite(arriving)
        return Night(
            items=mine,
            moments=moments,
            may_begin=may_begin,
            begin_cost=arriving[may_begin],
            manned_cost=self.hours.minute_cost * (stops - begins - inside),
            least=(inside > 0.0).astype(float),
            is_held=held,
            closing=int(np.searchsorted(moments, zone[1])) if held else 0,
        )

    def rows(self) -> tuple[sparse.csr_matrix, sparse.csr_matrix]:
        """Rows over items and over nights and variables, all at most 0.

        Slots of a stretch are no more than u; u no more than u before and f; a night's f are the night, and no more
        than its slots together where none is agreed: without a slot no hours.
        """
        items: Entries = []
        rest: Entries = []
        row, column = 0, len(self.nights)
        for number, one in enumerate(self.nights):
            size = one.may_begin.size
            if not size:
                continue
            begin, busy = self.start[one.items], self.end[one.items] + self.gap
            begun = column + size - 1 + np.cumsum(one.may_begin)
            for place, moment in enumerate(one.moments[:-1]):
                items.append((row, one.items[(begin <= moment) & (busy > moment)], 1.0))
                rest.append((row, np.array([column + place]), -1.0))
                rest.append((row + 1, np.array([column + place]), 1.0))
                before = [column + place - 1] if place else []
                here = [begun[place]] if one.may_begin[place] else []
                rest.append((row + 1, np.array([*before, *here], dtype=np.int64), -1.0))
                row += 2
            every = column + size + np.arange(one.begin_cost.size)
            rest += [(row, every, 1.0), (row, np.array([number]), -1.0)]
            rest += [(row + 1, every, -1.0), (row + 1, np.array([number]), 1.0)]
            row += 2
            if np.isnan(self.hours.held_first[number]):
                rest.append((row, every, 1.0))
                items.append((row, one.items, -1.0))
                row += 1
            column += size + one.begin_cost.size
        return _sparse(items, row, self.night.size), _sparse(rest, row, len(self.nights) + self.cost.size)

    def spent(self, items: IntArray) -> float:
        """What the hours of a whole choice cost, contacts; the numbers of its items are (n,)."""
        return sum(self._spent(int(night), items[self.night[items] == night]) for night in np.unique(self.night[items]))

    def _spent(self, night: int, mine: IntArray) -> float:
        first, last = float(self.start[mine].min()), float(self.end[mine].max())
        held_first, held_last = self.hours.held_first[night], self.hours.held_last[night]
        if held_first <= first:
            return self.hours.minute_cost * max(last - held_last, 0.0)
        # Where the first slot must not be first somebody is there before it.
        able = np.flatnonzero((self.night == night) & (self.start <= first) & np.isfinite(self.arriving))
        begins = able[np.argmax(self.start[able])]
        cost = float(self.arriving[begins]) + self.hours.minute_cost * (last - float(self.start[begins]))
        if np.isnan(held_first):
            return cost
        already = self.hours.held_arriving[night] + self.hours.minute_cost * (held_last - held_first)
        return cost + self.hours.minute_cost * max(held_last - last, 0.0) - float(already)


def _sparse(parts: Entries, rows: int, columns: int) -> sparse.csr_matrix:
    row = np.repeat([one[0] for one in parts], [one[1].size for one in parts]).astype(np.int64)
    value = np.repeat([one[2] for one in parts], [one[1].size for one in parts])
    column = np.concatenate([np.zeros(0, dtype=np.int64), *(one[1] for one in parts)])
    return sparse.csr_matrix((value, (row, column)), shape=(rows, columns))
