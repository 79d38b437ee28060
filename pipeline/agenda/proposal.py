"""A time that a partner proposes, judged: what both ends see then, the slot that could begin, what stands against it.

From the survey, the slot grid and the agenda: the slot and its chance are those that the agenda would have. Who
proposes a time is there then: its own hours are told and stand against nothing.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt

from pipeline.agenda.agenda import Chosen
from pipeline.agenda.candidates import Candidates, with_chances
from pipeline.agenda.commitments import Kept, next_label, rules_broken_by
from pipeline.agenda.notes import Rule
from pipeline.agenda.proposal_ends import EndThen, Free, both_ends
from pipeline.agenda.proposal_ground import Ground
from pipeline.agenda.proposal_others import (
    Clash,
    OtherTime,
    arrives,
    clash_of,
    clashes_of,
    is_promised,
    nearest_other,
    times_of,
)
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.record.model import CONFIRMED
from pipeline.windows.instants import instant_of_minute, minutes_of

BoolArray = npt.NDArray[np.bool_]


class Against(Enum):
    """What stands against a time, the weightiest first."""

    MOON = "Moon"
    NO_MODE = "no shared mode"
    TAKEN = "other slots"
    HOME_NOT_FREE = "home's hours"
    SUN = "Sun"
    WEAK = "chance"
    NIGHT_FULL = "slots of the night"
    NIGHTS_USED = "nights"
    ARRIVAL = "arriving"


@dataclass(frozen=True)
class Judged:
    """A proposed time: `against` is empty where it suits. `chance` is None where no slot can begin.

    `label` is the letter that the slot would have; `instead` tells that it is now at another time, `before`; `agreed`
    that it is agreed at this very time already, `offered` that
    the partner was offered it. `own` are the partner's other slots. `is_worked` is whether a contact with it is made.
    """

    home: EndThen
    partner: EndThen
    start: dt.datetime
    end: dt.datetime
    night: dt.date
    is_new_night: bool
    nights_used: int
    mode: str
    chance: float | None
    chance_met: float | None
    against: tuple[Against, ...]
    clashes: tuple[Clash, ...]
    operator: str
    label: str
    before: tuple[dt.datetime, dt.datetime] | None
    agreed: bool
    offered: bool
    is_wanted: bool
    is_worked: bool
    own: tuple[Clash, ...]
    other: OtherTime | None

    @property
    def is_possible(self) -> bool:
        """Whether there is anything to take: a slot that the Moon allows and no agreed slot holds already."""
        held = any(one.overlaps and one.promised and one.state == CONFIRMED for one in self.clashes)
        return self.chance is not None and Against.NO_MODE not in self.against and not held


def judge_time(ground: Ground, pair: int, instant: dt.datetime, instead: str = "") -> Judged:
    """A time of a partner, UTC in whole minutes, that `ground` holds; `instead` is the letter that it takes over."""
    grid, agenda = ground.grid, ground.agenda
    start = minutes_of(instant)
    own = ground.ahead(pair)
    same = next((one for one in own if one.start == start and not instead), None)
    end = same.end if same is not None else _end(grid, pair, start)
    slot = grid.slots_at(pair, [(start, end or start + grid.inputs.season.policy.slot_minutes.most)])
    moved = same or _moved(own, slot, instead)
    others = [one for one in agenda.slots if not one.is_over and one is not moved]
    clashes = clashes_of(ground, slot, moved, others) if end is not None else ()
    mode = grid.modes[pair]
    chance = float(slot.chance[0]) if end is not None else None
    operator = moved.operator if moved is not None else _operator(ground, pair)
    kept = Kept(pair, operator, "", CONFIRMED, slot, is_own_proposal=True)
    ends = both_ends(ground, slot)
    night, nights = int(slot.night[0]), {one.night for one in others}
    against = _against(ground, kept, ends[0], clashes, others)
    label = moved.label if moved is not None else _label(ground, pair, instant)
    return Judged(
        home=ends[0],
        partner=ends[1],
        start=instant_of_minute(start),
        end=instant_of_minute(int(slot.end[0])),
        night=grid.period.dates[night],
        is_new_night=night not in nights,
        nights_used=len(nights),
        mode=mode.title if mode is not None else "",
        chance=chance,
        chance_met=float(slot.chance_met[0]) if end is not None else None,
        against=against,
        clashes=clashes,
        operator=operator,
        label=label,
        before=times_of(moved) if moved is not None and moved is not same else None,
        agreed=same is not None and same.state == CONFIRMED,
        offered=same is not None and is_promised(ground, same),
        is_wanted=agenda.commitments.wanted(grid, pair, operator) > 0,
        is_worked=agenda.commitments.worked.get((pair, operator), 0) > 0,
        own=tuple(clash_of(ground, one, False) for one in own if one is not moved),
        other=nearest_other(ground, slot, others, None if against else float(slot.chance_met[0])),
    )


def _end(grid: SlotGrid, pair: int, start: int) -> int | None:
    """When a slot that begins there ends; None where the Moon is not above both horizons then.

    As long as the rules leave it, as few of them as let it be a slot at all; then as short as costs hardly any chance.
    """
    policy = grid.inputs.season.policy.slot_minutes
    rows = grid.rows_of(pair, start, start + policy.most)
    minutes = grid.minutes.take(rows)
    if not rows.size or int(minutes.minute[0]) != start:
        return None
    inside = minutes.window == minutes.window[0]
    length = 0
    for free in (minutes.free, minutes.home & minutes.sun, np.ones(rows.size, dtype=bool)):
        length = _run(inside & free & (minutes.minute == start + np.arange(rows.size)))
        if length >= grid.least[pair]:
            break
    slot = {
        "pair": np.array([pair]), "window": minutes.window[:1], "night": minutes.night[:1],
        "start": np.array([start]), "end": np.array([start + length]),
    }  # fmt: skip
    return int(with_chances(grid.inputs, grid.modes, grid.track, slot, shorten=True).end[0])


def _run(free: BoolArray) -> int:
    """How many are true from the first on; `free` is (n,)."""
    stops = np.flatnonzero(~free)
    return int(stops[0]) if stops.size else free.size


def _moved(own: Sequence[Chosen], slot: Candidates, instead: str) -> Chosen | None:
    """The partner's slot that moves here: the one named, else one that waits for its answer and overlaps."""
    if instead:
        return next((one for one in own if one.label == instead), None)
    start, end = int(slot.start[0]), int(slot.end[0])
    over = [one for one in own if one.start < end and one.end > start and one.state != CONFIRMED]
    return over[0] if over else None


def _operator(ground: Ground, pair: int) -> str:
    """Who at home works it: the first who still wants a contact and has none agreed."""
    grid, held = ground.grid, ground.agenda.commitments
    agreed = {one.operator for one in ground.ahead(pair) if one.state == CONFIRMED}
    wanting = [one for one in grid.operators if held.wanted(grid, pair, one) > 0]
    return next((one for one in wanting if one not in agreed), (*wanting, *grid.operators)[0])


def _label(ground: Ground, pair: int, instant: dt.datetime) -> str:
    """The letter under which the time was told already, else one that was never used."""
    grid, agenda = ground.grid, ground.agenda
    call = grid.inputs.partners[pair].call
    known = [one for one in grid.inputs.record.answers if one.partner == call and one.start_utc == instant]
    spent = {*agenda.commitments.spent, *((call, one.label) for one in agenda.slots if one.pair == pair)}
    return next((one.label for one in known if one.label), "") or next_label(call, spent)


def _against(
    ground: Ground, slot: Kept, home: EndThen, clashes: Sequence[Clash], others: Sequence[Chosen]
) -> tuple[Against, ...]:
    """What stands against it, each once."""
    grid, policy = ground.grid, ground.grid.inputs.season.policy
    broken = {one.rule for one in rules_broken_by(grid, slot)}
    is_up = grid.rows_of(slot.pair, slot.start, slot.start + 1).size > 0
    promised = [one for one in others if is_promised(ground, one)]
    here = sum(one.night == slot.night for one in promised)
    nights = {one.night for one in promised}
    found = {
        Against.MOON: not is_up,
        Against.NO_MODE: grid.modes[slot.pair] is None,
        Against.TAKEN: any(one.promised for one in clashes),
        Against.HOME_NOT_FREE: home.free is not Free.INSIDE_HOURS,
        Against.SUN: is_up and Rule.SUN in broken,
        Against.WEAK: is_up and grid.modes[slot.pair] is not None and Rule.CHANCE in broken,
        Against.NIGHT_FULL: here >= policy.maximum_slots_per_night,
        Against.NIGHTS_USED: slot.night not in nights and len(nights) >= policy.maximum_nights,
        Against.ARRIVAL: not arrives(ground, slot.slot, others).all(),
    }
    return tuple(what for what, holds in found.items() if holds)
