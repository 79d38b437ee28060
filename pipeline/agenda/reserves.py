"""Reserve nights, named beforehand: where most partners of a night could go if the weather takes it.

From the agenda and the slots it was chosen from: every set-up night against every later night that is not in use.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.agenda.agenda import Agenda
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.slot_grid import SlotGrid

# Sets of partners are tried one by one: a night of more slots than this is held to its first ones.
MOST_PARTNERS = 10


@dataclass(frozen=True)
class Reserve:
    """A night with slots, the later one that could hold most of its partners, and these; None where none could."""

    night: dt.date
    reserve: dt.date | None
    partners: tuple[str, ...]


def reserve_nights(grid: SlotGrid, agenda: Agenda) -> tuple[Reserve, ...]:
    """The reserve of every night that is to be set up still, in order of time.

    The one that holds most of its partners, whole slots with their gap; of equal ones that of the best chances (their
    sum to 0.1), then the nearest.
    """
    ahead = [one for one in agenda.slots if not one.is_over]
    dates, calls = grid.period.dates, [station.call for station in grid.inputs.partners]
    found = []
    for night in sorted({one.night for one in ahead}):
        pairs = list(dict.fromkeys(one.pair for one in ahead if one.night == night))[:MOST_PARTNERS]
        tried = [
            (held, later)
            for later in range(night + 1, len(dates))
            if later not in agenda.nights and (held := _held(grid, agenda.pool, later, pairs))
        ]
        best = max(tried, key=lambda one: (*_merit(agenda.pool, *one), -one[1]), default=None)
        mine = tuple(calls[pair] for pair in pairs if best is not None and pair in best[0])
        found.append(Reserve(dates[night], None if best is None else dates[best[1]], mine))
    return tuple(found)


def _merit(pool: Candidates, held: frozenset[int], night: int) -> tuple[int, float]:
    """How many partners, and the sum of their best chances."""
    return len(held), round(sum(_best_chance(pool, pair, night) for pair in held), 1)


def _best_chance(pool: Candidates, pair: int, night: int) -> float:
    return float(pool.chance[(pool.pair == pair) & (pool.night == night)].max())


def _held(grid: SlotGrid, pool: Candidates, night: int, pairs: Sequence[int]) -> frozenset[int]:
    """The most of these partners that one night can hold, a slot each; of as many those of the best chances.

    Set by set from the smallest: of a set only the earliest end matters for who comes after.
    """
    policy = grid.inputs.season.policy
    slots = {pair: _by_end(pool, pair, night) for pair in pairs}
    ends: dict[frozenset[int], int] = {frozenset(): 0}
    best: frozenset[int] = frozenset()
    for _ in range(min(policy.maximum_slots_per_night, len(pairs))):
        longer: dict[frozenset[int], int] = {}
        for done, free in ends.items():
            for pair in set(pairs) - done:
                start, end = slots[pair]
                fits = np.flatnonzero(start >= free)
                if fits.size:
                    key, until = done | {pair}, int(end[fits[0]]) + policy.gap_minutes
                    longer[key] = min(until, longer.get(key, until))
        if not longer:
            break
        ends = longer
        best = max(ends, key=lambda one: (_merit(pool, one, night), [-pair for pair in sorted(one)]))
    return best


def _by_end(pool: Candidates, pair: int, night: int) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Starts and ends of a partner's slots on a night, the earliest end first."""
    rows = np.flatnonzero((pool.pair == pair) & (pool.night == night))
    rows = rows[np.lexsort((pool.start[rows], pool.end[rows]))]
    return pool.start[rows], pool.end[rows]
