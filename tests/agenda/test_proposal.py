"""A proposed time judged: figures equal to the agenda's when that very slot is locked, what stands against it, others.

Rules and their meaning are the product's own contract (DEVELOPERS.md); the skyline is interpolated here by hand.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.agenda.agenda import LEAST_GAIN, make_agenda
from pipeline.agenda.agenda_table import agenda_table
from pipeline.agenda.notes import KeptAsAgreed
from pipeline.agenda.proposal import Against, Judged
from pipeline.agenda.proposal_ends import Free
from pipeline.agenda.proposal_ground import Ground, make_ground
from pipeline.inputs.model import DateRange, Operator
from pipeline.record.model import PARTNER, Answer, Offer, OfferedTime
from pipeline.windows.instants import minutes_of
from pipeline.windows.rules import HORIZON
from pipeline.windows.span import span_of
from tests.agenda.proposed_times import LUMME, grid_of, ground_of, judged_at, judged_with, march_survey, plain, utc
from tests.agenda.slot_grids import (
    MARCH,
    answer,
    march_inputs,
    offers_of,
    only_wanted,
    with_home,
    with_partner,
    with_record,
    with_wish,
)
from tests.plan.months import TODAY, demo_inputs, only_partners, with_policy


def taken(judged: Judged) -> Answer:
    """The line of the record that taking it makes."""
    call, edges = judged.partner.station.call, (judged.start, judged.end)
    return Answer(call, judged.label, *edges, "confirmed", judged.operator, 1, None, "", PARTNER)


# Inside all rules, at the end of home's hours, outside either's, on a date away, and weak.
TIMES = [
    (LUMME, utc(13, 19)), (LUMME, utc(13, 19, 7)), (LUMME, utc(14, 20)), ("QJ2KAW", utc(6, 20, 36)),
    ("QX6ICE", utc(18, 1, 30)), ("QN1PIK", utc(18, 2, 20)), ("QG8FEN", utc(12, 20)), ("QT8NUI", utc(8, 20)),
    ("QK3RED", utc(28, 1, 45)), ("QZ5KAR", utc(19, 22, 30)),
]  # fmt: skip


@pytest.mark.parametrize(("call", "instant"), TIMES)
def test_figures_are_those_of_the_agenda_once_it_is_taken(call: str, instant: dt.datetime) -> None:
    judged = judged_at(plain(), call, instant)
    assert judged.chance is not None
    grid = grid_of(with_record(march_inputs(), (taken(judged),)))
    table = agenda_table(grid, make_agenda(grid))
    (row,) = table[(table["partner"] == call) & (table["label"] == judged.label)].to_dict("records")
    assert (row["slot_start_utc"], row["slot_end_utc"]) == (judged.start, judged.end)
    assert (row["chance"], row["chance_met"]) == (judged.chance, judged.chance_met)
    assert (row["state"], row["night"], row["mode"]) == ("confirmed", judged.night, judged.mode)


def test_every_slot_of_the_agenda_is_judged_as_the_agenda_has_it() -> None:
    ground = plain()
    for one in ground.agenda.slots:
        call = ground.grid.inputs.partners[one.pair].call
        judged = judged_at(ground, call, utc(1, 0) + dt.timedelta(minutes=one.start - minutes_of(utc(1, 0))))
        assert (judged.against, judged.clashes) == ((), ())
        assert (minutes_of(judged.end), judged.label) == (one.end, one.label)
        assert judged.chance == pytest.approx(one.slot.chance[0], abs=1e-12)


def test_whole_ground_from_the_inputs_is_that_of_the_plan() -> None:
    inputs = with_policy(only_partners(demo_inputs(MARCH), LUMME, "QG8FEN"), step_minutes=15)
    dates = DateRange(dt.date(2027, 3, 12), dt.date(2027, 3, 14))
    inputs = dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, months=(), dates=dates))
    ground = make_ground(inputs, span_of(inputs, TODAY), lambda _: None)
    assert ground.edges == (ground.grid.period.start, ground.grid.period.end)
    assert ground.holds(utc(13, 19))
    assert not ground.holds(utc(18, 19))
    judged = judged_at(ground, LUMME, utc(13, 19))
    assert judged.chance == pytest.approx(judged_at(plain(), LUMME, utc(13, 19)).chance, abs=1e-6)
    # What an outcome has ended is no ground for anything.
    lines = (dataclasses.replace(answer(LUMME, utc(13, 19), "confirmed", "A"), outcome="failed"),)
    later = make_ground(with_record(inputs, lines), span_of(inputs, TODAY), lambda _: None)
    assert later.edges == (ground.grid.period.edges[2], ground.grid.period.end)
    assert not later.holds(utc(13, 19))


def test_skylines_by_hand_and_the_moon_as_the_samples_have_it() -> None:
    judged = judged_at(plain(), LUMME, utc(13, 19))
    rows = plain().grid.samples
    (row,) = rows[(rows["partner"] == LUMME) & (rows["time_utc"] == utc(13, 19))].to_dict("records")
    # Straight lines between the points of qm7tor.yaml and qf4lum.yaml.
    by_hand = {
        "home": lambda azimuth: 2.0 + (7.5 - 2.0) * azimuth / 95.0,
        "partner": lambda azimuth: 0.4 + (0.8 - 0.4) * (azimuth - 210.0) / 55.0,
    }
    for end, seen in (("home", judged.home), ("partner", judged.partner)):
        assert seen.azimuth_deg[0] == pytest.approx(row[f"{end}_azimuth_deg"], abs=1e-6)
        apparent = row[f"{end}_elevation_deg"] + row[f"{end}_refraction_deg"]
        assert seen.elevation_deg[0] == pytest.approx(apparent, abs=1e-6)
        assert seen.skyline_deg[0] == pytest.approx(by_hand[end](seen.azimuth_deg[0]), abs=1e-9)
        assert seen.missed == ()


def test_outside_every_window_it_is_told_who_does_not_see_the_moon() -> None:
    judged = judged_at(plain(), "QZ5KAR", utc(13, 21, 30))
    assert (judged.chance, judged.is_possible, judged.clashes) == (None, False, ())
    assert judged.against[0] is Against.MOON
    assert judged.home.missed == ()
    below, least = judged.partner.missed[0], judged.partner.missed[1]
    assert below[0] == HORIZON
    assert below[1] == pytest.approx(judged.partner.skyline_deg[0] - judged.partner.elevation_deg[0])
    assert least[1] == pytest.approx(8.0 - judged.partner.elevation_deg[0])
    assert judged.other is not None


@settings(max_examples=60)
@given(st.integers(0, 9), st.integers(0, 30 * 1440))
def test_any_instant_is_judged_and_what_is_named_instead_suits(pair: int, minute: int) -> None:
    """The other time is judged itself: nothing stands against it, its figures are those told, and it is better."""
    ground = plain()
    call = ground.grid.inputs.partners[pair % len(ground.grid.inputs.partners)].call
    judged = judged_at(ground, call, utc(1, 12) + dt.timedelta(minutes=minute))
    assert (judged.chance is None) == (Against.MOON in judged.against)
    assert (judged.chance is None) or judged.start < judged.end
    if judged.other is None:
        return
    again = judged_at(ground, call, judged.other.start)
    assert (again.against, again.home.free, again.partner.free) == ((), Free.INSIDE_HOURS, Free.INSIDE_HOURS)
    assert (again.end, again.chance) == (judged.other.end, pytest.approx(judged.other.chance, abs=1e-12))
    assert not [one for one in again.clashes if one.call != call]
    if not judged.against:
        assert again.chance_met >= judged.chance_met + LEAST_GAIN - 1e-12


def by_search(ground: Ground, judged: Judged) -> int | None:
    """When the other time begins, by a walk through every slot of the grid."""
    grid, policy, call = ground.grid, ground.grid.inputs.season.policy, judged.partner.station.call
    pair, start = grid.pair_of(call), minutes_of(judged.start)
    assert judged.chance_met is not None or judged.against
    floor = 0.0 if judged.against or judged.chance_met is None else judged.chance_met + LEAST_GAIN
    busy = [(one.start, one.end, one.night) for one in ground.agenda.slots if one.pair != pair]
    nights = {night for *_, night in busy}
    own = {one.start for one in ground.agenda.slots if one.pair == pair}
    fits = []
    for row in np.flatnonzero((grid.slots.pair == pair) & (grid.slots.chance >= 0.25)):
        first, last, night = (int(getattr(grid.slots, name)[row]) for name in ("start", "end", "night"))
        apart = all(first >= end + policy.gap_minutes or last + policy.gap_minutes <= begin for begin, end, _ in busy)
        full = sum(other == night for *_, other in busy) >= policy.maximum_slots_per_night
        no_trip = night not in nights and len(nights) >= policy.maximum_nights
        met = float(grid.slots.chance_met[row])
        if apart and not full and not no_trip and first != start and met >= floor:
            fits.append((abs(first - start), night, first, met))
    if not fits:
        return None
    night = min(fits)[1]
    best = max(met for _, other, _, met in fits if other == night)
    good = [(first not in own, away, first) for away, other, first, met in fits
            if other == night and met >= best - LEAST_GAIN]  # fmt: skip
    return min(good)[2]


@pytest.mark.parametrize("policy", [{}, {"maximum_slots_per_night": 2}, {"maximum_nights": 2}])
def test_of_other_times_the_nearest_night_at_its_best(policy: dict[str, Any]) -> None:
    ground = ground_of(march_inputs(**policy)) if policy else plain()
    for call in (LUMME, "QX6ICE", "QN1PIK", "QK3RED"):
        for day in range(3, 30, 2):
            judged = judged_at(ground, call, utc(day, 20, 7))
            found = None if judged.other is None else minutes_of(judged.other.start)
            assert found == by_search(ground, judged), (call, day)


def test_what_the_partner_declined_is_not_named_again() -> None:
    other = judged_at(plain(), LUMME, utc(14, 20)).other
    assert other is not None
    declined = with_record(march_inputs(), (answer(LUMME, other.start, "declined", "A"),))
    again = judged_with(LUMME, utc(14, 20), declined).other
    assert again is not None
    assert again.start >= other.end or again.end <= other.start


def test_who_must_arrive_within_hours_is_named_a_time_at_which_it_can() -> None:
    """The demo's Saturday begins at 16:00, and arriving takes two hours: 18:00 is 21:00 UTC."""
    ground = ground_of(only_wanted(march_inputs(setup_within_hours=True), LUMME))
    other = judged_at(ground, LUMME, utc(13, 19)).other
    assert other is not None
    assert judged_at(ground, LUMME, other.start).against == ()
    assert other.start >= utc(13, 21)
    assert judged_at(ground, LUMME, utc(13, 20, 45)).against == (Against.ARRIVAL,)


def test_the_partner_is_there_when_it_says_so() -> None:
    """Its own hours are told and stand against nothing; a plan does not note them either once it is taken."""
    judged = judged_at(plain(), "QX6ICE", utc(20, 1))
    assert (judged.partner.free, judged.partner.asleep, judged.against) == (Free.OUTSIDE_HOURS, True, ())
    own = make_agenda(grid_of(with_record(march_inputs(), (taken(judged),))))
    assert not [note for note in own.notes if isinstance(note, KeptAsAgreed)]
    ours = dataclasses.replace(taken(judged), proposed_by="")
    assert [note for note in make_agenda(grid_of(with_record(march_inputs(), (ours,)))).notes
            if isinstance(note, KeptAsAgreed)]  # fmt: skip


def test_an_agreed_slot_of_another_stands_against_it_and_a_planned_one_gives_way() -> None:
    planned = judged_at(plain(), LUMME, utc(13, 20, 45))
    (clash,) = planned.clashes
    assert (clash.call, clash.label, clash.promised) == ("QG8FEN", "A", False)
    assert Against.TAKEN not in planned.against
    for line, minute, overlaps in (
        (answer("QG8FEN", utc(13, 21, 15), "confirmed", "A"), 15, True),
        (answer("QG8FEN", utc(13, 22, 20), "confirmed", "A"), 15, False),
        (answer("QG8FEN", utc(13, 22, 30), "confirmed", "A"), 15, None),
    ):
        judged = judged_with(LUMME, utc(13, 21, minute), with_record(march_inputs(), (line,)))
        found = [one for one in judged.clashes if one.promised]
        assert [one.overlaps for one in found] == ([] if overlaps is None else [overlaps])
        assert (Against.TAKEN in judged.against) == (overlaps is not None)
        assert judged.is_possible == (overlaps is not True)


def test_what_was_offered_to_another_is_promised_until_it_answers() -> None:
    ground = plain()
    offers = offers_of(agenda_table(ground.grid, ground.agenda))
    judged = judged_with(LUMME, utc(13, 20, 45), with_record(march_inputs(), (), offers))
    (clash,) = judged.clashes
    assert (clash.call, clash.promised) == ("QG8FEN", True)
    assert Against.TAKEN in judged.against
    assert judged.is_possible  # the operator may still decide so
    assert judged_with(LUMME, utc(13, 19), with_record(march_inputs(), (), offers)).offered


def test_another_time_that_was_told_is_promised_too() -> None:
    """What a letter told somebody else as a second time is in its hands, and no free time besides."""
    asked = utc(13, 4)
    other = judged_at(plain(), LUMME, asked).other
    assert other is not None

    def told_to(call: str) -> Ground:
        letters = dataclasses.replace(march_inputs().season.letters, choices=2)
        inputs = dataclasses.replace(march_inputs(), season=dataclasses.replace(march_inputs().season, letters=letters))
        second = OfferedTime("D", other.start, other.end)
        return ground_of(with_record(inputs, (), (offer_of(call, second),)))

    def offer_of(call: str, second: OfferedTime) -> Offer:
        sent = offers_of(agenda_table(plain().grid, plain().agenda))
        return dataclasses.replace(next(one for one in sent if one.partner == call), alternatives=(second,))

    theirs = told_to("QK3RED")
    judged = judged_at(theirs, LUMME, other.start)
    assert ("QK3RED", "D", other.start, True) in [
        (one.call, one.label, one.start, one.promised) for one in judged.clashes
    ]
    assert Against.TAKEN in judged.against
    assert Against.TAKEN not in judged_at(told_to(LUMME), LUMME, other.start).against
    instead = judged_at(theirs, LUMME, asked).other
    gap = dt.timedelta(minutes=march_inputs().season.policy.gap_minutes)
    assert instead is None or instead.start >= other.end + gap or instead.end + gap <= other.start


def test_the_dish_held_by_a_stranger_stands_against_it() -> None:
    line = answer("QB7GON", utc(13, 19, 15), "confirmed", "A")
    judged = judged_with(LUMME, utc(13, 19), with_record(march_inputs(), (line,)))
    assert [(one.call, one.overlaps) for one in judged.clashes] == [("", True)]
    assert Against.TAKEN in judged.against


def test_home_and_the_policy() -> None:
    """Each of their rules by itself; times by home's clock, UTC-3."""
    free = {
        utc(13, 19): Free.INSIDE_HOURS,
        utc(13, 18): Free.OUTSIDE_HOURS,  # Saturday from 16:00
        utc(12, 20): Free.AWAY,  # 12 March
        utc(13, 4): Free.AWAY,  # the night that carries it
    }
    for instant, word in free.items():
        judged = judged_at(plain(), LUMME, instant)
        assert judged.home.free is word
        assert (Against.HOME_NOT_FREE in judged.against) == (word is not Free.INSIDE_HOURS)
    out = judged_with(LUMME, utc(13, 19), only_wanted(march_inputs(nights=("fri", "sun")), LUMME))
    assert out.home.free is Free.NIGHT_LEFT_OUT
    always = with_home(march_inputs(latest_hour_on_work_nights=dt.time(1)), available="always", unavailable_dates=())
    late = judged_with("QN1PIK", utc(19, 4, 15), only_wanted(always, LUMME))  # Friday 01:15
    assert (late.home.free, late.home.asleep) == (Free.TOO_LATE, True)


@pytest.mark.parametrize(
    ("against", "policy"),
    [
        (Against.SUN, {"minimum_sun_separation_deg": 89.0}),
        (Against.NIGHT_FULL, {"maximum_slots_per_night": 1}),
        (Against.NIGHTS_USED, {"maximum_nights": 1}),
        (Against.ARRIVAL, {"setup_within_hours": True}),
    ],
)
def test_rules_of_the_policy_stand_against_it(against: Against, policy: dict[str, Any]) -> None:
    line = answer("QN1PIK", utc(13, 23, 30), "confirmed", "A")
    elsewhere = answer("QN1PIK", utc(19, 23, 30), "confirmed", "A")
    held = (elsewhere,) if against is Against.NIGHTS_USED else (line,) if against is Against.NIGHT_FULL else ()
    inputs = with_record(march_inputs(**policy), held)
    assert against in judged_with(LUMME, utc(13, 19), inputs).against
    assert against not in judged_with(LUMME, utc(13, 19), with_record(march_inputs(), held)).against


def test_a_weak_signal_and_no_common_mode() -> None:
    weak = judged_at(plain(), "QX6ICE", utc(18, 1, 30))
    assert weak.against == (Against.WEAK,)
    assert weak.is_possible
    station = march_inputs().partner(LUMME)
    bands = {name: dataclasses.replace(one, modes=("FT8",)) for name, one in station.bands.items()}
    inputs = with_partner(march_inputs(), LUMME, bands=bands)
    grid = grid_of(inputs)
    grid = dataclasses.replace(grid, modes=tuple(
        None if one.call == LUMME else mode for one, mode in zip(inputs.partners, grid.modes, strict=True)
    ))  # fmt: skip
    judged = judged_at(Ground(march_survey(), grid, make_agenda(grid)), LUMME, utc(13, 19))
    assert Against.NO_MODE in judged.against
    assert Against.WEAK not in judged.against
    assert not judged.is_possible


def test_letters_are_new_kept_or_named() -> None:
    ground = plain()
    slot = next(one for one in ground.agenda.slots if ground.grid.inputs.partners[one.pair].call == LUMME)
    start = utc(1, 0) + dt.timedelta(minutes=slot.start - minutes_of(utc(1, 0)))
    same = judged_at(ground, LUMME, start)
    assert (same.label, same.before, same.own) == (slot.label, None, ())
    over = judged_at(ground, LUMME, start + dt.timedelta(minutes=20))
    assert (over.label, over.before[0] if over.before else None) == (slot.label, start)
    far = judged_at(ground, LUMME, utc(14, 20))
    assert (far.label, far.before, [one.label for one in far.own]) == ("B", None, [slot.label])
    named = judged_at(ground, LUMME, utc(14, 20), slot.label)
    assert (named.label, named.before[0] if named.before else None, named.own) == (slot.label, start, ())
    # What was agreed does not move unless it is named.
    agreed = ground_of(with_record(march_inputs(), (answer(LUMME, start, "confirmed", "A"),)))
    assert judged_at(agreed, LUMME, start).agreed
    near = judged_at(agreed, LUMME, start + dt.timedelta(minutes=20))
    assert (near.label, near.is_possible) == ("B", False)
    assert judged_at(agreed, LUMME, start + dt.timedelta(minutes=20), "A").is_possible
    # A time that was declined once keeps its letter when it is proposed after all.
    declined = with_record(march_inputs(), (answer(LUMME, utc(14, 20), "declined", "C"),))
    assert judged_with(LUMME, utc(14, 20), declined).label == "C"


def test_a_slot_ends_with_the_hours_and_does_without_the_partners() -> None:
    """Home's Saturday ends at 03:00, 06:00 UTC; QF4LUM's at 01:30 there, 23:30 UTC."""
    home = with_home(march_inputs(), available=(dataclasses.replace(
        march_inputs().home.available[1], until=dt.time(17, 40)),))  # type: ignore[index,union-attr]  # fmt: skip
    assert judged_with(LUMME, utc(13, 20), home).end == utc(13, 20, 40)
    assert judged_with(LUMME, utc(13, 20), march_inputs()).end == utc(13, 21)
    # Ten minutes before the end is no slot at all: then it is judged as if nobody minded the clock.
    assert judged_with(LUMME, utc(13, 20, 30), home).end == utc(13, 21, 30)


def test_operators_take_their_turns() -> None:
    inputs = march_inputs()
    both = dataclasses.replace(inputs, season=dataclasses.replace(
        inputs.season, operators=(Operator("QM7TOR"), Operator("QM7TOS"))))  # fmt: skip
    line = answer(LUMME, utc(13, 19), "confirmed", "A")
    assert judged_with(LUMME, utc(14, 20), both).operator in ("QM7TOR", "QM7TOS")
    assert judged_with(LUMME, utc(14, 20), with_record(both, (line,))).operator == "QM7TOS"


def test_nobody_who_is_worked_is_wanted_again() -> None:
    assert judged_at(plain(), LUMME, utc(13, 19)).is_wanted
    assert not judged_with(LUMME, utc(13, 19), with_wish(march_inputs(), LUMME, contacts_wanted=0)).is_wanted


def test_local_clocks_are_those_of_both_ends() -> None:
    judged = judged_at(plain(), LUMME, utc(13, 19))
    assert not judged.partner.asleep
    assert not judged.home.asleep
    # 22:35 to 23:35 there: half past eleven is bedtime.
    assert judged_at(plain(), LUMME, utc(13, 20, 35)).partner.asleep
    assert not judged_at(plain(), LUMME, utc(13, 20, 30)).partner.asleep
    assert judged.partner.zone == ZoneInfo("Europe/Helsinki")
    assert judged.home.zone == ZoneInfo("America/Montevideo")
