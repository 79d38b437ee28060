"""A slot that was told keeps its time to the minute while a survey changes by a degree, or moves where it fails."""

from __future__ import annotations

import dataclasses
from functools import cache

import pytest

from pipeline.agenda import agenda as agenda_room
from pipeline.agenda.agenda import Agenda, make_agenda
from pipeline.agenda.alternatives import alternatives_of
from pipeline.agenda.commitments import make_commitments
from pipeline.agenda.notes import KeptAsTold, Note, OfferMoved
from pipeline.agenda.slot_grid import SlotGrid, make_slot_grid
from pipeline.record.model import Offer, OfferedTime
from pipeline.windows.instants import instant_of_minute
from pipeline.wording.agenda import note_words
from tests.agenda.slot_grids import fortnight, with_home, with_partner, with_record
from tests.plan.months import survey_of

CALL = "QZ5KAR"


@cache
def ground(degrees: float) -> SlotGrid:
    """Two weeks with one partner, home's skyline surveyed so many degrees higher."""
    inputs = fortnight(CALL)
    points = tuple(dataclasses.replace(p, elevation_deg=p.elevation_deg + degrees) for p in inputs.home.horizon)
    found = survey_of(inputs := with_home(inputs, horizon=points))
    return make_slot_grid(inputs, found.period, found.windows, found.samples, found.modes)


def told(row: int, *others: int) -> Offer:
    """A slot of the lower skyline as it was sent, with other times."""
    slots = ground(0.0).slots
    edges = [tuple(map(instant_of_minute, (int(slots.start[k]), int(slots.end[k])))) for k in (row, *others)]
    more = tuple(OfferedTime(label, *one) for label, one in zip("BC", edges[1:], strict=False))
    return Offer("a@x", CALL, "QM7TOR", "A", *edges[0], 0, False, alternatives=more)


def planned(degrees: float, offer: Offer) -> Agenda:
    """The agenda after the survey."""
    grid = ground(degrees)
    return make_agenda(dataclasses.replace(grid, inputs=with_record(grid.inputs, (), (offer,))))


def stays(agenda: Agenda, offer: Offer) -> bool:
    """Whether the slot has its time to the minute and nothing is said of a move."""
    slot = next(one for one in agenda.slots if one.label == "A")
    same = (instant_of_minute(slot.start), instant_of_minute(slot.end)) == (offer.start_utc, offer.end_utc)
    assert same != (OfferMoved(CALL, "A") in agenda.notes)
    return same


def kept_notes(agenda: Agenda) -> list[Note]:
    return [one for one in agenda.notes if isinstance(one, KeptAsTold)]


# Of the slot's first minutes so many lose the Moon, by the survey of `ground`: a first minute and a seventh cost a
# hundredth and three hundredths of a contact, a twelfth six.
@pytest.mark.parametrize(("degrees", "minutes"), [(0.0, 0), (1.0, 2), (2.0, 7)])
def test_a_slot_told_keeps_its_time_where_a_survey_costs_it_minutes(degrees: float, minutes: int) -> None:
    offer = told(0)
    agenda = planned(degrees, offer)
    assert stays(agenda, offer)
    when = offer.start_utc.astimezone(ground(0.0).period.zone)
    assert kept_notes(agenda) == ([KeptAsTold(CALL, "A", when, minutes)] if minutes else [])


def test_the_operator_reads_that_it_stays_and_at_what_cost() -> None:
    [note] = kept_notes(planned(2.0, told(0)))
    assert note_words(note).endswith("stays as told: the Moon is clear for all of it but 7 minutes.")
    assert note_words(dataclasses.replace(note, minutes_short=1)).endswith("but a minute.")


def test_it_moves_where_that_gains_more_than_a_trifle() -> None:
    offer = told(0)
    assert not stays(planned(3.0, offer), offer)
    assert not kept_notes(planned(3.0, offer))


def test_it_moves_where_a_quarter_of_an_hour_is_lost_at_whatever_gain(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(agenda_room, "LEAST_GAIN", 1.0)
    offer = told(0)
    commitments, pool = make_commitments(ground(3.0)), ground(3.0).slots
    times = (int(ground(0.0).slots.start[0]), int(ground(0.0).slots.end[0]))
    assert agenda_room.slot_as_told(ground(3.0), commitments, pool, 0, times).start.size == 1
    assert agenda_room.slot_as_told(ground(4.0), commitments, ground(4.0).slots, 0, times).start.size == 0
    assert not stays(planned(4.0, offer), offer)


def test_it_moves_where_somebody_is_not_there_for_a_minute() -> None:
    grid, offer = ground(1.0), told(0)
    rows = grid.rows_of(0, int(grid.slots.start[0]) + 30, int(grid.slots.start[0]) + 31)
    partner = grid.minutes.partner.copy()
    partner[rows] = False
    start, end = (int(ground(0.0).slots.start[0]), int(ground(0.0).slots.end[0]))
    assert grid.without_moon(0, start, end) == (2, 0)
    away = dataclasses.replace(grid, minutes=dataclasses.replace(grid.minutes, partner=partner))
    assert away.without_moon(0, start, end) is None
    record = with_record(with_partner(grid.inputs, CALL), (), (offer,))
    found = agenda_room.slot_as_told(
        dataclasses.replace(away, inputs=record), make_commitments(grid), grid.slots, 0, (start, end)
    )
    assert not found.start.size


def test_another_time_that_was_told_stays_by_the_same_rule() -> None:
    """The slot itself begins 75 minutes later; its other time loses two minutes, then too many."""
    for degrees, is_there in ((1.0, True), (4.0, False)):
        grid = ground(degrees)
        grid = dataclasses.replace(grid, inputs=with_record(grid.inputs, (), (told(5, 0),)))
        found = alternatives_of(grid, make_agenda(grid))
        assert [one.label for one in found if one.instead_of == "A"] == (["B"] if is_there else []), degrees
