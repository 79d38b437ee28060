"""What to do if a slot is missed: the next good stretch of the same night, else one on a later night.

From the slot grid and the agenda's slots; a stretch that another slot or another's fall-back takes is never one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, permutations

import numpy as np

from pipeline.agenda.candidates import Candidates, find_slots, with_chances
from pipeline.agenda.commitments import blocked, refused_times
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.windows.instants import instant_of_minute, minutes_of

Stretch = tuple[int, int]
# Orders tried in a night: all of four slots.
MOST_ORDERS = 24


@dataclass(frozen=True)
class FallBack:
    """The first on the same night, the second later; `label` is its letter where that one is a slot of its own."""

    tonight: tuple[dt.datetime, dt.datetime] | None
    later: tuple[dt.datetime, dt.datetime] | None
    label: str = ""


@dataclass(frozen=True)
class Missed:
    """A slot that may be missed; `own` are start and label of the same partner's and operator's other slots."""

    slot: Candidates
    own: Sequence[tuple[int, str]]


def fall_back(
    grid: SlotGrid,
    missed: Missed,
    busy: Sequence[Stretch],
    refused: Sequence[tuple[int, int, int]] = (),
    promised: Sequence[Stretch] = (),
) -> FallBack:
    """Where to try again; `busy` are all slots, `promised` other slots' fall-backs.

    `refused` are times that partners declined: pair, start, end.
    """
    slot = missed.slot
    tonight = _tonight(grid, slot, busy, refused, promised)
    end, night = int(slot.end[0]), int(slot.night[0])
    after = sorted((start, label) for start, label in missed.own if start >= end)
    if after and grid.night_of(after[0][0]) == night and tonight is not None and tonight[1] > after[0][0]:
        tonight = None
    if after:
        start, label = after[0]
        return FallBack(_instants(tonight), _instants(next(one for one in busy if one[0] == start)), label)
    return FallBack(_instants(tonight), _instants(_later(grid, slot, busy, refused, promised)))


def fall_backs(
    grid: SlotGrid,
    missed: Sequence[Missed],
    busy: Sequence[Stretch],
    refused: Sequence[tuple[int, int, int]] = (),
) -> tuple[FallBack, ...]:
    """Where to try again for each slot, no two at one time: assigned together, night by night.

    In the order of time, each takes its best of what is left. Where one then has none tonight that had one alone, the
    other orders of that night's slots are tried, and the first stands with which most have one.
    """
    promised: list[Stretch] = []
    found: dict[int, FallBack] = {}
    for night in sorted({int(one.slot.night[0]) for one in missed}):
        mine = [place for place, one in enumerate(missed) if int(one.slot.night[0]) == night]
        best, left = _in_order(grid, missed, mine, busy, refused, promised)
        alone = (fall_back(grid, missed[place], busy, refused, promised) for place in mine)
        most = sum(one.tonight is not None for one in alone) if len(mine) > 1 else 0
        for order in islice(permutations(mine), 1, MOST_ORDERS):
            if _tonights(best) >= most:
                break
            other, taken = _in_order(grid, missed, order, busy, refused, promised)
            if _tonights(other) > _tonights(best):
                best, left = other, taken
        found |= best
        promised += left
    return tuple(found[place] for place in range(len(missed)))


def _in_order(
    grid: SlotGrid,
    missed: Sequence[Missed],
    order: Sequence[int],
    busy: Sequence[Stretch],
    refused: Sequence[tuple[int, int, int]],
    promised: Sequence[Stretch],
) -> tuple[dict[int, FallBack], list[Stretch]]:
    """Each takes its best of what those before it leave; with the stretches promised so."""
    found: dict[int, FallBack] = {}
    taken: list[Stretch] = []
    for place in order:
        found[place] = one = fall_back(grid, missed[place], busy, refused, (*promised, *taken))
        # A later slot of its own is held by the agenda.
        stretches = (one.tonight, None if one.label else one.later)
        taken += [(minutes_of(start), minutes_of(end)) for start, end in filter(None, stretches)]
    return found, taken


def _tonights(found: Mapping[int, FallBack]) -> int:
    return sum(one.tonight is not None for one in found.values())


def _instants(stretch: Stretch | None) -> tuple[dt.datetime, dt.datetime] | None:
    return None if stretch is None else (instant_of_minute(stretch[0]), instant_of_minute(stretch[1]))


def _tonight(
    grid: SlotGrid,
    slot: Candidates,
    busy: Sequence[Stretch],
    refused: Sequence[tuple[int, int, int]],
    promised: Sequence[Stretch],
) -> Stretch | None:
    """The best of what is left of the night, at the same rules; a quarter of an hour at least."""
    pair, policy = int(slot.pair[0]), grid.inputs.season.policy
    mine = grid.minutes.of_pair(pair)
    free = mine.free & (mine.minute >= slot.end[0]) & (mine.night == slot.night[0])
    for start, end in (*busy, *promised):
        free &= (
            (mine.minute < start - policy.gap_minutes)
            | (mine.minute >= end + policy.gap_minutes)
            | (
                # Right after the slot that was missed no gap is needed.
                (start == slot.start[0]) & (mine.minute >= end)
            )
        )
    for whose, start, end in refused:
        free &= (whose != pair) | (mine.minute < start) | (mine.minute >= end)
    found = find_slots(mine, free, policy.slot_minutes, grid.least, on_grid=False)
    return _best(grid, with_chances(grid.inputs, grid.modes, grid.track, found, shorten=True))


def _later(
    grid: SlotGrid,
    slot: Candidates,
    busy: Sequence[Stretch],
    refused: Sequence[tuple[int, int, int]],
    promised: Sequence[Stretch],
) -> Stretch | None:
    """The best on a later night of the agenda; where those offer none, on any later night."""
    pool, policy = grid.slots, grid.inputs.season.policy
    rows = (pool.pair == slot.pair[0]) & (pool.night > slot.night[0])
    rows &= ~blocked(pool, (*busy, *promised), policy.gap_minutes) & ~refused_times(pool, tuple(refused))
    nights = np.array([grid.night_of(start) for start, _ in busy])
    used = rows & np.isin(pool.night, nights)
    for some in (used, rows):
        found = _best(grid, pool.take(np.flatnonzero(some)))
        if found is not None:
            return found
    return None


def _best(grid: SlotGrid, slots: Candidates) -> Stretch | None:
    """The slot worth most (to 0.001), then the earliest, of those that are marginal at least; None without any."""
    slots = slots.take(np.flatnonzero(slots.chance >= grid.least_chance))
    if not slots.start.size:
        return None
    best = np.lexsort((slots.start, -np.round(slots.chance_met, 3)))[0]
    return int(slots.start[best]), int(slots.end[best])
