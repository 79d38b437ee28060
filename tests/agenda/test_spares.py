"""A second slot with a partner of whom one contact is wanted: held for the first's failing, and not asked for twice.

Rules against cases made by hand; the agenda's choice on the demo's March.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from pipeline.agenda import agenda as agenda_room
from pipeline.agenda.agenda import LEAST_GAIN, LEAST_GAIN_AFTER_NO
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.contacts import chance_of_one
from pipeline.agenda.spares import held_for, starts_before
from pipeline.inputs.model import Partner
from pipeline.record.model import CONFIRMED, DECLINED, Answer
from pipeline.windows.instants import instant_of_minute
from pipeline.wording.agenda import only_if_words
from tests.agenda.slot_grids import agenda_of, answer, grid_of, march_inputs, only_wanted, with_record

DAY = dt.datetime(2027, 3, 6, tzinfo=dt.UTC)


def at(hour: int) -> dt.datetime:
    return DAY + dt.timedelta(hours=hour)


def test_the_later_slot_is_held_for_the_earlier_of_its_operator() -> None:
    slots = [("B", "QM7TOR", at(1)), ("A", "QM7TOR", at(3)), ("C", "QM7ANN", at(4)), ("D", "QM7TOR", at(5))]
    assert held_for(slots, 1) == {"A": "B", "D": "A"}
    assert held_for(slots, 2) == {}
    assert held_for(slots[:1], 1) == {}


def test_of_the_agendas_rows_those_ahead_count() -> None:
    rows = [
        {"partner": "QF4LUM", "label": label, "operator": "QM7TOR", "slot_start_utc": at(hour), "slot_outcome": outcome}
        for label, hour, outcome in (("A", 1, "failed"), ("B", 3, ""), ("C", 5, ""))
    ]
    assert starts_before(rows, [Partner("QF4LUM", 1, 1.0)]) == {("QF4LUM", "C"): at(3)}
    assert only_if_words(None, at(5), dt.UTC) == ""
    assert only_if_words(at(3), at(5), dt.UTC) == "only if 03:00 fails"
    assert only_if_words(at(3), at(30), dt.UTC) == "only if Sat 6 Mar 03:00 fails"


@pytest.mark.parametrize(("much", "asked_again"), [(0.25, False), (0.1, True)])
def test_who_refused_a_second_slot_of_a_night_is_asked_again_only_for_much(
    monkeypatch: pytest.MonkeyPatch, much: float, asked_again: bool
) -> None:
    """The weakest slot of a night is agreed: another would add 0.29 contacts, and once that is refused the next 0.1."""
    monkeypatch.setattr(agenda_room, "LEAST_GAIN_AFTER_NO", much)
    inputs = only_wanted(march_inputs(night_cost=0.0, hour_cost=0.0, maximum_nights=1, presence=1.0), "QX6ICE")
    grid = grid_of(inputs)
    slots = grid.slots.take(np.flatnonzero((grid.slots.pair == grid.pair_of("QX6ICE")) & (grid.slots.night == 15)))
    slots = slots.take(np.flatnonzero(slots.chance >= grid.least_chance))
    agreed = slots.take(np.array([np.argmin(slots.chance_met)]))
    yes = line("QX6ICE", agreed, CONFIRMED, "A")
    _, agenda, _ = agenda_of(with_record(inputs, (yes,)))
    assert len(agenda.slots) == 2
    second = next(one for one in agenda.slots if one.label != "A")
    gain = chance_of_one([one.slot for one in agenda.slots]) - chance_of_one([agreed])
    assert gain >= LEAST_GAIN
    no = line("QX6ICE", second.slot, DECLINED, "B")
    _, agenda, _ = agenda_of(with_record(inputs, (yes, no)))
    assert len(agenda.slots) == 1 + asked_again
    assert (LEAST_GAIN, LEAST_GAIN_AFTER_NO) == (0.05, 0.25)


def line(call: str, slot: Candidates, state: str, label: str) -> Answer:
    start, minutes = instant_of_minute(int(slot.start[0])), int(slot.end[0] - slot.start[0])
    return answer(call, start, state, label, minutes=minutes)
