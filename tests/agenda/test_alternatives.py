"""Other times for a slot: whoever takes which of them, no rule breaks; what a letter has told stays.

The outside here is the record: every choice is put into it as agreed, and what the rules then say of it is compared.
"""

from __future__ import annotations

import dataclasses
import itertools
import random

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from pipeline.agenda.agenda import Agenda, Chosen, make_agenda
from pipeline.agenda.alternatives import Alternative, _Search, alternatives_of
from pipeline.agenda.commitments import make_commitments, uid_of
from pipeline.agenda.contacts import contacts_of
from pipeline.agenda.notes import KeptAsAgreed, TooManyNights, TooManySlots
from pipeline.agenda.site_hours import hours_on_site
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.inputs.lengths import SlotMinutes
from pipeline.record.inputs import Inputs
from pipeline.record.model import CONFIRMED, DECLINED, TENTATIVE, Answer, Offer, OfferedTime, Record
from pipeline.windows.instants import instant_of_minute
from tests.agenda.slot_grids import grid_of, march_inputs, only_wanted
from tests.plan.months import with_policy

FEW = ("QG8FEN", "QZ5KAR", "QT8NUI")


def with_choices(inputs: Inputs, choices: int) -> Inputs:
    letters = dataclasses.replace(inputs.season.letters, choices=choices)
    return dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, letters=letters))


def roomy(*calls: str, choices: int = 2, **policy: object) -> SlotGrid:
    """The demo's March with few partners and room for every choice."""
    policy = {"maximum_slots_per_night": 4, "latest_hour_on_work_nights": None} | policy
    inputs = march_inputs(**policy)
    return grid_of(with_choices(only_wanted(inputs, *calls) if calls else inputs, choices))


def held_by(grid: SlotGrid, answers: tuple[Answer, ...] = (), offers: tuple[Offer, ...] = ()) -> SlotGrid:
    return dataclasses.replace(grid, inputs=dataclasses.replace(grid.inputs, record=Record(answers, offers)))


def line(grid: SlotGrid, one: Chosen | Alternative, state: str = CONFIRMED) -> Answer:
    """The record's line where this time is agreed."""
    label = one.instead_of if isinstance(one, Alternative) else one.label
    edges = instant_of_minute(one.start), instant_of_minute(one.end)
    return Answer(grid.inputs.partners[one.pair].call, label, *edges, state, one.operator, 1)


def sent(grid: SlotGrid, agenda: Agenda, others: tuple[Alternative, ...]) -> tuple[Offer, ...]:
    """Everything as it stands in the ledger once it is sent."""
    return tuple(
        Offer(
            uid_of(grid, one.pair, one.label), grid.inputs.partners[one.pair].call, one.operator, one.label,
            instant_of_minute(one.start), instant_of_minute(one.end), 0, False,
            alternatives=tuple(
                OfferedTime(other.label, instant_of_minute(other.start), instant_of_minute(other.end))
                for other in others
                if (other.pair, other.instead_of) == (one.pair, one.label)
            ),
        )
        for one in agenda.slots
    )  # fmt: skip


def times(others: tuple[Alternative, ...]) -> list[tuple[int, str, str, int, int]]:
    return [(one.pair, one.instead_of, one.label, one.start, one.end) for one in others]


seasons = st.fixed_dictionaries(
    {
        "slot_minutes": st.sampled_from([SlotMinutes(*edges) for edges in ((20, 20), (20, 40), (45, 60))]),
        "gap_minutes": st.sampled_from([0, 10, 15]),
        "maximum_slots_per_night": st.integers(1, 5),
        "maximum_nights": st.integers(1, 8),
        "night_cost": st.sampled_from([0.0, 0.3, 1.5]),
        "hour_cost": st.sampled_from([0.0, 0.01]),
        "setup_within_hours": st.booleans(),
    }
)


@settings(max_examples=10, phases=[Phase.generate])
@given(
    policy=seasons,
    choices=st.integers(2, 3),
    calls=st.sampled_from([(), FEW, FEW[:2], FEW[2:], ("QN1PIK", "QX6ICE")]),
    seed=st.integers(),
)
def test_no_stretch_is_promised_to_two_whoever_takes_what(
    policy: dict[str, object], choices: int, calls: tuple[str, ...], seed: int
) -> None:
    grid = roomy(*calls, choices=choices, **policy)
    agenda = make_agenda(grid)
    others = alternatives_of(grid, agenda)
    gap = grid.inputs.season.policy.gap_minutes
    everything: list[Chosen | Alternative] = [*agenda.slots, *others]
    for one, other in itertools.combinations(everything, 2):
        assert one.start >= other.end + gap or other.start >= one.end + gap
    labels = [(one.pair, one.label) for one in everything]
    assert len(set(labels)) == len(labels)
    by_slot = [
        [slot, *(one for one in others if (one.pair, one.instead_of) == (slot.pair, slot.label))]
        for slot in agenda.slots
    ]
    assert all(len(mine) <= choices for mine in by_slot)
    assert sum(map(len, by_slot)) == len(everything)
    draw = random.Random(seed)
    picks = [[mine[-1] for mine in by_slot], *([draw.choice(mine) for mine in by_slot] for _ in range(6))]
    for pick in picks:
        locked = held_by(grid, tuple(line(grid, one) for one in pick))
        held = make_commitments(locked)
        assert not [note for note in held.notes if isinstance(note, (KeptAsAgreed, TooManyNights, TooManySlots))]
        assert len({one.night for one in held.kept}) <= len(agenda.nights)
        expected = {(one.pair, one.start): float(one.slot.chance[0]) for one in pick}
        assert {(one.pair, one.start): float(one.slot.chance[0]) for one in held.kept} == pytest.approx(
            expected, abs=1e-12
        )


@pytest.mark.parametrize("choices", [2, 3])
def test_another_time_brings_about_as_much(choices: int) -> None:
    """Against the agenda's own sum of contacts and hours with one slot exchanged; the bar is the guide's."""
    grid = roomy(*FEW, choices=choices)
    agenda = make_agenda(grid)
    others = alternatives_of(grid, agenda)
    assert len(others) >= 2
    policy, wishes = grid.inputs.season.policy, grid.inputs.wishes
    before = contacts_of(agenda.slots, wishes)
    hours = hours_on_site(agenda.slots, policy.setup_minutes.arrive)
    for one in others:
        slots = [
            dataclasses.replace(slot, slot=one.slot) if (slot.pair, slot.label) == (one.pair, one.instead_of) else slot
            for slot in agenda.slots
        ]
        more_hours = max(0.0, hours_on_site(slots, policy.setup_minutes.arrive) - hours)
        assert before - contacts_of(slots, wishes) + policy.hour_cost * more_hours <= 0.05 + 1e-9


def test_one_choice_is_the_slot_alone() -> None:
    grid = roomy(*FEW, choices=1)
    assert alternatives_of(grid, make_agenda(grid)) == ()


def test_one_agreed_has_no_other_time_and_a_maybe_has() -> None:
    grid = roomy(*FEW)
    agenda = make_agenda(grid)
    first = alternatives_of(grid, agenda)[0]
    slot = next(one for one in agenda.slots if (one.pair, one.label) == (first.pair, first.instead_of))
    for state, some in ((CONFIRMED, False), (TENTATIVE, True)):
        locked = held_by(grid, (line(grid, slot, state),))
        found = alternatives_of(locked, make_agenda(locked))
        assert any((one.pair, one.instead_of) == (slot.pair, slot.label) for one in found) == some


def test_what_was_told_stays_and_nothing_is_added() -> None:
    grid = roomy(*FEW)
    agenda = make_agenda(grid)
    others = alternatives_of(grid, agenda)
    told = held_by(grid, offers=sent(grid, agenda, others))
    again = make_agenda(told)
    assert [(one.pair, one.label, one.start) for one in again.slots] == [
        (one.pair, one.label, one.start) for one in agenda.slots
    ]
    assert times(alternatives_of(told, again)) == times(others)
    # One that was told alone stays alone, though more could be offered.
    alone = held_by(grid, offers=sent(grid, agenda, ()))
    assert alternatives_of(alone, make_agenda(alone)) == ()
    # With fewer choices the first of them stand.
    fewer = dataclasses.replace(told, inputs=with_choices(told.inputs, 1))
    assert alternatives_of(fewer, make_agenda(fewer)) == ()
    assert make_commitments(fewer).promised == ()


def test_a_promised_time_goes_to_nobody_else() -> None:
    """One partner was told a time that another's only good slot needs: the other waits until it is free."""
    grid = roomy("QG8FEN")
    agenda = make_agenda(grid)
    (other,) = alternatives_of(grid, agenda)
    offers = sent(grid, agenda, (other,))
    gap = grid.inputs.season.policy.gap_minutes
    both = held_by(roomy("QG8FEN", "QN1PIK", "QX6ICE"), offers=offers)
    slots = [one for one in make_agenda(both).slots if one.pair != other.pair]
    assert slots
    assert all(one.start >= other.end + gap or other.start >= one.end + gap for one in slots)
    near = both.slots.take(np.flatnonzero((both.slots.start < other.end) & (both.slots.end > other.start)))
    assert (near.pair != other.pair).any()
    # A settled slot promises nothing any more.
    slot = agenda.slots[0]
    for state in (CONFIRMED, DECLINED):
        assert make_commitments(held_by(both, (line(grid, slot, state),), offers)).promised == ()
    assert make_commitments(held_by(both, (line(grid, slot, TENTATIVE),), offers)).promised != ()


def test_a_letter_of_another_time_is_never_used_for_a_new_one() -> None:
    grid = roomy("QG8FEN")
    agenda = make_agenda(grid)
    (other,) = alternatives_of(grid, agenda)
    no = line(grid, agenda.slots[0], DECLINED)
    refused = dataclasses.replace(line(grid, other, DECLINED), label="")
    locked = held_by(grid, (no, refused), sent(grid, agenda, (other,)))
    new = make_agenda(locked)
    labels = {one.label for one in new.slots} | {one.label for one in alternatives_of(locked, new)}
    assert labels
    assert not labels & {"A", other.label}
    for one in (*new.slots, *alternatives_of(locked, new)):
        assert one.start >= other.end or other.start >= one.end


def test_taking_one_moves_the_slot_under_its_identifier() -> None:
    grid = roomy(*FEW)
    agenda = make_agenda(grid)
    others = alternatives_of(grid, agenda)
    taken = held_by(grid, (line(grid, others[0]),), sent(grid, agenda, others))
    again = make_agenda(taken)
    mine = next(one for one in again.slots if (one.pair, one.label) == (others[0].pair, others[0].instead_of))
    assert (mine.start, mine.end, mine.state) == (others[0].start, others[0].end, CONFIRMED)
    assert mine.uid == uid_of(grid, mine.pair, mine.label)
    assert not again.withdrawn
    left = alternatives_of(taken, again)
    assert times(left) == [one for one in times(others) if one[:2] != (mine.pair, mine.label)]


def test_no_room_on_a_night_is_promised_twice() -> None:
    """Two partners of one night may not both be offered the last place of another."""
    for most in (1, 2):
        grid = roomy(*FEW, choices=3, maximum_slots_per_night=most)
        agenda = make_agenda(grid)
        others = alternatives_of(grid, agenda)
        for night in range(len(grid.period.dates)):
            claims = {(one.pair, one.label) for one in agenda.slots if one.night == night}
            claims |= {(one.pair, one.instead_of) for one in others if one.night == night}
            assert len(claims) <= most


def test_hours_at_the_site_bound_other_times_too() -> None:
    grid = roomy(*FEW)
    assert alternatives_of(grid, make_agenda(grid))
    policy = with_policy(grid.inputs, setup_within_hours=True)
    strict = grid_of(policy)
    agenda = make_agenda(strict)
    arrive = policy.season.policy.setup_minutes.arrive
    open_ = strict.home_open
    for one in alternatives_of(strict, agenda):
        assert ((open_[:, 0] <= one.start - arrive) & (one.start <= open_[:, 1])).any()


def test_a_night_that_may_be_given_up_is_offered_to_nobody_else() -> None:
    """One partner alone on a night may go to one that is not set up for: then no other may come to the first."""
    grid = roomy("QT8NUI", "QK3RED")
    agenda = make_agenda(grid)
    others = alternatives_of(grid, agenda)
    set_up = {one.night for one in agenda.slots}
    assert any(one.night not in set_up for one in others)
    times_of = [
        [slot, *(one for one in others if (one.pair, one.instead_of) == (slot.pair, slot.label))]
        for slot in agenda.slots
    ]
    for pick in itertools.product(*times_of):
        assert len({one.night for one in pick}) <= len(set_up)
    leaving = next(one for one in others if one.night not in set_up)
    mine, yours = sorted(agenda.slots, key=lambda one: one.pair != leaving.pair)
    search = _Search(grid, agenda)
    assert search.has_room(yours, mine.night, 4)
    search.put(mine, leaving.slot, "")
    assert not search.has_room(yours, mine.night, 4)
    assert search.has_room(mine, mine.night, 4)


def test_two_slots_with_one_partner_never_come_to_one_night() -> None:
    """Who is not there, is not there for a whole night."""
    grid = roomy("QX6ICE", choices=3, maximum_slots_per_night=6, night_cost=0.05, hour_cost=0.0, presence=0.99)
    agenda = make_agenda(grid)
    others = alternatives_of(grid, agenda)
    first, second = (
        {slot.night, *(one.night for one in others if one.instead_of == slot.label)} for slot in agenda.slots
    )
    assert others
    assert not first & second
