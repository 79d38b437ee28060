"""What would open slots: rules taken off, other hours, decibels added, each tried on the slot grid of the agenda.

The causes rest on these trials alone; what a remedy promises is tried on the whole agenda besides (`trying`). Of a
night's slots with one partner the one of best mean margin speaks for all.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from pipeline.agenda import hours
from pipeline.agenda.agenda import join
from pipeline.agenda.candidates import (
    Candidates,
    Minutes,
    find_slots,
    home_stretches,
    possible_nights,
    station_stretches,
    with_chances,
)
from pipeline.agenda.commitments import Commitments, blocked, refused_times
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.inputs.model import Station
from pipeline.record.inputs import Inputs
from pipeline.windows.instants import minutes_of

IntArray = npt.NDArray[np.int64]

MOST_DB = 30.0
# The Sun may stand anywhere.
NO_LIMIT = 0.0
# Of a partner's slots the best few decide how many decibels are missing.
BEST_FEW = 8


@dataclass(frozen=True)
class Trials:
    """The ground and what holds it, with what every trial asks for worked out once."""

    grid: SlotGrid
    held: Commitments

    @cached_property
    def possible(self) -> IntArray:
        """All hours of the nights that can be used, home's excepted dates and calendars left out."""
        nights = possible_nights(self.grid.inputs, self.grid.period)
        return hours.subtract(nights, self._excepted(self.grid.inputs.home))

    @cached_property
    def on_nights(self) -> IntArray:
        """The same to the last minute of each night, working morning or not."""
        inputs = with_policy(self.grid.inputs, latest_hour_on_work_nights=None)
        return hours.subtract(possible_nights(inputs, self.grid.period), self._excepted(self.grid.inputs.home))

    @cached_property
    def whenever(self) -> IntArray:
        """All of the period."""
        period = self.grid.period
        return np.array([[minutes_of(period.start), minutes_of(period.end)]], dtype=np.int64)

    @cached_property
    def stretches(self) -> tuple[IntArray, ...]:
        """Stretches of every station, home first."""
        stations = (self.grid.inputs.home, *self.grid.inputs.partners)
        return tuple(station_stretches(station, self.grid.period) for station in stations)

    @cached_property
    def minutes(self) -> tuple[Minutes, ...]:
        """The minutes of every pair; none of nights that are past, which nothing can open."""
        dates, inputs = self.grid.period.dates, self.grid.inputs
        past = sum(inputs.is_past(date) for date in dates)
        every = (self.grid.minutes.of_pair(pair) for pair in range(len(inputs.partners)))
        return tuple(mine.take(np.flatnonzero(mine.night >= past)) for mine in every)

    @cached_property
    def margin_sums(self) -> tuple[npt.NDArray[np.float64], ...]:
        """Running sums of the worse margin over the minutes of every pair."""
        track, found = self.grid.track, []
        for mine in self.minutes:
            at = [track.at(values, mine.minute + 0.5, mine.window) for values in track.margin_db.values()]
            found.append(np.concatenate([[0.0], np.cumsum(np.nan_to_num(np.minimum(*at), nan=-99.0))]))
        return tuple(found)

    def awake(self, pair: int) -> IntArray:
        """All hours of a partner but its excepted dates and what its calendars take."""
        return hours.subtract(self.whenever, self._excepted(self.grid.inputs.partners[pair]))

    def _excepted(self, station: Station) -> IntArray:
        period = self.grid.period
        return hours.taken_stretches(station, period.start - hours.DAY, period.end + hours.DAY)

    def places(
        self,
        pair: int,
        *,
        home: IntArray | None = None,
        partner: IntArray | None = None,
        sun: float | None = None,
        nights: Sequence[int] | None = None,
        busy: tuple[tuple[int, int], ...] = (),
    ) -> Candidates:
        """Where slots could stand with other stretches of an end, or another least distance of the Sun (`sun`, deg).

        `busy` is held besides what is agreed; no chance is worked out yet.
        """
        grid = self.grid
        mine = self.minutes[pair] if nights is None or len(nights) > 1 else self._minutes_of(pair, nights[0])
        free = mine.home if home is None else hours.inside(home, mine.minute)
        free = free & (mine.partner if partner is None else hours.inside(partner, mine.minute))
        if sun is None:
            free = free & mine.sun
        elif sun > 0.0:
            free = free & (self.sun_deg(mine) >= sun)
        found = find_slots(mine, free, grid.inputs.season.policy.slot_minutes, grid.least)
        count = found["pair"].size
        nothing = np.zeros(count)
        places = Candidates(chance=nothing, success=np.zeros((count, 0)), presence=nothing, clear=nothing, **found)
        fit = np.ones(count, dtype=bool) if nights is None else np.isin(places.night, list(nights))
        fit &= ~blocked(places, (*self.held.busy, *busy), grid.inputs.season.policy.gap_minutes)
        fit &= ~refused_times(places, self.held.refused)
        return places.take(np.flatnonzero(fit))

    def sun_deg(self, minutes: Minutes) -> npt.NDArray[np.float64]:
        """The least distance of the Sun from the Moon in each minute at either end, (m,), degrees."""
        track = self.grid.track
        return np.minimum(*(track.at(track.sun_deg, minutes.minute + step, minutes.window) for step in (0, 1)))

    def _minutes_of(self, pair: int, night: int) -> Minutes:
        """The minutes of one night: nights follow each other as minutes do."""
        mine = self.minutes[pair]
        return mine.take(slice(*np.searchsorted(mine.night, [night, night + 1])))

    def best(self, pair: int, places: Candidates) -> Candidates:
        """Of each night the longest place of best mean margin, with its chance."""
        mine, sums = self.minutes[pair], self.margin_sums[pair]
        row, length = np.searchsorted(mine.minute, places.start), places.end - places.start
        mean = (sums[row + length] - sums[row]) / np.maximum(length, 1)
        order = np.lexsort((places.start, -mean, -length, places.night))
        first = order[np.flatnonzero(np.diff(places.night[order], prepend=-1))]
        return self.with_chances(places.take(first))

    def good(
        self,
        pair: int,
        *,
        home: IntArray | None = None,
        partner: IntArray | None = None,
        sun: float | None = None,
        nights: Sequence[int] | None = None,
    ) -> Candidates:
        """Of each night the best place, where its chance is marginal at least."""
        found = self.best(pair, self.places(pair, home=home, partner=partner, sun=sun, nights=nights))
        return found.take(np.flatnonzero(found.chance >= self.grid.least_chance))

    def with_chances(self, places: Candidates, more_db: dict[str, float] | None = None) -> Candidates:
        """The places with their chance, the margins at `home` and `partner` greater by so much."""
        raw = {name: getattr(places, name) for name in ("pair", "window", "night", "start", "end")}
        return with_chances(self.grid.inputs, self.grid.modes, self.grid.track, raw, more_db)

    @cached_property
    def home_at_any_hour_of_work_nights(self) -> IntArray:
        """Home's stretches as if it had no latest hour before a working day."""
        return home_stretches(with_policy(self.grid.inputs, latest_hour_on_work_nights=None), self.grid.period)

    def missing_db(self, places: Candidates, threshold: float, at: str | None = None) -> float | None:
        """Decibels by which the signal at one end, or at both, must gain for the best of these to reach a chance.

        To 0.1 dB, rounded up; None where `MOST_DB` do not help.
        """
        few = best_few(places)
        ends = ("home", "partner") if at is None else (at,)

        def reaches(tenths: int) -> bool:
            more = dict.fromkeys(ends, tenths / 10.0)
            return float(self.with_chances(few, more).chance.max()) >= threshold

        low, high = 0, round(MOST_DB * 10)
        if not few.start.size or not reaches(high):
            return None
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if reaches(middle) else (middle, high)
        return high / 10.0


def best_few(places: Candidates) -> Candidates:
    """Those of greatest chance, then the earliest."""
    return places.take(np.lexsort((places.start, -places.chance))[:BEST_FEW])


def with_policy(inputs: Inputs, **changes: object) -> Inputs:
    """The same season under another policy."""
    policy = dataclasses.replace(inputs.season.policy, **changes)  # type: ignore[arg-type]
    return dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, policy=policy))


def all_of(parts: Sequence[Candidates]) -> Candidates:
    """Slots of several pairs together; there must be one part."""
    found = parts[0]
    for part in parts[1:]:
        found = join(found, part)
    return found
