"""What may help a partner in, the least first: remedies that open a good slot on the partner's own minutes.

From the cause of its absence. Whether the whole agenda then has room for it is not asked here (`trying`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from pipeline.absence.cases import Case
from pipeline.absence.causes import (
    Absence,
    Cause,
    EarnsTooLittle,
    HeldByOthers,
    NightsFull,
    NoCommonMode,
    OthersWorthMore,
    TooWeak,
)
from pipeline.absence.changes import changed_inputs
from pipeline.absence.counterfactuals import best_few
from pipeline.absence.obstacles import OBSTACLES, Obstacle
from pipeline.absence.partner_causes import both, moved, not_worth_it, others
from pipeline.absence.remedies import (
    LargerDish,
    LowerNightCost,
    ModeAdded,
    MoreNights,
    MorePower,
    MoreSlots,
    Remedy,
    Room,
    Upgrade,
)
from pipeline.absence.upgrades import dish_that_would_do, power_that_would_do
from pipeline.agenda.candidates import Candidates

# The most that a season's policy takes, and how far a number of nights is tried upward.
MOST_NIGHTS, MOST_SLOTS_A_NIGHT = 31, 20
NIGHTS_TRIED = 3
# Costs of a night are tried by these steps, in contacts.
COST_STEP = 0.05
# A night must earn a little more than it costs; no equipment is asked to bring more than this chance.
EARNS_SAFELY, BEST_CHANCE = 1.05, 0.95
# Where hours must move as well, slots this much weaker than the best of all are still worth better equipment.
FURTHER_DB = 3.0


@dataclass(frozen=True)
class Proposal:
    """Remedies that open a good slot on the partner's own minutes, with the cause that they move, or the two."""

    remedies: tuple[Remedy, ...]
    absence: Absence
    second: Cause | None = None


def proposals(case: Case, absence: Absence) -> Iterator[Proposal]:
    """What may help, the least first; each opens a good slot on the partner's own minutes."""
    if isinstance(absence, NoCommonMode):
        if not case.slots.start.size:
            return
        home, partner = absence.home_modes, absence.partner_modes
        known = {mode.mode for mode in case.grid.inputs.modes}
        for end, modes in (("partner", home), ("home", partner)):
            added = [mode for mode in modes if mode in known][:1]
            yield from (Proposal((ModeAdded(end, mode),), absence) for mode in added)
        return
    if case.good.start.size:
        yield from (Proposal((room,), cause) for room, cause in _rooms(case, case.on_nights, absence))
        return
    if isinstance(absence, HeldByOthers):
        return
    if isinstance(absence, TooWeak) and case.slots.start.size:
        yield from (Proposal((one,), absence) for one in _upgrades(case, case.slots))
    # What was offered and declined stays the cause, whatever would open other times.
    declined = absence if absence.cause is Cause.OFFERS_DECLINED else None
    moves = [
        (remedy, declined or moved(case, obstacle, slots))
        for obstacle, slots in case.alone
        if (remedy := obstacle.least(case.search, case.grid.inputs)) is not None
    ]
    yield from (Proposal((remedy,), cause) for remedy, cause in moves)
    for remedy, cause in moves[:1]:
        good = case.search.good(changed_inputs(case.grid.inputs, case.pair, remedy))
        on_nights = np.isin(good.night, sorted(case.agenda.nights))
        for room, crowded in _rooms(case, on_nights, cause):
            yield Proposal((remedy, room), cause, crowded.cause)
    for first, second in case.together:
        yield from _two_moves(case, first, second)
    if isinstance(absence, TooWeak) and absence.missing_db is not None:
        yield from _moves_and_upgrades(case, absence.missing_db)


def _two_moves(case: Case, first: Obstacle, second: Obstacle) -> Iterator[Proposal]:
    """The least of each, where the two open something together."""
    inputs, pair = case.grid.inputs, case.pair
    one = first.least(case.search, second.lifted(inputs, pair))
    if one is None:
        return
    other = second.least(case.search, changed_inputs(inputs, pair, one))
    if other is not None:
        yield Proposal((one, other), both(first, second), second.cause)


def _moves_and_upgrades(case: Case, missing_db: float) -> Iterator[Proposal]:
    """An obstacle moved, and then better equipment."""
    inputs, pair = case.grid.inputs, case.pair
    louder = replace(case.search, more_db=missing_db + FURTHER_DB)
    if louder.good(inputs).start.size:
        return  # no rule keeps them away: better equipment alone was proposed before
    for obstacle in OBSTACLES:
        if not louder.good(obstacle.lifted(inputs, pair)).start.size:
            continue
        remedy = obstacle.least(louder, inputs)
        if remedy is None:
            continue
        slots = case.search.places(changed_inputs(inputs, pair, remedy))
        absence = Absence(obstacle.cause, second=Cause.TOO_WEAK)
        yield from (Proposal((remedy, one), absence, Cause.TOO_WEAK) for one in _upgrades(case, slots))


def _upgrades(case: Case, slots: Candidates) -> Iterator[Upgrade]:
    """Dishes and powers, the partner's first, with which the best of these slots could be taken."""
    best = best_few(slots).take(np.array([0]))
    needed = _chance_needed(case, best)
    missing = case.trials.missing_db(slots, needed)
    if missing is None:
        return
    for end in ("partner", "home"):
        size = dish_that_would_do(case.grid, best, end, missing, needed)
        if size:
            yield LargerDish(end, size)
        watts = power_that_would_do(case.trials, slots, end, needed)
        if watts:
            yield MorePower(end, watts)


def _chance_needed(case: Case, slot: Candidates) -> float:
    """What a slot must reach to be taken: marginal; on a night that is not in use, what a set-up costs besides."""
    marginal = case.grid.least_chance
    if int(slot.night[0]) in case.agenda.nights:
        return marginal
    each = case.grid.inputs.wishes[case.pair].priority * float(slot.presence[0] * slot.clear[0])
    earned = EARNS_SAFELY * case.grid.inputs.season.policy.night_cost / max(each, 1e-9)
    return max(marginal, earned) if earned <= BEST_CHANCE else marginal


def _rooms(case: Case, on_nights: npt.NDArray[np.bool_], absence: Absence) -> Iterator[tuple[Room, Absence]]:
    """More nights, one slot a night more or a lower cost of a night, whichever limit holds, with the cause it moves.

    `on_nights` tells of the partner's good slots which lie on nights in use.
    """
    policy, instead = case.grid.inputs.season.policy, others(case)
    cheap = absence.cause in (Cause.EARNS_TOO_LITTLE, Cause.NIGHTS_EARN_TOO_LITTLE)
    if case.nights_full and not cheap:
        for count in range(policy.maximum_nights + 1, min(policy.maximum_nights + NIGHTS_TRIED, MOST_NIGHTS) + 1):
            yield MoreNights(count), NightsFull(policy.maximum_nights, instead)
    if on_nights.any() and policy.maximum_slots_per_night < MOST_SLOTS_A_NIGHT:
        yield MoreSlots(policy.maximum_slots_per_night + 1), OthersWorthMore(instead)
    if not case.nights_full and not on_nights.all():
        worth = absence.worth if isinstance(absence, EarnsTooLittle) else policy.night_cost
        steps = int(min(worth, policy.night_cost - COST_STEP) / COST_STEP + 1e-9)
        for step in dict.fromkeys((steps, steps // 2, 0)) if policy.night_cost > 0.0 else ():
            cause = absence if cheap else not_worth_it()
            yield LowerNightCost(round(max(step, 0) * COST_STEP, 2)), cause
