"""Why a night has no slot: the most decisive cause.

From the slot grid and the agenda; a rule is named once the night has been tried without it.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.absence.causes import (
    Absence,
    AfterLatestHour,
    Cause,
    EarnsTooLittle,
    NoHomeHours,
    OnlyWorthItsCost,
    OtherNightsWorthMore,
    PartnersAway,
    PartnersOutsideHours,
    Rule,
    RulesTogether,
    SunTooNear,
    Taken,
    Unlikely,
    WeekdayLeftOut,
)
from pipeline.absence.counterfactuals import NO_LIMIT, Trials, all_of
from pipeline.absence.obstacles import calendars_in_the_way
from pipeline.agenda import hours
from pipeline.agenda.agenda import Agenda, one_night_more
from pipeline.agenda.candidates import Candidates, home_stretches, station_stretches
from pipeline.agenda.commitments import refused_times
from pipeline.agenda.milp_model import Problem
from pipeline.agenda.milp_solve import choose
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.record.inputs import Inputs
from pipeline.windows.instants import minutes_of

IntArray = npt.NDArray[np.int64]

# Rules that are tried off together when none alone is the cause, from the fewest on.
TOGETHER = {
    "hours, late": (Rule.HOURS, Rule.LATEST_HOUR),
    "hours, sun": (Rule.HOURS, Rule.SUN_SEPARATION),
    "all": tuple(Rule),
}


def nights_without_slot(grid: SlotGrid, agenda: Agenda, nights: pd.DataFrame) -> tuple[Absence | None, ...]:
    """The cause for each night without a slot, None for the others.

    `nights` has a row a night with `possible` and `partners_in_reach`.
    """
    plain = {
        night: _without_trial(grid, agenda, night, bool(row["possible"]), int(row["partners_in_reach"]))
        for night, row in enumerate(nights.to_dict("records"))
        if night not in agenda.nights
    }
    tried = _tried(grid, agenda, [night for night, absence in plain.items() if absence is None])
    return tuple(plain.get(night) or tried.get(night) for night in range(len(grid.period.dates)))


def _without_trial(grid: SlotGrid, agenda: Agenda, night: int, possible: bool, in_reach: int) -> Absence | None:
    """Causes that are plain to see."""
    date = grid.period.dates[night]
    if grid.inputs.is_past(date):
        return Absence(Cause.PAST)
    if not possible:
        if grid.inputs.home.is_away(date):
            return Absence(Cause.HOME_AWAY)
        return WeekdayLeftOut(date.weekday())
    if not in_reach:
        return Absence(Cause.NOBODY_IN_SIGHT)
    if (agenda.pool.night == night).any():
        return _not_chosen(grid, agenda, night)
    return None


def _tried(grid: SlotGrid, agenda: Agenda, nights: list[int]) -> dict[int, Absence]:
    """Nights without a good slot within the rules: which rule alone is in the way, and for whom."""
    trials, left = Trials(grid, agenda.commitments), list(nights)
    found: dict[int, Absence] = {}
    pairs = [int(pair) for pair in np.flatnonzero(agenda.commitments.pairs_wanted(grid))]
    for name in ("sun", "late", "taken", "home", "partner", "both", "away", *TOGETHER):
        calls = _calls(grid, [_opened(trials, name, pair, left) for pair in pairs] if left else [])
        found |= {night: _closed_by(trials, name, night, tuple(some)) for night, some in calls.items()}
        left = [night for night in left if night not in found]
    return found | {night: _weak(grid, agenda, night) for night in left}


def _closed_by(trials: Trials, name: str, night: int, calls: tuple[str, ...]) -> Absence:
    """What the trial of that name shows of a night, and of the partners whom it opened it to."""
    policy = trials.grid.inputs.season.policy
    if name == "sun":
        return SunTooNear(policy.minimum_sun_separation_deg)
    if name == "late":
        return AfterLatestHour(policy.latest_hour_on_work_nights, calls=calls)
    if name == "away":
        return PartnersAway(calls)
    if name == "taken":
        return Taken(_calendars(trials, night, calls), calls=calls)
    if name in TOGETHER:
        return RulesTogether(calls, TOGETHER[name])
    return _hours(trials, name, night, calls)


def _opened(trials: Trials, name: str, pair: int, nights: Sequence[int]) -> Candidates:
    if name == "sun":
        return trials.good(pair, sun=NO_LIMIT, nights=nights)
    if name == "late":
        return trials.good(pair, home=trials.home_at_any_hour_of_work_nights, nights=nights)
    if name == "taken":
        free = without_calendars(trials.grid.inputs)
        partner = station_stretches(free.partners[pair], trials.grid.period)
        return trials.good(pair, home=home_stretches(free, trials.grid.period), partner=partner, nights=nights)
    if name in TOGETHER:
        home = trials.possible if name == "hours, sun" else trials.on_nights
        sun = None if name == "hours, late" else NO_LIMIT
        partner = trials.whenever if name == "all" else trials.awake(pair)
        return trials.good(pair, home=home, partner=partner, sun=sun, nights=nights)
    if name == "away":
        return trials.good(pair, home=trials.possible, partner=trials.whenever, nights=nights)
    if name == "home":
        return trials.good(pair, home=trials.possible, nights=nights)
    if name == "partner":
        return trials.good(pair, partner=trials.awake(pair), nights=nights)
    return trials.good(pair, home=trials.possible, partner=trials.awake(pair), nights=nights)


def without_calendars(inputs: Inputs) -> Inputs:
    """The season as if no calendar of people took any hour."""
    home, *partners = (dataclasses.replace(one, busy_files=()) for one in (inputs.home, *inputs.partners))
    return dataclasses.replace(inputs, home=home, partners=tuple(partners))


def _calendars(trials: Trials, night: int, calls: Sequence[str]) -> tuple[str, ...]:
    """The files that keep these partners from a night."""
    inputs = trials.grid.inputs
    pairs = [inputs.place_of(call) for call in calls]
    names = [calendars_in_the_way(inputs, pair, _opened(trials, "taken", pair, [night])) for pair in pairs]
    return tuple(dict.fromkeys(name for some in names for name in some))


def _calls(grid: SlotGrid, parts: Sequence[Candidates]) -> dict[int, list[str]]:
    """Partners with a slot by night, those of greatest chance first."""
    if not parts:
        return {}
    slots = all_of(parts)
    found: dict[int, list[str]] = {}
    for row in np.lexsort((slots.pair, -np.round(slots.chance, 3))):
        calls = found.setdefault(int(slots.night[row]), [])
        call = grid.inputs.partners[int(slots.pair[row])].call
        if call not in calls:
            calls.append(call)
    return found


def _hours(trials: Trials, name: str, night: int, calls: tuple[str, ...]) -> Absence:
    """The hours do not meet: who is out of hours."""
    if name != "partner" and not _home_gives(trials, night).size:
        return NoHomeHours(trials.grid.period.dates[night].weekday(), calls)
    return PartnersOutsideHours(("home", "partner") if name == "both" else (name,), calls)


def _home_gives(trials: Trials, night: int) -> IntArray:
    """Home's stretches of one night."""
    edges = [minutes_of(edge) for edge in trials.grid.period.edges[night : night + 2]]
    return hours.overlap(trials.stretches[0], np.array([edges], dtype=np.int64))


def _weak(grid: SlotGrid, agenda: Agenda, night: int) -> Absence:
    """Nothing good at any hour, or nothing that is still free or wanted."""
    wanted = agenda.commitments.pairs_wanted(grid)
    mine = grid.slots.take(np.flatnonzero(grid.slots.night == night))
    mine = mine.take(np.flatnonzero(wanted[mine.pair]))
    good = mine.take(np.flatnonzero(mine.chance >= grid.least_chance))
    if good.start.size:
        every = refused_times(good, agenda.commitments.refused).all()
        return Absence(Cause.OFFERS_DECLINED if every else Cause.HELD_OR_DECLINED)
    if mine.start.size:
        return Unlikely(grid.inputs.partners[int(mine.pair[np.argmax(mine.chance)])].call)
    return Unlikely(None)


def _not_chosen(grid: SlotGrid, agenda: Agenda, night: int) -> Absence:
    """Good slots, but none earns the set-up: what the night could add to this agenda at most."""
    policy = grid.inputs.season.policy
    cost, (alone, _, _) = policy.night_cost, one_night_more(grid, agenda, night)
    gain = _bound(alone, policy.maximum_slots_per_night)
    if gain >= cost and len(agenda.nights) >= policy.maximum_nights:
        return OtherNightsWorthMore(policy.maximum_nights)
    if gain >= cost:
        gain = choose(alone, bounded=False).value
    if gain <= 0.0:
        return Absence(Cause.NOTHING_TO_ADD)
    return EarnsTooLittle(gain, cost) if gain < cost else OnlyWorthItsCost(cost)


def _bound(alone: Problem, slots: int) -> float:
    """What the best demands would add if none stood in another's way."""
    best = [
        max(
            float(one.worth.max(initial=0.0)) * max(1, one.most),
            0.0 if one.pair_worth is None else float(one.pair_worth.max(initial=0.0)),
        )
        for one in alone.demands
        if one.most > 0
    ]
    return sum(sorted(best, reverse=True)[:slots])
