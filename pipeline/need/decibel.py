"""What one decibel is worth: contacts of the whole agenda with every margin a decibel better, and a decibel worse.

Once with one partner, both ways, and once with everybody; the agenda is chosen anew each time, agreed slots stay.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.agenda.agenda import make_agenda
from pipeline.agenda.commitments import make_commitments
from pipeline.agenda.contacts import contacts_of
from pipeline.agenda.slot_grid import make_slot_grid
from pipeline.pairs.survey import Survey
from pipeline.record.inputs import Inputs

STEP_DB = 1.0
MARGINS = ("margin_at_home_db", "margin_at_partner_db")


@dataclass(frozen=True)
class DecibelWorth:
    """Contacts to expect of the agenda with one decibel less, as things stand, and with one more."""

    less: float
    now: float
    more: float


def decibel_worth(inputs: Inputs, survey: Survey, call: str) -> tuple[DecibelWorth, DecibelWorth]:
    """Of the ways to and from one partner, and of those of all; the agenda as it stands is made once."""
    now = _contacts(inputs, survey, call, 0.0)
    worth = (
        DecibelWorth(_contacts(inputs, survey, whose, -STEP_DB), now, _contacts(inputs, survey, whose, STEP_DB))
        for whose in (call, None)
    )
    return next(worth), next(worth)


def is_wanted(inputs: Inputs, survey: Survey, call: str) -> bool:
    """Whether anybody at home still wants a contact with a partner."""
    grid = make_slot_grid(inputs, survey.period, survey.windows, survey.samples, survey.modes)
    return bool(make_commitments(grid).pairs_wanted(grid)[inputs.place_of(call)])


def _contacts(inputs: Inputs, survey: Survey, call: str | None, more_db: float) -> float:
    samples = survey.samples.copy()
    rows = samples["partner"].notna() if call is None else samples["partner"] == call
    for name in MARGINS:
        samples[name] = samples[name].where(~rows, samples[name] + more_db)
    grid = make_slot_grid(inputs, survey.period, survey.windows, samples, survey.modes)
    return contacts_of(make_agenda(grid, bounded=False).slots, inputs.wishes)
