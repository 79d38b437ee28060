"""A plan with one of its nights planned again at the site: its slot grid made anew, its agenda exchanged.

From a finished plan and what happened; the search itself is the agenda's (`agenda.replan`).
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from pipeline.agenda.replan import Change, Fate, Slip, replan_night
from pipeline.agenda.slot_grid import make_slot_grid
from pipeline.plan.plan import Plan
from pipeline.plan.views import NUMBER
from pipeline.record.model import Offer


@dataclass(frozen=True)
class ReplannedPlan:
    """The plan with the night's new slots, and what changed."""

    plan: Plan
    changes: tuple[Change, ...]


def replan(plan: Plan, night: dt.date, slip: Slip) -> ReplannedPlan:
    """The plan with that night planned again; the other nights' slots stand as they are, without other times."""
    grid = make_slot_grid(plan.inputs, plan.period, plan.windows, plan.samples, plan.modes)
    again = replan_night(grid, plan.agenda, night, slip)
    agenda = again.agenda.assign(**{NUMBER: _numbers(plan, night, again.agenda)})
    left = plan.alternatives.iloc[:0]
    return ReplannedPlan(dataclasses.replace(plan, agenda=agenda, alternatives=left), again.changes)


def given_up(plan: Plan, night: dt.date, planned: Iterable[Offer]) -> tuple[Change, ...]:
    """Slots that were planned for a night and that its plan of a newer record has no more, nowhere and for nobody."""
    begin, end = plan.period.edges_of(night)
    kept = {(slot.call, slot.label) for slot in plan.night(night).slots}
    return tuple(
        Change(Fate.GIVEN_UP, one.partner, (one.start_utc, one.end_utc))
        for one in planned
        if begin <= one.start_utc < end and (one.partner, one.label) not in kept
    )


def _numbers(plan: Plan, night: dt.date, agenda: pd.DataFrame) -> list[int | None]:
    """The numbers of that night's slots, None on other nights: those of the plan stay, new slots get the next."""
    before = {(slot.call, slot.operator, slot.label): slot.number for slot in plan.slots if slot.night == night}
    last, found = max(before.values(), default=0), list[int | None]()
    for row in agenda.sort_values(["slot_start_utc", "partner"], kind="stable").itertuples():
        key = (str(row.partner), str(row.operator), str(row.label))
        if row.night == night and key not in before:
            last += 1
            before[key] = last
    for row in agenda.itertuples():
        key = (str(row.partner), str(row.operator), str(row.label))
        found.append(before[key] if row.night == night else None)
    return found
