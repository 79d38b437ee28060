"""What would open slots: rules taken off, hours made longer, decibels added, each tried on the slot grid of the agenda.

The causes rest on these trials alone: what a remedy promises has been tried. Of a night's slots with one
partner the one of best mean margin speaks for all.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from pipeline.absence.remedies import LongerHours
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
from pipeline.inputs.model import WEEKDAYS, Station
from pipeline.record.inputs import Inputs
from pipeline.windows.instants import instant_of_minute, minutes_of

IntArray = npt.NDArray[np.int64]

# Nobody is asked for more than three hours.
LONGER_MINUTES = (15, 30, 45, 60, 90, 120, 150, 180)
MOST_DB = 30.0
# Of a partner's slots the best few decide how many decibels are missing.
BEST_FEW = 8
FEW_DAYS = 2


@dataclass(frozen=True)
class Trials:
    """The ground and what holds it, with what every trial asks for worked out once."""

    grid: SlotGrid
    held: Commitments

    @cached_property
    def possible(self) -> IntArray:
        """All hours of the nights that can be used, home's excepted dates left out."""
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
        """All hours of a partner but its excepted dates."""
        return hours.subtract(self.whenever, self._excepted(self.grid.inputs.partners[pair]))

    def _excepted(self, station: Station) -> IntArray:
        period = self.grid.period
        return hours.excepted_stretches(station, period.start - hours.DAY, period.end + hours.DAY)

    def places(
        self,
        pair: int,
        *,
        home: IntArray | None = None,
        partner: IntArray | None = None,
        sun: bool = True,
        nights: Sequence[int] | None = None,
    ) -> Candidates:
        """Where slots could stand with other stretches of an end, or whatever the Sun; no chance worked out yet."""
        grid = self.grid
        mine = self.minutes[pair] if nights is None or len(nights) > 1 else self._minutes_of(pair, nights[0])
        free = mine.home if home is None else hours.inside(home, mine.minute)
        free = free & (mine.partner if partner is None else hours.inside(partner, mine.minute))
        free = free & mine.sun if sun else free
        found = find_slots(mine, free, grid.inputs.season.policy.slot_minutes, grid.least)
        count = found["pair"].size
        nothing = np.zeros(count)
        places = Candidates(chance=nothing, success=np.zeros((count, 0)), presence=nothing, clear=nothing, **found)
        fit = np.ones(count, dtype=bool) if nights is None else np.isin(places.night, list(nights))
        fit &= ~blocked(places, self.held.busy, grid.inputs.season.policy.gap_minutes)
        fit &= ~refused_times(places, self.held.refused)
        return places.take(np.flatnonzero(fit))

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
        sun: bool = True,
        nights: Sequence[int] | None = None,
    ) -> Candidates:
        """Of each night the best place, where its chance is marginal at least."""
        found = self.best(pair, self.places(pair, home=home, partner=partner, sun=sun, nights=nights))
        return found.take(np.flatnonzero(found.chance >= self.grid.least_chance))

    def with_chances(self, places: Candidates, more_db: dict[str, float] | None = None) -> Candidates:
        """The places with their chance, the margins at `home` and `partner` greater by so much."""
        raw = {name: getattr(places, name) for name in ("pair", "window", "night", "start", "end")}
        return with_chances(self.grid.inputs, self.grid.modes, self.grid.track, raw, more_db)

    def home_without(self, rule: str) -> IntArray:
        """Home's stretches without one of its rules: `away`, `nights` or `latest hour`."""
        inputs = self.grid.inputs
        if rule == "away":
            home = dataclasses.replace(inputs.home, unavailable_dates=())
            return home_stretches(dataclasses.replace(inputs, home=home), self.grid.period)
        changed: dict[str, object] = {"nights": WEEKDAYS} if rule == "nights" else {"latest_hour_on_work_nights": None}
        return home_stretches(with_policy(inputs, **changed), self.grid.period)

    def shortest_longer(
        self, pair: int, night: int | None = None, ends: Sequence[str] = ("home", "partner")
    ) -> LongerHours | None:
        """The least that one end's hours must grow at one edge to open a slot (of one night where asked).

        Of equal growth the one that opens most nights. None where three hours do not help.
        """
        tries = [(end, edge) for end in ends if self._helps(pair, end, night) for edge in ("before", "after")]
        for minutes in LONGER_MINUTES:
            found = [one for end, edge in tries if (one := self._grown(pair, end, edge, minutes, night)) is not None]
            if found:
                return max(found, key=lambda one: len(one.nights))
        return None

    def _helps(self, pair: int, end: str, night: int | None) -> bool:
        """Whether any growth of that end's hours can open anything."""
        nights = None if night is None else (night,)
        if end == "home":
            return bool(self.good(pair, home=self.possible, nights=nights).start.size)
        return bool(self.good(pair, partner=self.awake(pair), nights=nights).start.size)

    def _grown(self, pair: int, end: str, edge: str, minutes: int, night: int | None) -> LongerHours | None:
        """One growth tried on all days; where few days open anything, tried again on these alone."""
        found = self._with_growth(pair, end, edge, minutes, (), night)
        if not found.start.size:
            return None
        days: tuple[str, ...] = ()
        if night is None:
            days = self._days_that_open(pair, end, edge, found)
            found = self._with_growth(pair, end, edge, minutes, days, night) if days else found
        return (
            LongerHours(end, edge, minutes, days, tuple(int(one) for one in found.night)) if found.start.size else None
        )

    def _with_growth(
        self, pair: int, end: str, edge: str, minutes: int, days: Sequence[str], night: int | None
    ) -> Candidates:
        """The best place of each night that the growth opens."""
        kept, station = self._of(pair, end)
        zone = hours.zone_of(station)
        grows = [
            not days or WEEKDAYS[instant_of_minute(start).astimezone(zone).weekday()] in days for start in kept[:, 0]
        ]
        more = np.where(grows, minutes, 0)[:, None] * np.array([[-1, 0]] if edge == "before" else [[0, 1]])
        wide = hours.subtract(hours.merge([(int(a), int(b)) for a, b in kept + more]), self._excepted(station))
        nights = None if night is None else (night,)
        if end == "home":
            return self.good(pair, home=hours.overlap(wide, self.possible), nights=nights)
        return self.good(pair, partner=wide, nights=nights)

    def _of(self, pair: int, end: str) -> tuple[IntArray, Station]:
        """Stretches and station of an end."""
        if end == "home":
            return self.stretches[0], self.grid.inputs.home
        return self.stretches[pair + 1], self.grid.inputs.partners[pair]

    def _days_that_open(self, pair: int, end: str, edge: str, slots: Candidates) -> tuple[str, ...]:
        """Weekdays on which the stretches begin whose growth holds part of these slots; none where they are many."""
        kept, station = self._of(pair, end)
        zone, days = hours.zone_of(station), set()
        for start, stop in zip(slots.start, slots.end, strict=True):
            late = edge == "before"
            rows = np.flatnonzero(kept[:, 0] > start)[:1] if late else np.flatnonzero(kept[:, 1] < stop)[-1:]
            days |= {WEEKDAYS[instant_of_minute(int(kept[row, 0])).astimezone(zone).weekday()] for row in rows}
        return tuple(day for day in WEEKDAYS if day in days) if len(days) <= FEW_DAYS else ()

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
