"""Trips: what one, two, three ... set-ups bring, each the best agenda of so many nights.

From the slot grid and the record by the agenda's own search, without the cost of a night (that of hours counts) and
whatever `maximum_nights`; nights of slots agreed are always in, open offers hold nothing. Of a large season so many of
the most promising nights are looked at as stay a small problem.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from pipeline.agenda.agenda import Agenda, make_problem, proposed, slots_on_offer
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.commitments import Kept
from pipeline.agenda.contacts import contacts_of
from pipeline.agenda.milp_model import Choice, Problem
from pipeline.agenda.milp_solve import Limits, choose_by_nights
from pipeline.agenda.notes import TripsAmong
from pipeline.agenda.site_hours import hours_on_site
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.outlook.worth import contacts_in_agenda

# A trip must add so many contacts, weighed by priority and less its hours.
LEAST_ADDED = 0.01
# Among so many slots, by partner and operator, the best of each number of nights is found within a second or two.
MOST_ITEMS = 2_000
# And so many pairs of slots with one partner: one who is up all day with home has as many as a whole season of others.
MOST_PAIRS = 12_000
# A tenth of what the agenda's search may take (`milp_solve.EFFORT`): a second or so.
LIMITS = Limits(effort=10_000)


@dataclass(frozen=True)
class Trips:
    """The best agenda of so many nights; what it has that the one of a trip less has not (sets need not nest).

    `contacts_expected` are not weighed by priority. `chosen` where the agenda has just these nights.
    """

    nights: tuple[dt.date, ...]
    nights_added: tuple[dt.date, ...]
    partners_added: tuple[str, ...]
    contacts_expected: float
    hours_on_site: float
    chosen: bool

    @property
    def count(self) -> int:
        """How many trips."""
        return len(self.nights)


@dataclass(frozen=True)
class _Found:
    nights: tuple[int, ...]
    slots: tuple[Kept, ...]
    value: float


def make_trips(grid: SlotGrid, agenda: Agenda) -> tuple[Trips, ...]:
    """The best agenda of each number of nights, up to the last one that adds anything."""
    # What is over is told on its page; here is asked what further trips bring.
    held = replace(agenda.commitments, kept=tuple(one for one in agenda.commitments.kept if not one.is_over))
    pool = slots_on_offer(grid, held)
    pool = pool.take(np.flatnonzero(np.isin(pool.night, nights_looked_at(grid, agenda, pool))))
    problem, people = make_problem(grid, held, pool, {})
    free, agreed = replace(problem, night_cost=0.0), int(problem.open_nights.sum())

    ended, search = False, choose_by_nights(free, LIMITS)

    def best(nights: int) -> _Found:
        nonlocal ended
        more = nights - agreed
        # Where one search was ended the others would be as long: what is found night by night serves a curve.
        choice = _night_by_night(replace(free, most_nights=more)) if ended else search(more)
        ended = ended or choice.gap > 0.0
        slots = (*held.kept, *proposed(people, pool, choice.taken))
        return _Found(tuple(sorted({one.night for one in slots})), slots, choice.value)

    most = best(_most_nights(problem))
    found: list[_Found] = []
    for nights in range(max(agreed, 1), len(most.nights) + 1):
        if found and most.value - found[-1].value < LEAST_ADDED:
            break
        one = most if nights == len(most.nights) else best(nights)
        # Fewer nights than asked for: the further one adds nothing.
        if len(one.nights) == nights:
            found.append(one)
    while len(found) > 1 and found[-1].value - found[-2].value < LEAST_ADDED:
        found.pop()
    return tuple(_row(grid, agenda, one, before) for one, before in zip(found, [None, *found], strict=False))


def _night_by_night(problem: Problem) -> Choice:
    # Few seasons come to this.
    from pipeline.agenda.large_solve import choose_large

    return choose_large(problem, (), False)


def nights_looked_at(grid: SlotGrid, agenda: Agenda, pool: Candidates) -> tuple[int, ...]:
    """Nights of the pool among which trips are sought: all of a season with few slots and pairs of slots.

    Else as many as hold `MOST_ITEMS` and `MOST_PAIRS`: the agenda's first, those that it would miss most before
    others, then by what their best slots with all partners are worth.
    """
    nights, place = np.unique(pool.night, return_inverse=True)
    each = np.zeros((nights.size, len(grid.inputs.partners)), dtype=np.int64)
    np.add.at(each, (place, pool.pair), 1)
    if _fit(each, len(grid.operators)).all():
        return tuple(nights.tolist())
    best, lost = np.zeros((len(grid.period.dates), len(grid.inputs.partners))), contacts_in_agenda(grid, agenda)
    np.maximum.at(best, (pool.night, pool.pair), pool.chance_met)
    rich = best @ np.array([one.priority for one in grid.inputs.wishes], dtype=float)
    order = np.lexsort((nights, -np.round(rich[nights], 6), -np.round(lost[nights], 6)))
    enough = max(1, int(_fit(each[order], len(grid.operators)).sum()))
    return tuple(sorted(nights[order[:enough]].tolist()))


def _fit(each: npt.NDArray[np.int64], operators: int) -> npt.NDArray[np.bool_]:
    """Whether the nights up to each one, (n,), are few enough slots and pairs; slots by night and partner, (n, p)."""
    so_far = np.cumsum(each, axis=0)
    items, pairs = so_far.sum(axis=1), (so_far**2).sum(axis=1) // 2
    return np.asarray((items * operators <= MOST_ITEMS) & (pairs * operators <= MOST_PAIRS))


def trips_notes(grid: SlotGrid, agenda: Agenda) -> tuple[TripsAmong, ...]:
    """Among how many nights trips were sought, where not all were looked at."""
    nights, among = np.unique(agenda.pool.night).size, len(nights_looked_at(grid, agenda, agenda.pool))
    return () if among == nights else (TripsAmong(among, nights),)


def _most_nights(problem: Problem) -> int:
    return max(int(problem.room.size), int(problem.open_nights.sum()))


def _row(grid: SlotGrid, agenda: Agenda, one: _Found, before: _Found | None) -> Trips:
    dates, calls = grid.period.dates, [station.call for station in grid.inputs.partners]
    had = before or _Found((), (), 0.0)
    pairs, old = ({slot.pair for slot in some.slots} for some in (one, had))
    return Trips(
        nights=_dates(dates, one.nights),
        nights_added=_dates(dates, sorted(set(one.nights) - set(had.nights))),
        partners_added=tuple(calls[pair] for pair in sorted(pairs - old)),
        contacts_expected=contacts_of(one.slots, grid.inputs.wishes),
        hours_on_site=hours_on_site(one.slots, grid.inputs.season.policy.setup_minutes.arrive),
        chosen=set(one.nights) == {slot.night for slot in agenda.slots if not slot.is_over},
    )


def _dates(dates: Sequence[dt.date], nights: Sequence[int]) -> tuple[dt.date, ...]:
    return tuple(dates[night] for night in nights)
