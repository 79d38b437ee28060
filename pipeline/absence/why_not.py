"""Why a partner has no slot: the most decisive cause, and what would change it.

From the slot grid, the record and the agenda. Every claim is tried on the same grid before it is made
(`counterfactuals`).
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pipeline.absence.causes import (
    Absence,
    AfterLatestHour,
    Cause,
    EarnsTooLittle,
    HeldByOthers,
    HoursTooShort,
    NoCommonMode,
    OnlyOnDates,
    OthersWorthMore,
    SlotsOutsideHours,
    StretchTooShort,
    SunTooNear,
    TooWeak,
    WithoutWindow,
)
from pipeline.absence.counterfactuals import Trials, best_few
from pipeline.absence.remedies import LargerDish, MoreNights, MorePower, MoreSlots, Room, Upgrade
from pipeline.absence.upgrades import dish_that_would_do, power_that_would_do
from pipeline.agenda.agenda import Agenda, make_problem, slots_on_offer
from pipeline.agenda.candidates import Candidates, station_stretches
from pipeline.agenda.commitments import PAST, blocked, refused_times
from pipeline.agenda.milp_solve import choose
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.windows.instants import instant_of_minute
from pipeline.windows.no_window import NoWindow

# The most that a season's policy takes.
MOST_NIGHTS, MOST_SLOTS_A_NIGHT = 31, 20


@dataclass(frozen=True)
class Lifted:
    """Whom the best agenda would hold with one limit a little wider; each worked out once, when it is asked for."""

    grid: SlotGrid
    agenda: Agenda

    @cached_property
    def by_night(self) -> set[int]:
        """Pairs served with one night more."""
        return self._served(more_nights=1)[0]

    @cached_property
    def by_slot(self) -> set[int]:
        """Pairs served with one slot a night more."""
        return self._served(more_slots=1)[0]

    @cached_property
    def by_nights(self) -> tuple[set[int], set[int]]:
        """Pairs served with as many nights as are worth it, and these nights."""
        return self._served(more_nights=len(self.grid.period.dates))

    def _served(self, **more: int) -> tuple[set[int], set[int]]:
        """Pairs with a slot in the best agenda of more room, and the nights it takes."""
        problem, people = make_problem(self.grid, self.agenda.commitments, self.agenda.pool, {}, **more)
        taken = choose(problem).taken
        nights = {int(night) for night in np.flatnonzero(problem.open_nights)}
        return {people[number][0] for number, _ in taken}, nights | {int(problem.night[slot]) for _, slot in taken}


@dataclass(frozen=True)
class Case:
    """One partner without a slot."""

    grid: SlotGrid
    agenda: Agenda
    trials: Trials
    lifted: Lifted
    pair: int

    @property
    def call(self) -> str:
        """The partner's call."""
        return self.grid.inputs.partners[self.pair].call

    @property
    def slots(self) -> Candidates:
        """Its slots that no rule forbids, poor ones too."""
        return self.grid.slots.take(np.flatnonzero(self.grid.slots.pair == self.pair))

    @property
    def good(self) -> Candidates:
        """Those that could be proposed."""
        return slots_on_offer(self.grid, self.agenda.commitments, self.slots)


def partners_without_slot(
    grid: SlotGrid, agenda: Agenda, no_windows: Sequence[NoWindow | None]
) -> tuple[Absence | None, ...]:
    """The cause for each partner without a slot, None for the others; `no_windows` are those of the partners."""
    # Whom nobody can say whether it is worked is neither missed nor asked.
    served = {one.pair for one in agenda.slots if one.outcome in ("", PAST)}
    trials, lifted = Trials(grid, agenda.commitments), Lifted(grid, agenda)
    return tuple(
        None if pair in served else _partner(Case(grid, agenda, trials, lifted, pair), no_window)
        for pair, no_window in enumerate(no_windows)
    )


def _partner(case: Case, no_window: NoWindow | None) -> Absence:
    if case.grid.inputs.wishes[case.pair].contacts_wanted == 0:
        return Absence(Cause.NOT_WANTED)
    if not case.agenda.commitments.pairs_wanted(case.grid)[case.pair]:
        return Absence(Cause.WORKED)
    if no_window is not None:
        return WithoutWindow(no_window)
    if case.grid.modes[case.pair] is None:
        ends = (case.grid.inputs.home, case.grid.inputs.partners[case.pair])
        return NoCommonMode(*(station.bands[case.grid.band_of(case.pair)].modes for station in ends))
    if case.good.start.size:
        return _not_chosen(case)
    if not case.trials.minutes[case.pair].minute.size:
        return Absence(Cause.PAST)
    decisive = _refused(case) or _agreed_in_the_way(case) or _too_weak(case) or _rules(case) or _hours(case)
    return decisive or _too_short(case)


def _refused(case: Case) -> Absence | None:
    """Good slots there were, and every one of them touches a time that the partner has refused."""
    slots, held = case.slots, case.agenda.commitments
    fit = slots.chance >= case.grid.least_chance
    if fit.any() and refused_times(slots, held.refused)[fit].all():
        return Absence(Cause.OFFERS_DECLINED)
    return None


def _agreed_in_the_way(case: Case) -> HeldByOthers | None:
    """Good slots there were, but what is agreed with others holds the dish."""
    slots, held, gap = case.slots, case.agenda.commitments, case.grid.inputs.season.policy.gap_minutes
    fit = np.flatnonzero((slots.chance >= case.grid.least_chance) & ~refused_times(slots, held.refused))
    fit = fit[blocked(slots, held.busy, gap)[fit]]
    if not fit.size:
        return None
    return HeldByOthers(
        tuple(
            (case.grid.inputs.partners[one.pair].call, one.label)
            for one in held.kept
            if not one.is_over and blocked(slots.take(fit), ((one.start, one.end),), gap).any()
        )
    )


def _too_weak(case: Case) -> TooWeak | None:
    """Even with nobody asleep the best chance is less than marginal: by how much, and what would mend it."""
    trials, limit = case.trials, case.grid.least_chance
    every = trials.best(case.pair, trials.places(case.pair, home=trials.whenever, partner=trials.whenever, sun=False))
    if every.start.size and every.chance.max() < limit:
        return _weakness(case, every, at_any_hour=True)
    if case.slots.start.size:
        return _weakness(case, case.slots, at_any_hour=False)
    return None


def _weakness(case: Case, slots: Candidates, at_any_hour: bool) -> TooWeak:
    """How many decibels are missing, and the dishes and the powers that would bring them."""
    missing = case.trials.missing_db(slots, case.grid.least_chance)
    if missing is None:
        return TooWeak(None, at_any_hour)
    best = best_few(slots).take(np.array([0]))
    upgrades: list[Upgrade] = []
    for end in ("partner", "home"):
        size = dish_that_would_do(case.grid, best, end, missing)
        upgrades += [LargerDish(end, size)] if size else []
    for end in ("partner", "home"):
        watts = power_that_would_do(case.trials, slots, end)
        upgrades += [MorePower(end, watts)] if watts else []
    return TooWeak(missing, at_any_hour, tuple(upgrades))


def _rules(case: Case) -> Absence | None:
    """One rule alone keeps all good slots away."""
    trials, pair, policy = case.trials, case.pair, case.grid.inputs.season.policy
    found = trials.good(pair, sun=False)
    if found.start.size:
        return SunTooNear(policy.minimum_sun_separation_deg, int(np.unique(found.night).size))
    found = trials.good(pair, home=trials.home_without("latest hour"))
    if found.start.size:
        return AfterLatestHour(policy.latest_hour_on_work_nights, dates=_dates(case, found))
    for rule, cause in (("away", Cause.HOME_AWAY), ("nights", Cause.NIGHTS_LEFT_OUT)):
        found = trials.good(pair, home=trials.home_without(rule))
        if found.start.size:
            return OnlyOnDates(cause, _dates(case, found))
    station = dataclasses.replace(case.grid.inputs.partners[pair], unavailable_dates=())
    found = trials.good(pair, partner=station_stretches(station, case.grid.period))
    return OnlyOnDates(Cause.PARTNER_AWAY, _dates(case, found)) if found.start.size else None


def _hours(case: Case) -> Absence | None:
    """The hours do not meet: the least growth that helps, else when the Moon is in common sight at all."""
    trials, pair = case.trials, case.pair
    longer = trials.shortest_longer(pair)
    if longer is not None:
        return HoursTooShort(longer, case.call)
    for ends, found in (
        (("home",), trials.good(pair, home=trials.possible)),
        (("partner",), trials.good(pair, partner=trials.awake(pair))),
        (("home", "partner"), trials.good(pair, home=trials.possible, partner=trials.awake(pair))),
    ):
        if found.start.size:
            return SlotsOutsideHours(ends, clock_range(case.grid, found))
    return None


def _too_short(case: Case) -> Absence:
    """What is left between the rules is shorter than any slot, or the Moon stands too low in it."""
    mine = case.grid.minutes.of_pair(case.pair)
    edge = np.flatnonzero(np.diff(mine.window, prepend=-1) | np.diff(mine.free.astype(np.int8), prepend=-1))
    sizes = np.diff(np.append(edge, mine.free.size))[mine.free[edge]]
    longest, least = int(sizes.max(initial=0)), int(case.grid.least[case.pair])
    if 0 < longest < least:
        return StretchTooShort(longest, least)
    return Absence(Cause.MOON_TOO_LOW if longest else Cause.RULES_TOGETHER)


def _not_chosen(case: Case) -> Absence:
    """Good slots there are, and others were worth more: which limit, lifted, would let it in."""
    grid, policy = case.grid, case.grid.inputs.season.policy
    priority = grid.inputs.wishes[case.pair].priority
    best = priority * float(case.good.chance_met.max())
    on_nights = np.isin(case.good.night, sorted(case.agenda.nights))
    if not on_nights.any() and best < policy.night_cost:
        return EarnsTooLittle(best, policy.night_cost)
    room = _room(case)
    if room is None and not on_nights.any():
        served, nights = case.lifted.by_nights
        if case.pair not in served and not np.isin(case.good.night, sorted(nights)).any():
            return Absence(Cause.NIGHTS_EARN_TOO_LITTLE)
    return OthersWorthMore(_others(case, on_nights), room, bool(on_nights.any()))


def _room(case: Case) -> Room | None:
    """One night, one slot a night or as many nights as are worth it more, where that would let it in."""
    policy = case.grid.inputs.season.policy
    if case.pair in case.lifted.by_night and policy.maximum_nights < MOST_NIGHTS:
        return MoreNights(policy.maximum_nights + 1)
    if case.pair in case.lifted.by_slot and policy.maximum_slots_per_night < MOST_SLOTS_A_NIGHT:
        return MoreSlots(policy.maximum_slots_per_night + 1)
    served, nights = case.lifted.by_nights
    if case.pair in served and policy.maximum_nights < len(nights) <= MOST_NIGHTS:
        return MoreNights(len(nights))
    return None


def _others(case: Case, on_nights: np.ndarray) -> tuple[str, ...]:
    """Who has the slots instead: on the nights it shares with them, else on all."""
    nights = set(case.good.night[on_nights].tolist()) or case.agenda.nights
    calls = [case.grid.inputs.partners[one.pair].call for one in case.agenda.slots if one.night in nights]
    return tuple(dict.fromkeys(calls))


def clock_range(grid: SlotGrid, slots: Candidates) -> tuple[dt.time, dt.time] | None:
    """The shortest stretch of home's clock that holds all these slots; None where they lie at any hour."""
    zone = grid.period.zone
    clocks = [
        [moment.hour * 60 + moment.minute for moment in (instant_of_minute(m).astimezone(zone) for m in edges)]
        for edges in zip(slots.start, slots.end, strict=True)
    ]
    busy = np.zeros(1440, dtype=bool)
    for first, last in clocks:
        busy[np.arange(first, last if last > first else last + 1440) % 1440] = True
    if busy.all():
        return None
    used = np.flatnonzero(busy)
    gaps = np.diff(np.append(used, used[0] + 1440))
    widest = int(np.argmax(gaps))
    begin, end = int(used[(widest + 1) % used.size]), int(used[widest]) + 1
    return dt.time(begin // 60, begin % 60), dt.time(end // 60 % 24, end % 60)


def _dates(case: Case, slots: Candidates) -> tuple[dt.date, ...]:
    """The nights of slots."""
    return tuple(case.grid.period.dates[int(night)] for night in np.unique(slots.night))
