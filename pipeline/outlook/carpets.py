"""Every place where a slot could begin, at whatever hour, by home's calendar and clock: one carpet for each partner.

From the slot grid. Where the chance changes little from hour to hour it is read between its neighbours: within 0.02 of
the chance proper, at six tenths of the work.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import ndtr, ndtri

from pipeline.agenda.candidates import GRID_MINUTES, find_slots, with_chances
from pipeline.agenda.slot_grid import SlotGrid

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

DAY_MINUTES = 1440
QUARTERS = DAY_MINUTES // GRID_MINUTES
EPOCH_DATE = dt.date(1970, 1, 1)
# Chances are worked out every so many starts, and at all between two that differ by more.
STRIDE, STEEP = 4, 0.06
# The steady margin that stands for a slot's: the mean share of periods decoded at this spread, dB, seen so often a
# slot. With the other spread it gives a guess of the chance, whose error alone is read between neighbours.
DECODE_SPREAD_DB, CHANCE_SPREAD_DB, LOOKS = 2.5, 2.0, 15
SURE = 1e-6


@dataclass(frozen=True)
class Carpet:
    """One partner's slots by the date and quarter hour of home's clock at which they begin, each (days, 96).

    `chance` is NaN where none could begin, `shared` tells whether a window is open in the quarter hour, `free` whether
    a slot that begins in it lies inside both ends' hours and the policy, `near_sun` whether the Sun forbids it there.
    An hour that the clocks skip is empty; of one that they show twice the better counts.
    """

    partner: str
    first_date: dt.date
    chance: FloatArray
    shared: BoolArray
    free: BoolArray
    near_sun: BoolArray

    @property
    def dates(self) -> tuple[dt.date, ...]:
        """The days across."""
        return tuple(self.first_date + dt.timedelta(days=day) for day in range(len(self.chance)))

    def between(self, first: dt.date, last: dt.date) -> Carpet:
        """The same from one date to another, both included."""
        days = slice((first - self.first_date).days, (last - self.first_date).days + 1)
        marks = (one[days] for one in (self.shared, self.free, self.near_sun))
        return Carpet(self.partner, first, self.chance[days], *marks)


@dataclass(frozen=True)
class _Calendar:
    """Home's dates from the first to the last that a period touches, and the offset of its clock by quarter hour."""

    zone: ZoneInfo
    first_date: dt.date
    days: int

    def cells(self, minute: IntArray) -> IntArray:
        """The cell, day by quarter, of minutes since 1970, (n,)."""
        quarter, place = np.unique(minute // GRID_MINUTES, return_inverse=True)
        instants = pd.DatetimeIndex((quarter * GRID_MINUTES * 60).astype("datetime64[s]")).tz_localize("UTC")
        wall = instants.tz_convert(self.zone).tz_localize(None).as_unit("s").asi8 // 60
        local = minute + (wall - quarter * GRID_MINUTES)[place]
        return (local - (self.first_date - EPOCH_DATE).days * DAY_MINUTES) // GRID_MINUTES


def make_carpets(grid: SlotGrid) -> tuple[Carpet, ...]:
    """A carpet a partner, in the season's order."""
    period, minutes = grid.period, grid.minutes
    first, last = (edge.astimezone(period.zone).date() for edge in (period.start, period.end))
    calendar = _Calendar(period.zone, first, (last - first).days + 1)
    found = find_slots(
        minutes, np.ones(minutes.minute.size, dtype=bool), grid.inputs.season.policy.slot_minutes, grid.least
    )
    chance, begins = chances_at(grid, found), calendar.cells(found["start"])
    here, free = calendar.cells(minutes.minute), calendar.cells(grid.slots.start)
    made = []
    for pair, station in enumerate(grid.inputs.partners):
        mine, now = found["pair"] == pair, minutes.pair == pair
        best = np.full(calendar.days * QUARTERS, np.nan)
        np.fmax.at(best, begins[mine], chance[mine])
        cells = (here[now], free[grid.slots.pair == pair], here[now & ~minutes.sun])
        marks = (_marked(some, best.size).reshape(-1, QUARTERS) for some in cells)
        made.append(Carpet(station.call, first, best.reshape(-1, QUARTERS), *marks))
    return tuple(made)


def _marked(cells: IntArray, size: int) -> BoolArray:
    found = np.zeros(size, dtype=bool)
    found[cells] = True
    return found


def chances_at(grid: SlotGrid, slots: dict[str, IntArray]) -> FloatArray:
    """The chance of each slot, (n,), as `find_slots` gives them: each window's together, by time."""
    count = slots["start"].size
    if not count:
        return np.zeros(0)
    fresh = np.diff(slots["window"], prepend=-1) != 0
    begin = np.flatnonzero(fresh)
    place = np.arange(count) - begin[np.cumsum(fresh) - 1]
    known = (place % STRIDE == 0) | np.append(fresh[1:], True)
    chance = np.full(count, np.nan)
    chance[known] = _exact(grid, slots, known)
    # Between two neighbours that differ nothing is guessed.
    rows = np.flatnonzero(known)
    steep = (np.abs(np.diff(chance[rows])) > STEEP) & ~fresh[rows[1:]]
    depth = np.zeros(count + 1, dtype=np.int64)
    np.add.at(depth, rows[:-1][steep], 1)
    np.add.at(depth, rows[1:][steep], -1)
    more = (np.cumsum(depth)[:count] > 0) & ~known
    chance[more] = _exact(grid, slots, more)
    known |= more
    guess = _guess(grid, slots)
    # Windows far apart on one axis; the first and the last start of each are known.
    axis = slots["start"] + slots["window"] * float(np.ptp(slots["start"]) + DAY_MINUTES)
    error = ndtri(np.clip(chance[known], SURE, 1.0 - SURE)) - guess[known]
    read = ndtr(guess + np.interp(axis, axis[known], error))
    return np.where(known, chance, read)


def _exact(grid: SlotGrid, slots: dict[str, IntArray], rows: BoolArray) -> FloatArray:
    some = {name: values[rows] for name, values in slots.items()}
    return with_chances(grid.inputs, grid.modes, grid.track, some).chance


def _guess(grid: SlotGrid, slots: dict[str, IntArray]) -> FloatArray:
    """The chance as the normal quantile of the worse end's steady margin, (n,); 0 where the ends share no mode."""
    looks = (np.arange(LOOKS) + 0.5) / LOOKS
    start, end = slots["start"][:, None], slots["end"][:, None]
    minute = start + (end - start) * looks
    window = np.broadcast_to(slots["window"][:, None], minute.shape)
    seen = [grid.track.at(margin, minute, window) for margin in grid.track.margin_db.values()]
    decoded = np.min([ndtr(margin / DECODE_SPREAD_DB).mean(axis=1) for margin in seen], axis=0)
    quantile = ndtri(np.clip(decoded, SURE**2, 1.0 - SURE**2)) * DECODE_SPREAD_DB / CHANCE_SPREAD_DB
    return np.asarray(np.nan_to_num(quantile, nan=0.0))
