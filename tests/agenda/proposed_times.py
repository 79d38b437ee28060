"""Grounds on which times are judged, shared by the rooms that judge and tell: the demo's March on one survey."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

from pipeline.agenda.agenda import make_agenda
from pipeline.agenda.proposal import Judged, judge_time
from pipeline.agenda.proposal_ground import Ground
from pipeline.agenda.slot_grid import SlotGrid, make_slot_grid
from pipeline.pairs.survey import Survey
from pipeline.record.inputs import Inputs
from tests.agenda.slot_grids import march_inputs
from tests.plan.months import survey_of

LUMME = "QF4LUM"


def utc(day: int, hour: int, minute: int = 0) -> dt.datetime:
    return dt.datetime(2027, 3, day, hour, minute, tzinfo=dt.UTC)


@lru_cache(maxsize=1)
def march_survey() -> Survey:
    return survey_of(march_inputs())


def grid_of(inputs: Inputs) -> SlotGrid:
    found = march_survey()
    return make_slot_grid(inputs, found.period, found.windows, found.samples, found.modes)


def ground_of(inputs: Inputs) -> Ground:
    """March under other wishes, hours, policy or record, on one survey."""
    grid = grid_of(inputs)
    return Ground(march_survey(), grid, make_agenda(grid))


@lru_cache(maxsize=1)
def plain() -> Ground:
    return ground_of(march_inputs())


def judged_at(ground: Ground, call: str, instant: dt.datetime, instead: str = "") -> Judged:
    return judge_time(ground, ground.grid.inputs.place_of(call), instant, instead)


def judged_with(call: str, instant: dt.datetime, inputs: Inputs) -> Judged:
    return judged_at(ground_of(inputs), call, instant)
