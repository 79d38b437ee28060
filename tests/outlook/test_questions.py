"""The one question: each value against the season with figure, skyline or hours really stated in the file."""

from __future__ import annotations

import dataclasses
from functools import cache

import numpy as np
import pytest

from pipeline.absence.changes import changed_inputs
from pipeline.absence.remedies import LargerDish, MorePower
from pipeline.absence.upgrades import alone
from pipeline.agenda.agenda import Agenda
from pipeline.agenda.contacts import contacts_of
from pipeline.agenda.slot_grid import SlotGrid, make_slot_grid
from pipeline.inputs.lengths import AssumedSkyline
from pipeline.outlook.questions import LEAST_CONTACTS, NARROW_HOURS, Thing, questions_for_partners
from pipeline.pairs.equipment import beam_of
from pipeline.pairs.survey import make_survey
from pipeline.record.model import CONFIRMED, Correction
from pipeline.windows.span import Span
from tests.agenda.slot_grids import agenda_of, grid_of, march, march_inputs, with_partner

CALL = "QT8NUI"


@cache
def ground() -> tuple[SlotGrid, Agenda]:
    grid, agenda, _ = agenda_of(march_inputs())
    return grid, agenda


def asked(grid: SlotGrid, agenda: Agenda, call: str = CALL) -> dict[Thing, float]:
    found = questions_for_partners(grid, agenda)[grid.pair_of(call)]
    return {one.thing: one.contacts for one in found}


def own(agenda: Agenda, pair: int) -> list:
    return [one for one in agenda.slots if one.pair == pair]


@pytest.mark.parametrize(
    ("thing", "remedies"),
    [
        # Half as many watts again as half of them, and the same in gain: nine in ten of 3 dB either way.
        (Thing.POWER, [MorePower("partner", 30.0 * 10.0 ** (sign * 0.12815515655 * 3.0)) for sign in (-1, 1)]),
        (Thing.ANTENNA, [LargerDish("partner", 1.8 * 10.0 ** (sign * 0.06407757828 * 3.0)) for sign in (-1, 1)]),
    ],
)
def test_a_figure_is_worth_what_its_two_ends_differ_by(thing: Thing, remedies: list) -> None:
    grid, agenda = ground()
    pair, ends = grid.pair_of(CALL), []
    (slot,) = own(agenda, pair)
    night = grid.period.dates[slot.night]
    for remedy in remedies:
        inputs = alone(changed_inputs(grid.inputs, pair, remedy), pair)
        seen = make_survey(inputs, Span(night, night, grid.period.zone), lambda _: None)
        again = make_slot_grid(inputs, seen.period, seen.windows, seen.samples, seen.modes)
        ends.append(float(again.slots_at(0, [(slot.start, slot.end)]).chance_met[0]))
    # A dish of other size has another beam too: what it sees of ground and Moon differs a little.
    near = 0.002 if thing is Thing.POWER else 0.01
    assert asked(grid, agenda)[thing] == pytest.approx(ends[1] - ends[0], abs=near)
    assert ends[1] - ends[0] > LEAST_CONTACTS


def test_hours_are_worth_what_others_would_lose_and_open() -> None:
    grid, agenda = ground()
    pair = grid.pair_of(CALL)
    (slot,) = own(agenda, pair)
    narrow, wide = (grid_of(with_partner(grid.inputs, CALL, available=one)) for one in (NARROW_HOURS, "always"))
    assert not narrow.stands(pair, slot.start, slot.end)
    best = [one.slots.chance_met[one.slots.pair == pair].max() for one in (grid, wide)]
    value = float(slot.slot.chance_met[0]) + max(best[1] - best[0], 0.0)
    assert asked(grid, agenda)[Thing.HOURS] == pytest.approx(value, abs=0.01)
    # Who has agreed is there.
    agreed = dataclasses.replace(agenda, slots=tuple(dataclasses.replace(one, state=CONFIRMED) for one in agenda.slots))
    assert Thing.HOURS not in asked(grid, agreed)
    # Without a slot it is the best place that counts, and there are good ones in the evening.
    none = dataclasses.replace(agenda, slots=tuple(one for one in agenda.slots if one.pair != pair))
    evening = narrow.slots.chance_met[narrow.slots.pair == pair].max()
    assert evening > 0.5
    assert asked(grid, none).get(Thing.HOURS, 0.0) == pytest.approx(max(best) - evening, abs=LEAST_CONTACTS)


def test_a_sky_is_worth_the_slots_between_a_low_and_a_high_skyline() -> None:
    """Against the plan's samples: each slot's least elevation less half a beam, under two skylines."""
    grid, agenda, table = agenda_of(march_inputs(assumed_skyline=AssumedSkyline(15.0, 30.0)))
    for call in (CALL, "QG8FEN", "QZ5KAR"):
        samples = march().samples
        half = beam_of(grid.inputs.partner(call), "3cm", 10368.1).beamwidth_deg / 2.0
        ends = []
        for skyline_deg in (7.5, 30.0):
            kept = []
            for row, slot in zip(table.itertuples(), agenda.slots, strict=True):
                edges = row.slot_start_utc.floor("5min"), row.slot_end_utc.ceil("5min")
                mine = samples[(samples["partner"] == call) & samples["time_utc"].between(*edges)]
                above = (mine["partner_elevation_deg"] + mine["partner_refraction_deg"]).min() - half
                if row.partner == call and above >= skyline_deg:
                    known = dataclasses.replace(slot.slot, clear=np.ones(1))
                    kept.append(dataclasses.replace(slot, slot=known))
            ends.append(contacts_of(kept, grid.inputs.wishes))
        value = ends[0] - ends[1]
        assert asked(grid, agenda, call).get(Thing.SKY, 0.0) == pytest.approx(value if value > 0.02 else 0.0, abs=1e-9)
    assert asked(grid, agenda)[Thing.SKY] > 0.5


def test_the_decisive_one_first_and_nobody_else_counts() -> None:
    grid, agenda = ground()
    found = questions_for_partners(grid, agenda)
    assert next(one.thing for one in found[grid.pair_of(CALL)]) is Thing.HOURS
    for pair, questions in enumerate(found):
        values = [one.contacts for one in questions]
        assert values == sorted(values, reverse=True)
        assert all(value >= LEAST_CONTACTS for value in values)
        mine = dataclasses.replace(agenda, slots=tuple(own(agenda, pair)))
        assert questions_for_partners(grid, mine)[pair] == questions


def test_what_is_known_is_not_asked() -> None:
    grid, agenda = ground()
    learnt = Correction(CALL, "3cm", 0.0, 0.0, 1.0, 1.0, "2027-02-01")
    inputs = dataclasses.replace(grid.inputs, record=dataclasses.replace(grid.inputs.record, corrections=(learnt,)))
    assert set(asked(grid_of(inputs), agenda)) == {Thing.HOURS}
    stated = with_partner(grid.inputs, CALL, assumed=(), available="always")
    assert asked(grid_of(stated), agenda) == {}
