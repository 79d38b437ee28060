"""The most decisive cause of a partner's absence, with its figures.

From the slot grid, the record and the agenda. A rule is named once the partner's own slots have been looked at without
it (`obstacles`).
"""

from __future__ import annotations

import datetime as dt

import numpy as np

from pipeline.absence.cases import Case
from pipeline.absence.causes import (
    Absence,
    AfterLatestHour,
    Cause,
    EarnsTooLittle,
    HeldByOthers,
    NightsFull,
    NoCommonMode,
    OnlyOnDates,
    OthersWorthMore,
    SlotsOutsideHours,
    StretchTooShort,
    SunTooNear,
    Taken,
    TooWeak,
    WithoutWindow,
)
from pipeline.absence.obstacles import HOME_HOURS, Obstacle, calendars_in_the_way
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.commitments import blocked, refused_times
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.windows.instants import instant_of_minute
from pipeline.windows.no_window import NoWindow


def decisive_cause(case: Case, no_window: NoWindow | None) -> Absence:
    """The one cause that is told where no remedy helps."""
    grid, pair = case.grid, case.pair
    if grid.inputs.wishes[pair].contacts_wanted == 0:
        return Absence(Cause.NOT_WANTED)
    if not case.agenda.commitments.pairs_wanted(grid)[pair]:
        return Absence(Cause.WORKED)
    if no_window is not None:
        return WithoutWindow(no_window)
    if grid.modes[pair] is None:
        ends = (grid.inputs.home, grid.inputs.partners[pair])
        return NoCommonMode(*(station.bands[grid.band_of(pair)].modes for station in ends))
    if case.good.start.size:
        return _not_chosen(case)
    if not case.trials.minutes[pair].minute.size:
        return Absence(Cause.PAST)
    return _refused(case) or _agreed_in_the_way(case) or _too_weak(case) or _rules(case) or _too_short(case)


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
    """Even with nobody asleep the best chance is less than marginal, or it is in the time that both ends have."""
    limit, every = case.grid.least_chance, case.anywhere
    if every.start.size and every.chance.max() < limit:
        return TooWeak(case.trials.missing_db(every, limit), at_any_hour=True)
    if case.slots.start.size:
        return TooWeak(case.trials.missing_db(case.slots, limit), at_any_hour=False)
    return None


def _rules(case: Case) -> Absence | None:
    """One rule alone keeps all good slots away, or two do together."""
    for obstacle, slots in case.alone:
        return moved(case, obstacle, slots)
    for first, second in case.together:
        return both(first, second)
    return None


def moved(case: Case, obstacle: Obstacle, slots: Candidates) -> Absence:
    """The cause that one obstacle is, with its figures; `slots` are those that it keeps away."""
    policy = case.grid.inputs.season.policy
    dates = tuple(case.grid.period.dates[int(night)] for night in np.unique(slots.night))
    match obstacle.cause:
        case Cause.SUN_TOO_NEAR:
            return SunTooNear(policy.minimum_sun_separation_deg)
        case Cause.AFTER_LATEST_HOUR:
            return AfterLatestHour(policy.latest_hour_on_work_nights, dates=dates)
        case Cause.TAKEN:
            return Taken(calendars_in_the_way(case.grid.inputs, case.pair, slots), dates=dates)
        case Cause.HOURS_DO_NOT_MEET:
            end = "home" if obstacle is HOME_HOURS else "partner"
            return SlotsOutsideHours((end,), clock_range(case.grid, slots))
    return OnlyOnDates(obstacle.cause, dates)


def both(first: Obstacle, second: Obstacle) -> Absence:
    """Two obstacles that keep good slots away only together."""
    return Absence(first.cause, second=second.cause)


def _too_short(case: Case) -> Absence:
    """What is left between the rules is shorter than any slot, or the Moon stands too low in it."""
    if case.own and not case.anywhere.start.size:
        return Absence(Cause.NO_FURTHER_WINDOW)
    mine = case.trials.minutes[case.pair]
    edge = np.flatnonzero(np.diff(mine.window, prepend=-1) | np.diff(mine.free.astype(np.int8), prepend=-1))
    sizes = np.diff(np.append(edge, mine.free.size))[mine.free[edge]]
    longest, least = int(sizes.max(initial=0)), int(case.grid.least[case.pair])
    if 0 < longest < least:
        return StretchTooShort(longest, least)
    never = not case.anywhere.start.size
    return Absence(Cause.MOON_TOO_LOW if longest or never else Cause.RULES_TOGETHER)


def _not_chosen(case: Case) -> Absence:
    """Good slots there are, and others were worth more, or a set-up for it is worth nothing."""
    grid, policy = case.grid, case.grid.inputs.season.policy
    if case.on_nights.any():
        return OthersWorthMore(others(case))
    best = grid.inputs.wishes[case.pair].priority * float(case.good.chance_met.max())
    if best < policy.night_cost:
        return EarnsTooLittle(best, policy.night_cost)
    return NightsFull(policy.maximum_nights, others(case)) if case.nights_full else not_worth_it()


def not_worth_it() -> Absence:
    """No set-up for it would earn what a night costs."""
    return Absence(Cause.NIGHTS_EARN_TOO_LITTLE)


def others(case: Case) -> tuple[str, ...]:
    """Who has the slots instead: on the nights it shares with them, else on all."""
    nights = set(case.good.night[case.on_nights].tolist()) or case.agenda.nights
    slots = [one for one in case.agenda.slots if one.night in nights and one.pair != case.pair]
    return tuple(dict.fromkeys(case.grid.inputs.partners[one.pair].call for one in slots))


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
