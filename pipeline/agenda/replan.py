"""The rest of one night planned again at the site, without internet: what has ended goes, what was agreed stays.

By the same search as the agenda's (`milp_solve`), over this night's possible slots alone. A slot of the plan that can
stay where it is stays there, since its partner knows the time; freed time is given to whoever is worth most.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

import numpy as np
import pandas as pd

from pipeline.agenda.agenda import Agenda, Chosen, join, make_problem, slots_on_offer
from pipeline.agenda.agenda_table import agenda_table
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.commitments import (
    CONFIRMED,
    PROPOSED,
    Commitments,
    Kept,
    make_commitments,
    next_label,
)
from pipeline.agenda.milp_solve import Problem, choose
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.windows.instants import instant_of_minute, minutes_of

# Whom a contact is made with, and under which of home's calls.
Person = tuple[str, str]
Stretch = tuple[dt.datetime, dt.datetime]


@dataclass(frozen=True)
class Slip:
    """What happened: slots that end by `after` are over, `dropped` calls are out, `tried` says whether it worked."""

    after: dt.datetime | None = None
    dropped: frozenset[str] = frozenset()
    tried: Mapping[Person, bool] = dataclasses.field(default_factory=dict)


class Fate(Enum):
    """What became of a slot."""

    DROPPED = "dropped"
    WORKED = "worked"
    FAILED = "failed"
    ENDED = "ended"
    NO_PLACE = "no place"
    GIVEN_UP = "given up"
    MOVED = "moved"
    NEW = "new"
    NOTHING = "nothing"

    @property
    def was_tried(self) -> bool:
        """Whether the slot is behind, so that the log tells or is still to tell how it went."""
        return self in (Fate.WORKED, Fate.FAILED, Fate.ENDED)


@dataclass(frozen=True)
class Change:
    """A slot's fate and its times in UTC before and after; NOTHING stands alone and names nobody."""

    fate: Fate
    partner: str = ""
    before: Stretch | None = None
    after: Stretch | None = None


@dataclass(frozen=True)
class Replanned:
    """The agenda's table with the night's new slots, and what changed."""

    agenda: pd.DataFrame
    changes: tuple[Change, ...]


@dataclass(frozen=True)
class _Sorted:
    """The agenda's slots as the slip leaves them; `loose` may move, `over` were given up or have ended."""

    stay: tuple[Kept, ...]
    loose: tuple[Kept, ...]
    over: tuple[Kept, ...]
    elsewhere: tuple[Kept, ...]


def replan_night(grid: SlotGrid, agenda: pd.DataFrame, night: dt.date, slip: Slip) -> Replanned:
    """The agenda's table with that night planned again; the other nights' slots stand as they are."""
    index = grid.period.dates.index(night)
    now = None if slip.after is None else minutes_of(slip.after)
    found = _sort(grid, agenda, index, now, slip)
    held = _held(grid, found)
    pool, keep = _pool(grid, held, found, index, now, slip)
    problem, people = make_problem(grid, held, pool, keep)
    choice = choose(_only(grid, problem, index, found, slip), bounded=False)
    new = [(people[number], pool.take(np.array([slot]))) for number, slot in choice.taken]
    slots = _labelled(grid, agenda, held, found, new)
    made = Agenda(tuple(sorted(slots, key=lambda one: (one.start, one.pair))), held, pool, choice, (), ())
    return Replanned(agenda_table(grid, made), tuple(_changes(grid, found, slots, index, slip)))


def _person(grid: SlotGrid, one: Kept | Chosen) -> Person:
    return grid.inputs.partners[one.pair].call, one.operator


def _sort(grid: SlotGrid, agenda: pd.DataFrame, index: int, now: int | None, slip: Slip) -> _Sorted:
    piles: dict[str, list[Kept]] = {"stay": [], "loose": [], "over": [], "elsewhere": []}
    for row in agenda.to_dict("records"):
        pair = grid.pair_of(row["partner"])
        assert pair is not None  # the agenda is made of the season's partners
        times = [minutes_of(row[f"slot_{edge}_utc"].to_pydatetime(warn=False)) for edge in ("start", "end")]
        slot = grid.slots_at(pair, [(times[0], times[1])])
        one = Kept(pair, row["operator"], row["label"], row["state"], slot, outcome=row["slot_outcome"])
        tonight = row["night"] == grid.period.dates[index]
        if not tonight:
            piles["elsewhere"].append(one)
        elif (now is not None and one.end <= now) or row["partner"] in slip.dropped or _done(grid, one, slip):
            piles["over"].append(one)
        elif one.is_over or one.state == CONFIRMED or (now is not None and one.start < now):
            piles["stay"].append(one)
        else:
            piles["loose"].append(one)
    return _Sorted(**{name: tuple(pile) for name, pile in piles.items()})


def _done(grid: SlotGrid, one: Kept, slip: Slip) -> bool:
    return slip.tried.get(_person(grid, one), False)


def _failed(grid: SlotGrid, one: Kept, slip: Slip) -> bool:
    return slip.tried.get(_person(grid, one)) is False


def _held(grid: SlotGrid, found: _Sorted) -> Commitments:
    """What the search must respect: the record's refusals and other engagements, and the slots that stay."""
    record = make_commitments(grid)
    others = set(record.busy) - {(one.start, one.end) for one in record.kept}
    stay = [one for one in (*found.stay, *found.elsewhere) if not one.is_over]
    labels = {
        (grid.inputs.partners[one.pair].call, one.label)
        for one in (*found.stay, *found.loose, *found.over, *found.elsewhere)
    }
    return dataclasses.replace(
        record,
        kept=(*found.stay, *found.elsewhere),
        busy=(*others, *((one.start, one.end) for one in stay)),
        open_offers=(),
        promised=(),
        spent=record.spent | labels,
    )


def _pool(
    grid: SlotGrid, held: Commitments, found: _Sorted, index: int, now: int | None, slip: Slip
) -> tuple[Candidates, dict[tuple[int, str, int], Any]]:
    """This night's possible slots, and which of them are slots of the plan that should stay."""
    # An attempt that is over is not repeated unless the log says that it failed.
    missed = {_person(grid, one) for one in found.over if not _failed(grid, one, slip)}
    out = {
        pair
        for pair, station in enumerate(grid.inputs.partners)
        if station.call in slip.dropped
        or all(
            (station.call, operator) in missed or slip.tried.get((station.call, operator), False)
            for operator in grid.operators
        )
    }
    all_slots = grid.slots
    mine = (all_slots.night == index) & ~np.isin(all_slots.pair, sorted(out))
    if now is not None:
        mine &= all_slots.start >= now
    pool = slots_on_offer(grid, held, all_slots.take(np.flatnonzero(mine)))
    keep: dict[tuple[int, str, int], Any] = {}
    for one in found.loose:
        same = np.flatnonzero((pool.pair == one.pair) & (pool.start == one.start) & (pool.end == one.end))
        if not same.size:
            more = slots_on_offer(grid, held, one.slot)
            if not more.start.size:
                continue
            same = np.array([pool.start.size])
            pool = join(pool, more)
        keep[one.pair, one.operator, int(same[0])] = None
    return pool, keep


def _only(grid: SlotGrid, problem: Problem, index: int, found: _Sorted, slip: Slip) -> Problem:
    """The same problem with this night in use and no other open."""
    nights, most = problem.room.size, grid.inputs.season.policy.maximum_slots_per_night
    tonight = np.arange(nights) == index
    # Slots that have ended were work as well; dropped ones were none, and one that failed may be tried once more.
    now = None if slip.after is None else minutes_of(slip.after)
    ended = sum(1 for one in found.over if now is not None and one.end <= now and not _failed(grid, one, slip))
    room = max(most - len(found.stay) - ended, 0)
    # Who is at the site has arrived: only hours from now on count.
    hours = problem.hours if problem.hours is None or now is None else problem.hours.manned_at(index, now)
    return dataclasses.replace(
        problem, room=np.where(tonight, room, 0), open_nights=tonight, most_nights=0, hours=hours
    )


def _labelled(
    grid: SlotGrid,
    agenda: pd.DataFrame,
    held: Commitments,
    found: _Sorted,
    new: list[tuple[tuple[int, str], Candidates]],
) -> list[Chosen]:
    """Letters last for life: who moves keeps theirs, who is new gets one never used."""
    uids = {(row["partner"], row["label"]): row["uid"] for row in agenda.to_dict("records")}
    calls = [station.call for station in grid.inputs.partners]
    slots = [
        Chosen(k.pair, k.operator, k.label, k.state, k.slot, uids[calls[k.pair], k.label], outcome=k.outcome)
        for k in (*found.stay, *found.elsewhere)
    ]
    spent, before = set(held.spent), list(found.loose)
    for (pair, operator), slot in sorted(new, key=lambda one: int(one[1].start[0])):
        own = [one for one in before if (one.pair, one.operator) == (pair, operator)]
        old = next((one for one in own if one.start == slot.start[0]), own[0] if own else None)
        if old is None:
            label = next_label(calls[pair], spent)
            spent.add((calls[pair], label))
            slots.append(Chosen(pair, operator, label, PROPOSED, slot))
            continue
        before.remove(old)
        same = (old.start, old.end) == (int(slot.start[0]), int(slot.end[0]))
        state = old.state if same else PROPOSED
        slots.append(Chosen(pair, operator, old.label, state, slot, uids[calls[pair], old.label]))
    return slots


def _changes(grid: SlotGrid, found: _Sorted, slots: list[Chosen], index: int, slip: Slip) -> list[Change]:
    """Who goes, who moves, who is new."""
    calls = [station.call for station in grid.inputs.partners]
    changes = [Change(_fate(grid, one, slip), calls[one.pair], before=_span(one)) for one in found.over]
    old = {(one.pair, one.operator, one.label): one for one in (*found.loose, *found.stay)}
    now = {(one.pair, one.operator, one.label): one for one in slots if one.night == index}
    for key, was in old.items():
        if key not in now:
            changes.append(Change(Fate.NO_PLACE, calls[was.pair], before=_span(was)))
        elif _span(now[key]) != _span(was):
            changes.append(Change(Fate.MOVED, calls[was.pair], before=_span(was), after=_span(now[key])))
    changes += [Change(Fate.NEW, calls[one.pair], after=_span(one)) for key, one in now.items() if key not in old]
    return changes or [Change(Fate.NOTHING)]


def _fate(grid: SlotGrid, one: Kept, slip: Slip) -> Fate:
    """Why a slot is over."""
    if grid.inputs.partners[one.pair].call in slip.dropped:
        return Fate.DROPPED
    if _done(grid, one, slip):
        return Fate.WORKED
    return Fate.FAILED if _failed(grid, one, slip) else Fate.ENDED


def _span(one: Kept | Chosen) -> Stretch:
    return instant_of_minute(one.start), instant_of_minute(one.end)
