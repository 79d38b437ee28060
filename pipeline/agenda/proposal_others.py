"""What stands beside a proposed time: other slots too near to it, and the nearest other time that is free.

From the agenda's slots and the slot grid; a slot is promised where somebody else has it in hand.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.agenda.agenda import LEAST_GAIN, Chosen
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.commitments import PROPOSED, Kept, blocked, promised_to_others, refused_times
from pipeline.agenda.proposal_ground import Ground
from pipeline.agenda.site_hours import minutes_outside, spans_of
from pipeline.record.model import CONFIRMED
from pipeline.windows.instants import instant_of_minute, minutes_of

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Clash:
    """A slot too near in time; the call is empty where it is no slot of this plan. `promised`: agreed or offered, as a
    slot or as another time for one.
    """

    call: str
    label: str
    start: dt.datetime
    end: dt.datetime
    state: str
    overlaps: bool
    promised: bool


@dataclass(frozen=True)
class OtherTime:
    """Another time for the same partner; nothing stands against it."""

    start: dt.datetime
    end: dt.datetime
    chance: float


def times_of(one: Kept) -> tuple[dt.datetime, dt.datetime]:
    return instant_of_minute(one.start), instant_of_minute(one.end)


def is_promised(ground: Ground, one: Chosen) -> bool:
    """Whether somebody else has the slot in hand: agreed, set by hand, or offered at this time."""
    call = ground.grid.inputs.partners[one.pair].call
    held = any((kept.pair, kept.label, kept.start) == (one.pair, one.label, one.start)
               for kept in ground.agenda.commitments.kept)  # fmt: skip
    return held or any(
        (offer.partner, offer.label, minutes_of(offer.start_utc)) == (call, one.label, one.start)
        for offer in ground.agenda.commitments.open_offers
    )


def clash_of(ground: Ground, one: Chosen, overlaps: bool) -> Clash:
    call = ground.grid.inputs.partners[one.pair].call
    return Clash(call, one.label, *times_of(one), one.state, overlaps, is_promised(ground, one))


def clashes_of(ground: Ground, slot: Candidates, moved: Chosen | None, others: Sequence[Chosen]) -> tuple[Clash, ...]:
    """What else has the dish within the gap, by time; also what another plan or a stranger holds, and other times that
    letters told to somebody else for a slot.
    """
    gap = ground.grid.inputs.season.policy.gap_minutes
    start, end = int(slot.start[0]), int(slot.end[0])
    found = [
        clash_of(ground, one, one.start < end and one.end > start)
        for one in others
        if one.start < end + gap and one.end + gap > start
    ]
    mine = None if moved is None else (moved.start, moved.end)
    told = {(one.start, one.end) for one in others} | {mine}
    partners, held = ground.grid.inputs.partners, ground.agenda.commitments
    besides = [("", "", CONFIRMED, *edges) for edges in held.busy]
    besides += [
        (partners[one.pair].call, one.label, PROPOSED, one.start, one.end)
        for one in held.promised
        if one.pair != slot.pair[0]
    ]
    for call, label, state, first, last in besides:
        if (first, last) not in told and first < end + gap and last + gap > start:
            over = first < end and last > start
            found.append(Clash(call, label, instant_of_minute(first), instant_of_minute(last), state, over, True))
    return tuple(sorted(found, key=lambda one: one.start))


def nearest_other(
    ground: Ground, slot: Candidates, others: Sequence[Chosen], chance_met: float | None
) -> OtherTime | None:
    """Of the nearest night with a time that is free and better, the nearest at which that night is at its best.

    Better: by as much as a second slot must bring; without `chance_met` any that can be offered. A time that the
    partner was offered itself counts as free.
    """
    grid, held, policy = ground.grid, ground.agenda.commitments, ground.grid.inputs.season.policy
    pool = grid.slots.take(np.flatnonzero(grid.slots.pair == slot.pair[0]))
    pair, start = int(slot.pair[0]), int(slot.start[0])
    foreign = [one for one in others if one.pair != pair or one.state == CONFIRMED]
    mine = {(one.start, one.end) for one in ground.ahead(pair) if one not in foreign}
    busy = tuple({*((one.start, one.end) for one in foreign), *(one for one in held.busy if one not in mine)})
    fit = (pool.chance >= grid.least_chance) & (pool.start != start)
    fit &= ~blocked(pool, busy, policy.gap_minutes) & ~refused_times(pool, held.refused)
    fit &= ~promised_to_others(pool, held.promised, policy.gap_minutes)
    fit &= _has_room(ground, pool.night, foreign) & arrives(ground, pool, foreign)
    if chance_met is not None:
        fit &= pool.chance_met >= chance_met + LEAST_GAIN
    pool = pool.take(np.flatnonzero(fit))
    if not pool.start.size:
        return None
    night = pool.night[np.argmin(np.abs(pool.start - start))]
    pool = pool.take(np.flatnonzero(pool.night == night))
    pool = pool.take(np.flatnonzero(pool.chance_met >= pool.chance_met.max() - LEAST_GAIN))
    # What it was offered, or would be, stays where it is if that is as good.
    offered = np.array([edges in mine for edges in zip(pool.start.tolist(), pool.end.tolist(), strict=True)])
    best = int(np.lexsort((np.abs(pool.start - start), ~offered))[0])
    start_utc, end_utc = (instant_of_minute(int(edge[best])) for edge in (pool.start, pool.end))
    return OtherTime(start_utc, end_utc, float(pool.chance[best]))


def arrives(ground: Ground, pool: Candidates, others: Sequence[Chosen]) -> BoolArray:
    """Whether home arrives for each slot within its hours, (n,), or is there for others, or the policy does not ask."""
    policy = ground.grid.inputs.season.policy
    if not policy.setup_within_hours:
        return np.ones(pool.start.size, dtype=bool)
    first = {night: edges[0] for night, edges in spans_of(others).items()}
    starts = zip(pool.night.tolist(), pool.start.tolist(), strict=True)
    there = np.array([first.get(night, start + 1) <= start for night, start in starts], dtype=bool)
    return there | (minutes_outside(ground.grid, pool.start, policy.setup_minutes.arrive) == 0.0)


def _has_room(ground: Ground, night: IntArray, others: Sequence[Chosen]) -> BoolArray:
    """Whether the policy leaves another slot on each of these nights, (n,)."""
    policy = ground.grid.inputs.season.policy
    held = np.bincount([one.night for one in others], minlength=len(ground.grid.period.dates))
    is_open = (held > 0) | (int((held > 0).sum()) < policy.maximum_nights)
    return np.asarray((is_open & (held < policy.maximum_slots_per_night))[night])
