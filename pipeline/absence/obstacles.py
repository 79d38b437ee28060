"""What stands in a partner's way and can be moved: hours, dates, nights, the latest hour, the Sun; and the least move.

Each is tried on the partner's own minutes of the slot grid: taken off whole to see whether it is the obstacle at all,
then moved as little as opens a good slot within both ends' hours.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from pipeline.absence.causes import Cause
from pipeline.absence.changes import changed_inputs
from pipeline.absence.counterfactuals import NO_LIMIT, Trials
from pipeline.absence.remedies import (
    DatesGivenBack,
    LaterHour,
    LongerHours,
    NightsAdded,
    Remedy,
    SmallerSunSeparation,
)
from pipeline.agenda.candidates import Candidates, home_stretches, station_stretches
from pipeline.agenda.commitments import blocked
from pipeline.agenda.hours import MORNING, busy_stretches, hours_of, zone_of
from pipeline.inputs.model import WEEKDAYS, Station
from pipeline.record.inputs import Inputs
from pipeline.windows.instants import instant_of_minute

# Nobody is asked for more than three hours.
LONGER_MINUTES = (15, 30, 45, 60, 90, 120, 150, 180)
# Where few days open anything, only these are made longer.
FEW_DAYS = 2
LATER_STEP = dt.timedelta(minutes=30)
ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Search:
    """One partner's minutes, to be looked at under other inputs. `own` are its slots that stand already.

    `more_db` is added to both margins: what equipment still has to bring.
    """

    trials: Trials
    pair: int
    own: tuple[tuple[int, int], ...] = ()
    more_db: float = 0.0

    @property
    def inputs(self) -> Inputs:
        """The season as it is."""
        return self.trials.grid.inputs

    def places(self, inputs: Inputs) -> Candidates:
        """Where slots could stand under these inputs; of each night the best, with its chance."""
        grid, now = self.trials.grid, self.inputs
        policy, was = inputs.season.policy, now.season.policy
        same_home = inputs.home is now.home and (policy.nights, policy.latest_hour_on_work_nights) == (
            was.nights,
            was.latest_hour_on_work_nights,
        )
        partner = inputs.partners[self.pair]
        same_sun = policy.minimum_sun_separation_deg == was.minimum_sun_separation_deg
        found = self.trials.places(
            self.pair,
            home=None if same_home else home_stretches(inputs, grid.period),
            partner=None if partner is now.partners[self.pair] else station_stretches(partner, grid.period),
            sun=None if same_sun else policy.minimum_sun_separation_deg,
            busy=self.own,
        )
        best = self.trials.best(self.pair, found)
        if not self.more_db or not best.start.size:
            return best
        return self.trials.with_chances(best, dict.fromkeys(("home", "partner"), self.more_db))

    def good(self, inputs: Inputs) -> Candidates:
        """Those whose chance is marginal at least, the best first."""
        found = self.places(inputs)
        fit = np.flatnonzero(found.chance >= self.trials.grid.least_chance)
        return found.take(fit[np.argsort(-found.chance[fit], kind="stable")])

    def holds(self, obstacle: Obstacle) -> bool:
        """Whether a rule is in force at all."""
        now, free = self.inputs, obstacle.lifted(self.inputs, self.pair)
        return (free.season.policy, free.home, free.partners[self.pair]) != (
            now.season.policy,
            now.home,
            now.partners[self.pair],
        )

    def without(self, *obstacles: Obstacle) -> Candidates:
        """What is good once these are out of the way; nothing where one of them is not in force."""
        inputs = self.inputs
        if not all(self.holds(one) for one in obstacles):
            return self.trials.grid.slots.take(np.zeros(0, dtype=np.int64))
        for one in obstacles:
            inputs = one.lifted(inputs, self.pair)
        return self.good(inputs)

    def opens(self, inputs: Inputs, remedy: Remedy) -> bool:
        """Whether a remedy opens a good slot."""
        return bool(self.good(changed_inputs(inputs, self.pair, remedy)).start.size)


@dataclass(frozen=True)
class Obstacle:
    """A rule: its cause, the inputs without it, and the least remedy that opens something, None where none does."""

    cause: Cause
    lifted: Callable[[Inputs, int], Inputs]
    least: Callable[[Search, Inputs], Remedy | None]


def _policy(inputs: Inputs, **changes: object) -> Inputs:
    policy = dataclasses.replace(inputs.season.policy, **changes)  # type: ignore[arg-type]
    return dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, policy=policy))


def _at(inputs: Inputs, pair: int, end: str, **changes: object) -> Inputs:
    """The inputs with something else in the file of one end."""
    if end == "home":
        return dataclasses.replace(inputs, home=dataclasses.replace(inputs.home, **changes))  # type: ignore[arg-type]
    partners = list(inputs.partners)
    partners[pair] = dataclasses.replace(partners[pair], **changes)  # type: ignore[arg-type]
    return dataclasses.replace(inputs, partners=tuple(partners))


def _station(inputs: Inputs, pair: int, end: str) -> Station:
    return inputs.home if end == "home" else inputs.partners[pair]


def _hours(end: str) -> Obstacle:
    return Obstacle(
        Cause.HOURS_DO_NOT_MEET,
        lambda inputs, pair: _at(inputs, pair, end, available="always"),
        lambda search, inputs: _longer(search, inputs, end),
    )


def _longer(search: Search, inputs: Inputs, end: str) -> LongerHours | None:
    """The least growth at one edge; of equal growth the one that opens most nights."""
    if hours_of(_station(inputs, search.pair, end)) is None:
        return None
    for minutes in LONGER_MINUTES:
        tried = [LongerHours(end, edge, minutes) for edge in ("before", "after")]
        slots = [search.good(changed_inputs(inputs, search.pair, one)) for one in tried]
        if any(some.start.size for some in slots):
            most = max((0, 1), key=lambda place: slots[place].start.size)
            return _on_few_days(search, inputs, tried[most], slots[most])
    return None


def _on_few_days(search: Search, inputs: Inputs, remedy: LongerHours, slots: Candidates) -> LongerHours:
    """The same on the weekdays alone that open something, where they are few."""
    zone = zone_of(_station(inputs, search.pair, remedy.end))
    edge = slots.start if remedy.edge == "before" else slots.end
    dates = {instant_of_minute(int(minute)).astimezone(zone).date() for minute in edge}
    # Hours that end after midnight belong to the day on which they begin, which may be the one before.
    for days_back in ({0}, {1}, {0, 1}):
        found = {WEEKDAYS[(date.weekday() - back) % 7] for date in dates for back in days_back}
        days = tuple(day for day in WEEKDAYS if day in found)
        fewer = dataclasses.replace(remedy, days=days)
        if len(days) <= FEW_DAYS and search.opens(inputs, fewer):
            return fewer
    return remedy


def _smaller_sun(search: Search, inputs: Inputs) -> SmallerSunSeparation | None:
    """The largest limit, to a tenth of a degree, that a good slot keeps."""
    trials, pair = search.trials, search.pair
    slots = search.good(_policy(inputs, minimum_sun_separation_deg=NO_LIMIT))
    if not slots.start.size:
        return None
    mine = trials.minutes[pair]
    sun = trials.sun_deg(mine)
    rows = np.searchsorted(mine.minute, slots.start)
    least = [sun[row : row + size].min() for row, size in zip(rows, slots.end - slots.start, strict=True)]
    remedy = SmallerSunSeparation(float(np.floor(max(least) * 10.0)) / 10.0)
    if remedy.limit_deg >= inputs.season.policy.minimum_sun_separation_deg:
        return None
    return remedy if search.opens(inputs, remedy) else SmallerSunSeparation(NO_LIMIT)


def _later_hour(search: Search, inputs: Inputs) -> LaterHour | None:
    """The earliest hour, by half hours up to six in the morning, that opens something."""
    latest = inputs.season.policy.latest_hour_on_work_nights
    if latest is None:
        return None
    hour = dt.datetime.combine(dt.date(2000, 1, 1), latest)
    end = dt.datetime.combine(hour.date() + (ONE_DAY if latest > MORNING else dt.timedelta(0)), MORNING)
    while hour < end:
        hour = min(hour + LATER_STEP, end)
        if search.opens(inputs, LaterHour(hour.time())):
            return LaterHour(hour.time())
    return None


def _more_weekdays(search: Search, inputs: Inputs) -> NightsAdded | None:
    """The one weekday more that opens the best slot."""
    for night in search.good(_policy(inputs, nights=WEEKDAYS)).night:
        day = WEEKDAYS[search.trials.grid.period.dates[int(night)].weekday()]
        remedy = NightsAdded((day,))
        if day not in inputs.season.policy.nights and search.opens(inputs, remedy):
            return remedy
    return None


def _away(end: str, cause: Cause) -> Obstacle:
    return Obstacle(
        cause,
        lambda inputs, pair: _at(inputs, pair, end, unavailable_dates=()),
        lambda search, inputs: _given_back(search, inputs, end),
    )


def _given_back(search: Search, inputs: Inputs, end: str) -> DatesGivenBack | None:
    """The dates of one good slot, else of all."""
    station = _station(inputs, search.pair, end)
    lifted = _at(inputs, search.pair, end, unavailable_dates=())
    for dates in _dates_of(search, station, search.good(lifted), end):
        remedy = DatesGivenBack(end, dates)
        if dates and search.opens(inputs, remedy):
            return remedy
    return None


def _dates_of(search: Search, station: Station, slots: Candidates, end: str) -> Iterator[tuple[dt.date, ...]]:
    """Of each slot in turn the dates away that it touches; with the date before, on which its hours may begin."""
    zone = zone_of(station)
    for start, stop, night in zip(slots.start[:3], slots.end[:3], slots.night[:3], strict=True):
        touched = {instant_of_minute(int(minute)).astimezone(zone).date() for minute in (start, stop - 1)}
        if end == "home":
            touched.add(search.trials.grid.period.dates[int(night)])
        for dates in (touched, touched | {date - ONE_DAY for date in touched}):
            yield tuple(sorted(date for date in dates if station.is_away(date)))


def _taken(end: str) -> Obstacle:
    """Calendars: nothing is proposed, for what they hold is nobody's to move from here."""
    return Obstacle(
        Cause.TAKEN, lambda inputs, pair: _at(inputs, pair, end, busy_files=()), lambda search, inputs: None
    )


def calendars_in_the_way(inputs: Inputs, pair: int, slots: Candidates) -> tuple[str, ...]:
    """The files of both ends whose entries touch any of these slots."""
    found = []
    for station in (inputs.home, inputs.partners[pair]):
        for file in station.busy_files:
            edges = (instant_of_minute(int(edge)) for edge in (slots.start.min(), slots.end.max()))
            taken = busy_stretches((file,), zone_of(station), *edges)
            if blocked(slots, tuple((start, end) for start, end in taken.tolist()), 0).any():
                found.append(file.name)
    return tuple(dict.fromkeys(found))


SUN = Obstacle(
    Cause.SUN_TOO_NEAR,
    lambda inputs, pair: _policy(inputs, minimum_sun_separation_deg=NO_LIMIT),
    _smaller_sun,
)
LATEST_HOUR = Obstacle(
    Cause.AFTER_LATEST_HOUR, lambda inputs, pair: _policy(inputs, latest_hour_on_work_nights=None), _later_hour
)
HOME_AWAY = _away("home", Cause.HOME_AWAY)
NIGHTS = Obstacle(Cause.NIGHTS_LEFT_OUT, lambda inputs, pair: _policy(inputs, nights=WEEKDAYS), _more_weekdays)
PARTNER_AWAY = _away("partner", Cause.PARTNER_AWAY)
HOME_TAKEN, PARTNER_TAKEN = _taken("home"), _taken("partner")
HOME_HOURS, PARTNER_HOURS = _hours("home"), _hours("partner")
# In this order one alone is told; of two together the first of this order is told first.
OBSTACLES = (
    SUN, LATEST_HOUR, HOME_AWAY, NIGHTS, PARTNER_AWAY, HOME_TAKEN, PARTNER_TAKEN, PARTNER_HOURS, HOME_HOURS,
)  # fmt: skip
