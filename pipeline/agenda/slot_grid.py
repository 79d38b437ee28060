"""What an agenda is made from: windows, samples, hours and every possible slot of a period, gathered once.

From the stages before it; agenda, fall-backs and the reasons why not all look at the same grid.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.agenda import hours
from pipeline.agenda.candidates import (
    Candidates,
    Minutes,
    Track,
    find_slots,
    home_stretches,
    least_minutes,
    make_minutes,
    make_track,
    station_stretches,
    with_chances,
)
from pipeline.inputs.modes import Mode
from pipeline.record.inputs import Inputs
from pipeline.windows.instants import EPOCH
from pipeline.windows.nights import Nights

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class SlotGrid:
    """The period's windows minute by minute, and every slot that nothing forbids, with its chance (also a poor one)."""

    inputs: Inputs
    period: Nights
    windows: pd.DataFrame
    samples: pd.DataFrame
    modes: Sequence[Mode | None]
    track: Track
    minutes: Minutes
    least: tuple[int, ...]
    slots: Candidates

    @cached_property
    def home_open(self) -> IntArray:
        """When somebody is at home's dish on any night: (n, 2) minutes since 1970."""
        return station_stretches(self.inputs.home, self.period)

    @cached_property
    def operators_taken(self) -> dict[str, tuple[tuple[int, int], ...]]:
        """When the calendars of each operator say busy: by call, begin and end in minutes since 1970."""
        edges = self.period.start - hours.DAY, self.period.end + hours.DAY
        found = {
            one.call: hours.busy_stretches(one.busy_files, self.period.zone, *edges)
            for one in self.inputs.season.operators
        }
        return {call: tuple((start, end) for start, end in taken.tolist()) for call, taken in found.items()}

    @property
    def operators(self) -> tuple[str, ...]:
        """Calls used at home, each in need of its own contact."""
        return tuple(one.call for one in self.inputs.season.operators) or (self.inputs.home.call,)

    @property
    def least_chance(self) -> float:
        """The chance below which no slot is offered: the policy's for marginal."""
        return self.inputs.season.policy.outcome_thresholds.marginal

    def pair_of(self, call: str) -> int | None:
        """The place of a partner among the season's; None where it is not one."""
        calls = [station.call for station in self.inputs.partners]
        return calls.index(call) if call in calls else None

    def band_of(self, pair: int) -> str:
        """The band on which a partner is worked."""
        return self.inputs.bands[pair]

    def night_of(self, minute: int) -> int:
        """The night in which a minute lies; -1 before the first, the number of nights after the last."""
        return int(self.period.night_index(minute * 60.0, EPOCH))

    def is_past(self, minute: int) -> bool:
        """Whether a minute lies in a night for which nothing is planned any more."""
        night = min(max(self.night_of(minute), 0), len(self.period.dates) - 1)
        return self.inputs.is_past(self.period.dates[night])

    def rows_of(self, pair: int, start: int, end: int) -> IntArray:
        """Rows of `minutes` of a pair from `start` until `end`, (k,); `start` and `end` are minutes since 1970."""
        here = (self.minutes.pair == pair) & (self.minutes.minute >= start) & (self.minutes.minute < end)
        return np.flatnonzero(here)

    def stands(self, pair: int, start: int, end: int) -> bool:
        """Whether a slot may stand there by every rule but its chance."""
        rows = self.rows_of(pair, start, end)
        return (
            rows.size == end - start
            and bool((self.minutes.window[rows] == self.minutes.window[rows[0]]).all())
            and bool(self.minutes.free[rows].all())
            and bool(self.minutes.clear[rows[0]])
        )

    def without_moon(self, pair: int, start: int, end: int) -> tuple[int, int] | None:
        """For how many minutes at its begin and its end a slot has no Moon, or none clear of the skyline at its begin.

        None where it has none at all or another rule forbids it. `start` and `end` are minutes since 1970.
        """
        rows = self.rows_of(pair, start, end)
        clear = np.flatnonzero(self.minutes.clear[rows])
        if not clear.size or not self.minutes.free[rows].all():
            return None
        minute, window = self.minutes.minute[rows[clear[0] :]], self.minutes.window[rows[clear[0] :]]
        if (window != window[0]).any():
            return None
        return int(minute[0]) - start, end - 1 - int(minute[-1])

    def slots_at(self, pair: int, times: Sequence[tuple[int, int]]) -> Candidates:
        """Slots of one pair at given times, whatever the rules say; minutes outside any window count for nothing.

        `window` is -1 where a slot touches none.
        """
        made: dict[str, list[int]] = {"pair": [], "window": [], "night": [], "start": [], "end": []}
        inner: list[tuple[int, int]] = []
        for start, end in times:
            rows = self.rows_of(pair, start, end)
            window = -1
            if rows.size:
                held, counts = np.unique(self.minutes.window[rows], return_counts=True)
                window = int(held[np.argmax(counts)])
                rows = rows[self.minutes.window[rows] == window]
            inner.append(
                (int(self.minutes.minute[rows[0]]), int(self.minutes.minute[rows[-1]]) + 1) if rows.size else (0, 0)
            )
            for key, value in zip(made, (pair, window, self.night_of(start), start, end), strict=True):
                made[key].append(value)
        arrays = {key: np.array(values, dtype=np.int64) for key, values in made.items()}
        begin, stop = np.array(inner, dtype=np.int64).reshape(-1, 2).T
        # An empty stretch has no period: its chance is nought wherever it lies.
        counted = arrays | {"start": begin, "end": stop, "window": np.maximum(arrays["window"], 0)}
        found = with_chances(self.inputs, self.modes, self.track, counted)
        return dataclasses.replace(
            found, pair=arrays["pair"], window=arrays["window"], night=arrays["night"],
            start=arrays["start"], end=arrays["end"],
        )  # fmt: skip


def make_slot_grid(
    inputs: Inputs, period: Nights, windows: pd.DataFrame, samples: pd.DataFrame, modes: Sequence[Mode | None]
) -> SlotGrid:
    """The ground of a period."""
    return make_slot_grids([inputs], period, windows, samples, modes)[0]


def make_slot_grids(
    every: Sequence[Inputs], period: Nights, windows: pd.DataFrame, samples: pd.DataFrame, modes: Sequence[Mode | None]
) -> list[SlotGrid]:
    """The grounds of a period for inputs that differ in nothing but home's hours and nights.

    What a slot gives is worked out once, however many of them have it.
    """
    inputs = every[0]
    track = make_track(inputs, windows, samples)
    length = inputs.season.policy.slot_minutes
    least = tuple(least_minutes(mode, length) for mode in modes)
    first = make_minutes(inputs, period, windows, track)
    there = [hours.inside(home_stretches(one, period), first.minute) for one in every[1:]]
    minutes = [first, *(dataclasses.replace(first, home=one) for one in there)]
    found = [find_slots(one, one.free, length, least) for one in minutes]
    slots = _once_each(inputs, modes, track, found)
    return [
        SlotGrid(one, period, windows, samples, modes, track, here, least, mine)
        for one, here, mine in zip(every, minutes, slots, strict=True)
    ]


def _once_each(
    inputs: Inputs, modes: Sequence[Mode | None], track: Track, found: Sequence[dict[str, IntArray]]
) -> list[Candidates]:
    """The slots of each finding with their chances; who stands in several is worked out once."""
    if len(found) == 1:
        return [with_chances(inputs, modes, track, found[0], shorten=True)]
    together = {name: np.concatenate([one[name] for one in found]) for name in found[0]}
    # A slot is told by its window, which has one pair and night, and by its edges.
    key = np.stack([together[name] for name in ("window", "start", "end")])
    _, once, place = np.unique(key, axis=1, return_index=True, return_inverse=True)
    slots = with_chances(inputs, modes, track, {name: row[once] for name, row in together.items()}, shorten=True)
    edges = np.cumsum([one["pair"].size for one in found])[:-1]
    return [slots.take(mine) for mine in np.split(place.ravel(), edges)]
