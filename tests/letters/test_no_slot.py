"""What a partner without a slot is told: the cause that the plan has found, and nothing of others."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pytest

from pipeline.absence.why_not import partners_without_slot
from pipeline.agenda.agenda import make_agenda
from pipeline.inputs.model import DateRange, Hours
from pipeline.letters.no_slot import no_slot_words
from pipeline.record.inputs import Inputs
from tests.agenda.slot_grids import answer, grid_of, march, march_inputs, only_wanted, with_partner, with_record

CALL = "QZ5KAR"


def _declined() -> Inputs:
    """Every time at which it could be worked is declined."""
    inputs = march_inputs()
    grid = grid_of(inputs)
    mine = grid.slots.take(np.flatnonzero(grid.slots.pair == grid.pair_of(CALL)))
    start = dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(minutes=int(mine.start.min()))
    return with_record(inputs, (answer(CALL, start, "declined", "A", int(mine.end.max() - mine.start.min())),))


def _away() -> Inputs:
    dates = DateRange(dt.date(2027, 2, 1), dt.date(2027, 4, 9))
    return with_partner(march_inputs(), CALL, unavailable_dates=(dates,))


def _hours() -> Inputs:
    return with_partner(march_inputs(), CALL, available=(Hours(("mon",), dt.time(4), dt.time(5)),))


@pytest.mark.parametrize(
    ("inputs", "told"),
    [(_declined, "did not suit you"), (_away, "on dates when you are away"), (_hours, "do not meet")],
)
def test_the_cause_is_told(inputs: object, told: str) -> None:
    assert callable(inputs)
    grid = grid_of(only_wanted(inputs(), CALL))
    plan = march()
    absences = partners_without_slot(grid, make_agenda(grid), plan.no_windows)
    plan = dataclasses.replace(plan, absences=absences)
    words = no_slot_words(plan.for_partner(CALL))
    assert told in words
    assert not [one.call for one in plan.inputs.partners if one.call in words]
