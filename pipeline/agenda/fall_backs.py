"""What to do if a slot is missed: the next good stretch of the same night, else one on a later night.

From the slot grid and the agenda's slots; a stretch that another slot takes is never one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.agenda.candidates import Candidates, find_slots, with_chances
from pipeline.agenda.commitments import blocked, refused_times
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.windows.instants import instant_of_minute

Stretch = tuple[int, int]
# From this hour on the end of a night is called the next morning.
MORNING_HOUR = 6


@dataclass(frozen=True)
class FallBack:
    """The first on the same night, the second on a later one (minutes since 1970), and both as a sentence."""

    tonight: Stretch | None
    later: Stretch | None
    words: str


def fall_back(
    grid: SlotGrid,
    slot: Candidates,
    own: Sequence[tuple[int, str]],
    busy: Sequence[Stretch],
    refused: Sequence[tuple[int, int, int]] = (),
) -> FallBack:
    """Where to try again; `own` are start and label of this partner's and operator's other slots, `busy` all slots.

    `refused` are times that partners declined: pair, start, end.
    """
    tonight = _tonight(grid, slot, busy, refused)
    end, night = int(slot.end[0]), int(slot.night[0])
    after = sorted((start, label) for start, label in own if start >= end)
    if after and grid.night_of(after[0][0]) == night and tonight is not None and tonight[1] > after[0][0]:
        tonight = None
    if after:
        start, label = after[0]
        later: Stretch | None = next(one for one in busy if one[0] == start)
        words_later = f"slot {label}, {_day_and_time(grid, start)}"
    else:
        later = _later(grid, slot, busy, refused)
        words_later = "" if later is None else _day_and_time(grid, later[0])
    return FallBack(tonight, later, _words(grid, int(slot.start[0]), tonight, words_later))


def _tonight(
    grid: SlotGrid, slot: Candidates, busy: Sequence[Stretch], refused: Sequence[tuple[int, int, int]]
) -> Stretch | None:
    """The best of what is left of the night, at the same rules; a quarter of an hour at least."""
    pair, policy = int(slot.pair[0]), grid.inputs.season.policy
    mine = grid.minutes.of_pair(pair)
    free = mine.free & (mine.minute >= slot.end[0]) & (mine.night == slot.night[0])
    for start, end in busy:
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
    return _best(grid, with_chances(grid.inputs, grid.modes, grid.track, found))


def _later(
    grid: SlotGrid, slot: Candidates, busy: Sequence[Stretch], refused: Sequence[tuple[int, int, int]]
) -> Stretch | None:
    """The best on a later night of the agenda; where those offer none, on any later night."""
    pool, policy = grid.slots, grid.inputs.season.policy
    rows = (pool.pair == slot.pair[0]) & (pool.night > slot.night[0])
    rows &= ~blocked(pool, tuple(busy), policy.gap_minutes) & ~refused_times(pool, tuple(refused))
    nights = np.array([grid.night_of(start) for start, _ in busy])
    used = rows & np.isin(pool.night, nights)
    for some in (used, rows):
        found = _best(grid, pool.take(np.flatnonzero(some)))
        if found is not None:
            return found
    return None


def _best(grid: SlotGrid, slots: Candidates) -> Stretch | None:
    """The slot of best chance (to 0.001), then the earliest; none where the best is less than marginal."""
    if not slots.start.size or slots.chance.max() < grid.least_chance:
        return None
    best = np.lexsort((slots.start, -np.round(slots.chance, 3)))[0]
    return int(slots.start[best]), int(slots.end[best])


def _words(grid: SlotGrid, slot_start: int, tonight: Stretch | None, later: str) -> str:
    if tonight is None:
        return f"if missed: {later}" if later else "if missed: no other time in this period"
    first, start, end = (instant_of_minute(minute).astimezone(grid.period.zone) for minute in (slot_start, *tonight))
    when = "tonight"
    if start.hour >= MORNING_HOUR and start.date() != first.date():
        when = "next morning"
    elif start.hour >= MORNING_HOUR > first.hour:
        when = "the same morning" if start.hour < 12 else "the same day"
    words = f"if missed: {start:%H:%M} to {end:%H:%M} {when}"
    return f"{words}, else {later}" if later else words


def _day_and_time(grid: SlotGrid, minute: int) -> str:
    local = instant_of_minute(minute).astimezone(grid.period.zone)
    return f"{local:%a} {local.day} {local:%b} {local:%H:%M}"
