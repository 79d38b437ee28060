"""A plan with one of its nights planned again at the site: its slot grid made anew, its agenda exchanged.

From a finished plan and what happened; the search itself is the agenda's (`agenda.replan`).
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass

from pipeline.agenda.replan import Change, Slip, replan_night
from pipeline.agenda.slot_grid import make_slot_grid
from pipeline.plan.plan import Plan


@dataclass(frozen=True)
class ReplannedPlan:
    """The plan with the night's new slots, and what changed."""

    plan: Plan
    changes: tuple[Change, ...]


def replan(plan: Plan, night: dt.date, slip: Slip) -> ReplannedPlan:
    """The plan with that night planned again; the other nights' slots stand as they are, without other times."""
    grid = make_slot_grid(plan.inputs, plan.period, plan.windows, plan.samples, plan.modes)
    again = replan_night(grid, plan.agenda, night, slip)
    return ReplannedPlan(
        dataclasses.replace(plan, agenda=again.agenda, alternatives=plan.alternatives.iloc[:0]), again.changes
    )
