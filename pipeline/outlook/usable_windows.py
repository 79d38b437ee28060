"""Windows that both ends can use: the best usable slot of each, and when inside its usable slots the margin is highest.

From `Worth.usable` and the link's track. A margin is that of the way that fares worse, in decibels.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.agenda.candidates import Candidates
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.outlook.worth import Worth
from pipeline.windows.instants import instant_of_minute

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class UsableWindow:
    """A window with a usable slot: its row of the plan's windows, and its best usable slot, instants in UTC.

    `margin_db` is the mean over that slot. `high_at` is the minute of the highest margin, `high_margin_db`, inside any
    usable slot of the window.
    """

    window: int
    partner: str
    night: dt.date
    slot_start: dt.datetime
    slot_end: dt.datetime
    chance: float
    margin_db: float
    high_at: dt.datetime
    high_margin_db: float


def usable_windows(worth: Worth) -> tuple[UsableWindow, ...]:
    """Every window in which both ends have a usable slot, by partner in the season's order, then by time."""
    grid, slots = worth.grid, worth.usable
    if not slots.pair.size:
        return ()
    best = best_of_windows(slots)
    margin_db = mean_margin_db(grid, best)
    rows = highest_rows(grid, slots)
    high_db = margins_at_minutes_db(grid)[rows]
    calls = [station.call for station in grid.inputs.partners]
    return tuple(
        UsableWindow(
            window=int(best.window[k]),
            partner=calls[best.pair[k]],
            night=grid.period.dates[int(best.night[k])],
            slot_start=instant_of_minute(best.start[k]),
            slot_end=instant_of_minute(best.end[k]),
            chance=float(best.chance[k]),
            margin_db=float(margin_db[k]),
            high_at=instant_of_minute(grid.minutes.minute[rows[k]]),
            high_margin_db=float(high_db[k]),
        )
        for k in np.lexsort((best.start, best.pair))
    )


def best_of_windows(slots: Candidates) -> Candidates:
    """Of each window the slot of best chance (to 0.001), the earliest of equals; by window."""
    order = np.lexsort((slots.start, -np.round(slots.chance, 3), slots.window))
    return slots.take(order[np.diff(slots.window[order], prepend=-1).astype(bool)])


def mean_margin_db(grid: SlotGrid, slots: Candidates) -> FloatArray:
    """The mean margin over each slot of the way that fares worse, (n,), dB; minute by minute."""
    longest = int((slots.end - slots.start).max(initial=0))
    step = np.arange(longest)
    minute = slots.start[:, None] + step + 0.5
    inside = step < (slots.end - slots.start)[:, None]
    window = np.broadcast_to(slots.window[:, None], minute.shape)
    ways = [
        np.where(inside, grid.track.at(db, minute, window), 0.0).sum(axis=1) / inside.sum(axis=1)
        for db in grid.track.margin_db.values()
    ]
    return np.asarray(np.minimum(*ways))


def margins_at_minutes_db(grid: SlotGrid) -> FloatArray:
    """The worse way's margin at every whole minute of every window, (m,), dB; NaN where the ends share no mode."""
    minutes = grid.minutes
    return np.asarray(
        np.minimum(*(grid.track.at(db, minutes.minute, minutes.window) for db in grid.track.margin_db.values()))
    )


def in_usable_slots(grid: SlotGrid, slots: Candidates) -> BoolArray:
    """Whether each whole minute of every window, (m,), lies in one of these slots."""
    minutes = grid.minutes
    # Minutes of one window follow each other without a gap: a slot is a run of rows.
    first = np.searchsorted(minutes.window, slots.window)
    begin = first + slots.start - minutes.minute[first]
    turns = np.zeros(minutes.minute.size + 1, dtype=np.int64)
    np.add.at(turns, begin, 1)
    np.add.at(turns, begin + slots.end - slots.start, -1)
    return np.cumsum(turns)[:-1] > 0


def highest_rows(grid: SlotGrid, slots: Candidates) -> IntArray:
    """Of each window with a slot the row of `minutes` at which the margin is highest (to 0.01 dB) inside its slots.

    (windows,), by window; the earliest of equals.
    """
    rows = np.flatnonzero(in_usable_slots(grid, slots))
    margin = np.round(margins_at_minutes_db(grid)[rows], 2)
    window = grid.minutes.window[rows]
    order = rows[np.lexsort((rows, -margin, window))]
    return order[np.diff(grid.minutes.window[order], prepend=-1).astype(bool)]


def highest_of_nights(windows: Sequence[UsableWindow]) -> dict[dt.date, list[UsableWindow]]:
    """Of each night and partner the window with the highest margin, the earlier of equals; a night's highest first."""
    best: dict[tuple[dt.date, str], UsableWindow] = {}
    for one in sorted(windows, key=lambda window: (-window.high_margin_db, window.high_at)):
        best.setdefault((one.night, one.partner), one)
    nights: dict[dt.date, list[UsableWindow]] = {}
    for (night, _), one in best.items():
        nights.setdefault(night, []).append(one)
    return nights


def highest_of_partners(windows: Sequence[UsableWindow]) -> dict[str, UsableWindow]:
    """Of each partner the window with the highest margin of the whole period, the earlier of equals."""
    best: dict[str, UsableWindow] = {}
    for one in sorted(windows, key=lambda window: (-window.high_margin_db, window.high_at)):
        best.setdefault(one.partner, one)
    return best
