"""A bound on what any choice of slots is worth, night by night, and what it falls to where a slot is taken.

Lagrangian decomposition: at given prices of items the demands choose their columns and each night its best sequence of
slots, by dynamic programming over the moments of `milp_hours`; hours, gaps and the number of slots are exact there.
With the prices of the linear relaxation it is never above that one (Guignard and Kim 1987, Mathematical Programming 39,
215, from memory).
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.agenda.milp_hours import Manning, Night
from pipeline.agenda.milp_model import NEVER, UNITS, Program

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Bound:
    """No choice is worth more than `value`, units; with a pair of items no more than that and `pairs`, with one
    `alone`.

    `pairs` and `alone` as `Program.priced` gives them, not above 0.
    """

    value: float
    pairs: list[FloatArray]
    alone: FloatArray


def bound_by_nights(program: Program, manning: Manning, duals: FloatArray, keep: int) -> Bound:
    """The bound at the prices of these duals (rows,), not negative, in units of worth."""
    reward, income, fixed = program.earned(duals)
    pairs, alone = program.priced(duals)
    reward = reward - _lowered(program, pairs, alone)
    # Columns of each demand are dearer than its own price at most by what the best of them earns beyond it.
    beyond = best_of_demands(program, pairs, alone)
    nights = [
        _night_values(manning, number, reward, int(program.problem.room[number])) for number in range(program.nights)
    ]
    gain = income - program.rest_units()[: program.nights]
    enough, total = _chosen(program, np.array([one[0] for one in nights]) + gain)
    first_row = program.rows.shape[0]
    demand_duals = duals[first_row : first_row + beyond.size]
    served = np.maximum(beyond + demand_duals, 0.0)
    short = np.zeros(program.slot.size)
    for number, one in enumerate(nights):
        short[manning.nights[number].items] = np.maximum(enough[number] - (one[1] + gain[number]), 0.0)
    less = served - demand_duals
    for number, reduced in enumerate(pairs):
        mine = slice(int(program.offset[number]), int(program.offset[number]) + len(reduced))
        each, night = short[mine], program.night[mine]
        same = night[:, None] == night[None]
        reduced -= less[number] + np.where(same, np.maximum(each[:, None], each[None]), each[:, None] + each[None])
    value = float(served @ program.most) + fixed - float(duals[-1]) * keep + total
    return Bound(value, pairs, alone - less[program.owner] - short)


def _lowered(program: Program, pairs: list[FloatArray], alone: FloatArray) -> FloatArray:
    """By how much each item may be cheaper before any column of it gains; the reduced worths are given it here.

    The relaxation prices what it leaves out too high, and the nights would earn from that. Two items of a pair share.
    """
    found = np.zeros(alone.size)
    for number, reduced in enumerate(pairs):
        mine = slice(int(program.offset[number]), int(program.offset[number + 1]))
        best = alone[mine]
        if np.isfinite(reduced).any():
            best = np.maximum(best, np.maximum(reduced.max(axis=0), reduced.max(axis=1))) / 2.0
        found[mine] = np.maximum(-best, 0.0)
        if reduced.size:
            reduced += found[mine][:, None] + found[mine][None]
    alone += found
    return found


def best_of_demands(program: Program, pairs: list[FloatArray], alone: FloatArray) -> FloatArray:
    """The greatest reduced worth of each demand, (demands,), units; of `pairs` (n, n) each and `alone` (items,)."""
    found = np.full(len(pairs), NEVER)
    np.maximum.at(found, program.owner, alone)
    return np.maximum(found, [one.max(initial=NEVER) for one in pairs])


def _chosen(program: Program, worth: FloatArray) -> tuple[FloatArray, float]:
    """What each night must be worth to take nothing from the best choice of nights (nights,), and that choice's sum."""
    open_nights, most = program.problem.open_nights, program.problem.most_nights
    gains = np.sort(np.maximum(worth[~open_nights], 0.0))[::-1]
    total = float(gains[:most].sum() + np.maximum(worth[open_nights], 0.0).sum())
    # A night that is not among the best takes the place of the last of them.
    last = float(gains[most - 1]) if 0 < most <= gains.size else 0.0
    return np.where(open_nights, np.maximum(worth, 0.0), np.maximum(worth, last)), total


def _night_values(manning: Manning, number: int, reward: FloatArray, room: int) -> tuple[float, FloatArray]:
    """The most that a night's slots earn at these rewards less its hours, units; and the most with each item in it."""
    night = manning.nights[number]
    if not night.items.size or not room:
        return (0.0, np.full(night.items.size, NEVER))
    begin = np.searchsorted(night.moments, manning.start[night.items])
    busy = np.searchsorted(night.moments, manning.end[night.items] + manning.gap)
    gain = reward[night.items]
    kinds, kind = np.unique(np.stack([begin, busy]), axis=1, return_inverse=True)
    best = np.full(kinds.shape[1], NEVER)
    np.maximum.at(best, kind.ravel(), gain)
    manned = np.append(0.0, np.cumsum(night.manned_cost)) * UNITS
    before, after = _before(night, kinds, best, manned, room), _after(night, kinds, best, manned, room)
    # With k slots before and the rest of the room behind.
    through = (before[kinds[0], :room] + after[kinds[1], room - 1 :: -1][:, :room]).max(axis=1)
    nothing = 0.0 if not night.is_held else max(0.0, float((before[:, room] - manned)[night.closing :].max()))
    most = max(nothing, float((through + best).max()))
    return most, through[kind.ravel()] + gain


def _before(night: Night, kinds: IntArray, best: FloatArray, manned: FloatArray, room: int) -> FloatArray:
    """The best until each moment with at most k slots, manned from the first on, its hours not yet taken off."""
    found = np.full((night.moments.size, room + 1), NEVER)
    starts = np.flatnonzero(night.may_begin)
    found[starts] = (manned[starts] - night.begin_cost * UNITS)[:, None]
    order = np.argsort(kinds[0], kind="stable")
    bounds = np.searchsorted(kinds[0][order], np.arange(night.moments.size + 1))
    for moment, (low, high) in enumerate(itertools.pairwise(bounds)):
        if moment:
            np.maximum(found[moment], found[moment - 1], out=found[moment])
        for one in order[low:high]:
            stop = kinds[1, one]
            np.maximum(found[stop, 1:], found[moment, :-1] + best[one], out=found[stop, 1:])
    return found


def _after(night: Night, kinds: IntArray, best: FloatArray, manned: FloatArray, room: int) -> FloatArray:
    """The best from each moment on with at most k slots, all hours until the last one taken off."""
    found = np.repeat(-manned[:, None], room + 1, axis=1)
    found[: night.closing] = -manned[night.closing]
    order = np.argsort(kinds[0], kind="stable")
    bounds = np.searchsorted(kinds[0][order], np.arange(night.moments.size + 1))
    for moment in range(night.moments.size - 1, -1, -1):
        if moment + 1 < night.moments.size:
            np.maximum(found[moment], found[moment + 1], out=found[moment])
        for one in order[bounds[moment] : bounds[moment + 1]]:
            np.maximum(found[moment, 1:], found[kinds[1, one], :-1] + best[one], out=found[moment, 1:])
    return found
