"""What a partner needs: every figure told is tried again on inputs made by hand, through all stages of the plan."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from functools import cache

import numpy as np
import pytest

from pipeline.agenda.slot_grid import make_slot_grid
from pipeline.inputs.model import Station
from pipeline.need.by_night import POWER, Chances, make_pairing
from pipeline.need.decibel import decibel_worth, is_wanted
from pipeline.need.dish_and_power import around, dish_and_power
from pipeline.need.need import Need, make_need
from pipeline.need.reaching import DISH, NOISE, assignment, reaches_of, two_digit_values
from pipeline.need.roster import whom_it_works
from pipeline.pairs.survey import make_survey
from pipeline.plan.plan import make_plan
from pipeline.record.inputs import Inputs
from pipeline.record.model import MADE, Answer
from pipeline.reports.need_view import need_view
from pipeline.windows.span import span_of
from tests.plan.months import TODAY, demo_inputs, only_partners, with_equipment, with_policy

CALL = "QK3RED"


@cache
def inputs() -> Inputs:
    """The demo with two partners, at a step of a quarter of an hour."""
    return with_policy(only_partners(demo_inputs(), CALL, "QF4LUM"), step_minutes=15)


@cache
def need() -> Need:
    return make_need(inputs(), CALL, span_of(inputs(), TODAY), lambda _: None)


def best_chance(changed: Inputs) -> float:
    """The best slot with the partner within both ends' hours, from the plan's own stages."""
    found = make_survey(changed, span_of(changed, TODAY), lambda _: None)
    grid = make_slot_grid(changed, found.period, found.windows, found.samples, found.modes)
    own = grid.slots.pair == grid.pair_of(CALL)
    return float(grid.slots.chance[own].max(initial=0.0))


def with_figure(end: str, figure: str, value: float) -> Inputs:
    """Another figure at one end, made without the room's own way of changing inputs."""

    def changed(station: Station) -> Station:
        if figure == DISH:
            antenna = dataclasses.replace(station.bands["3cm"].antenna, dish_diameter_m=value)
            return with_equipment(station, antenna=antenna)
        return with_equipment(station, **{figure: value})

    if end == "home":
        return dataclasses.replace(inputs(), home=changed(inputs().home))
    partners = tuple(changed(one) if one.call == CALL else one for one in inputs().partners)
    return dataclasses.replace(inputs(), partners=partners)


STEPS = {DISH: -0.1, NOISE: 0.1}


@pytest.mark.parametrize("place", [0, 1], ids=["workable", "strong"])
@pytest.mark.parametrize("row", range(6))
def test_the_least_does_and_a_little_less_does_not(row: int, place: int) -> None:
    reach, threshold = need().reaches[row], need().thresholds[place]
    value = reach.values[place]
    if value is None:
        most = {DISH: 15.0, NOISE: 0.2}.get(reach.figure, reach.now * 10.0**1.3)
        assert best_chance(with_figure(reach.end, reach.figure, most)) < threshold
        assert reach.changes[place] == ""
        return
    assert best_chance(with_figure(reach.end, reach.figure, value)) >= threshold
    poorer = value + STEPS.get(reach.figure, -(10.0 ** (math.floor(math.log10(value)) - 1)))
    assert best_chance(with_figure(reach.end, reach.figure, poorer)) < threshold
    assert bool(reach.changes[place]) == (value < reach.now if reach.figure == NOISE else value > reach.now)


def test_there_is_something_to_reach_and_something_out_of_reach() -> None:
    values = [value for reach in need().reaches for value in reach.values]
    assert any(value is None for value in values)
    assert any(value is not None for value in values)


def test_a_cell_is_what_the_plan_says_of_that_dish_and_power() -> None:
    table = next(one for one in need().tables if one.end == "partner")
    now = (table.dishes_m.index(1.2), table.powers_w.index(8.0))
    assert table.best[now] == pytest.approx(best_chance(inputs()), abs=1e-9)
    for dish, power in ((1.8, 8.0), (1.2, 20.0), (0.9, 20.0)):
        changed = with_figure("partner", DISH, dish)
        partners = tuple(with_equipment(one, power_w=power) if one.call == CALL else one for one in changed.partners)
        cell = table.best[table.dishes_m.index(dish), table.powers_w.index(power)]
        assert cell == pytest.approx(best_chance(dataclasses.replace(changed, partners=partners)), abs=1e-9)


def test_more_power_never_lowers_a_cell_and_the_median_is_no_better_than_the_best() -> None:
    for table in need().tables:
        assert (np.diff(table.best, axis=1) >= -1e-12).all()
        assert (table.median <= table.best).all()


def test_the_median_night_is_the_poorer_of_the_middle_two() -> None:
    nights = need().chances.nights
    four = Chances(nights[:1] * 4, np.array([0.4, 0.1, 0.3, 0.2]))
    assert (four.median, four.best) == (0.2, 0.4)
    assert Chances((), np.zeros(0)).median == 0.0


def test_a_decibel_is_a_decibel_of_power_at_both_ends() -> None:
    """Ten times the logarithm of the ratio of powers (IEC 60027-3)."""
    alone = only_partners(inputs(), CALL)
    found = make_survey(alone, span_of(alone, TODAY), lambda _: None)
    worth, of_all = decibel_worth(alone, found, CALL)
    assert worth == of_all
    for step, told in ((-1.0, worth.less), (0.0, worth.now), (1.0, worth.more)):
        ratio = 10.0 ** (step / 10.0)
        stations = [
            with_equipment(one, power_w=one.bands["3cm"].power_w * ratio) for one in (alone.home, *alone.partners)
        ]
        changed = dataclasses.replace(alone, home=stations[0], partners=tuple(stations[1:]))
        assert told == pytest.approx(make_plan(changed, TODAY, calendar=False).contacts_expected, abs=1e-6)
    assert worth.less < worth.now < worth.more
    assert need().with_all.more - need().with_all.now >= need().with_partner.more - need().with_partner.now - 1e-9


def test_a_way_has_two_ends_and_one_chance() -> None:
    """Seen from the partner, home is as far as the partner is seen from home."""
    from_there = next(one for one in need().roster if one.call == "QM7TOR")
    pairing = dataclasses.replace(
        make_pairing(inputs(), inputs().place_of(CALL), span_of(inputs(), TODAY)), any_hour=True
    )
    assert from_there.chance == pytest.approx(pairing.chances().best, abs=0.02)
    assert [one.chance for one in need().roster] == sorted((one.chance for one in need().roster), reverse=True)


def test_who_shares_no_band_or_mode_is_named_so() -> None:
    other = with_equipment(inputs().partner("QF4LUM"), modes=("SSB",))
    bare = dataclasses.replace(inputs().home, bands={"13cm": inputs().home.bands["3cm"]})
    partners = tuple(other if one.call == "QF4LUM" else one for one in inputs().partners)
    found = whom_it_works(dataclasses.replace(inputs(), home=bare, partners=partners), CALL, span_of(inputs(), TODAY))
    assert {one.call: (one.shares_band, one.shares_mode) for one in found} == {
        "QM7TOR": (False, True), "QF4LUM": (True, False),
    }  # fmt: skip


def test_without_hours_in_common_any_hour_is_taken() -> None:
    asleep = dataclasses.replace(inputs().home, available=())
    found = make_pairing(dataclasses.replace(inputs(), home=asleep), inputs().place_of(CALL), span_of(inputs(), TODAY))
    assert found.any_hour
    assert found.chances().nights


def test_an_antenna_given_by_gain_has_no_dish_to_try() -> None:
    antenna = dataclasses.replace(inputs().home.bands["3cm"].antenna, dish_diameter_m=None, gain_dbi=42.0)
    changed = dataclasses.replace(inputs(), home=with_equipment(inputs().home, antenna=antenna))
    pairing = make_pairing(changed, changed.place_of(CALL), span_of(changed, TODAY))
    assert dish_and_power(pairing, "home") is None
    assert not [one for one in reaches_of(pairing, (0.6,)) if (one.end, one.figure) == ("home", DISH)]


def test_a_stated_power_carries_less_doubt_than_an_assumed_one() -> None:
    """Beyond the middle less doubt is a better chance, though not a watt is added."""
    station = inputs().partner("QF4LUM")
    assumed = dataclasses.replace(station, assumed=(*station.assumed, "bands.3cm.power_w"))
    changed = dataclasses.replace(only_partners(inputs(), "QF4LUM"), partners=(assumed,))
    pairing = make_pairing(changed, 0, span_of(changed, TODAY))
    stated = pairing.chances([assignment(pairing, "partner", POWER, station.bands["3cm"].power_w)])
    assert stated.best > pairing.chances().best > 0.5


def test_values_tried() -> None:
    assert list(two_digit_values(9.85))[:3] == [9.9, 10.0, 11.0]
    assert around((1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0), 4.1) == (1.0, 2.0, 3.0, 4.1, 5.0, 6.0, 7.0)


def test_nothing_assumed_is_called_strong_on_the_page() -> None:
    """Where nothing is, the column tells the chance itself, and no cell is tinted; else both say strong."""
    limit = need().thresholds[1]
    assumed, stated = (need_view(dataclasses.replace(need(), is_assumed=one)) for one in (True, False))
    assert limit == 0.9
    assert [view.reach_heads[1] for view in (assumed, stated)] == ["90 % from", "strong from"]
    tinted = [
        {cell.word for table in view.tables for _, cells in table.rows for cell in cells} for view in (assumed, stated)
    ]
    assert ["strong" in words for words in tinted] == [False, True]
    assert ["Tinted" in view.cells_key for view in (assumed, stated)] == [False, True]


def test_a_single_night_is_told_once() -> None:
    several = need().chances
    one = dataclasses.replace(several, nights=several.nights[:1], chance=several.chance[:1])
    views = [need_view(need()), need_view(dataclasses.replace(need(), chances=one))]
    assert ["median night" in view.nights + view.cells_title + view.assumed[-1] for view in views] == [True, False]
    assert [bool(view.tables[0].rows[0][1][0].median) for view in views] == [True, False]
    assert [bool(view.named) for view in views] == [True, False]


def test_who_is_worked_is_said_to_be() -> None:
    """By the agenda's own commitments; a contact made leaves no slot that a decibel could better."""
    view = need_view(need())
    assert "One decibel more on both ways" in view.decibel[0]
    start = dt.datetime(2027, 3, 6, 20, 0, tzinfo=dt.UTC)
    made = Answer(CALL, "A", start, start + dt.timedelta(hours=1), "confirmed", inputs().home.call, 1, outcome=MADE)
    worked = dataclasses.replace(inputs(), record=dataclasses.replace(inputs().record, answers=(made,)))
    found = make_survey(worked, span_of(worked, TODAY), lambda _: None)
    assert [is_wanted(one, found, CALL) for one in (inputs(), worked)] == [True, False]
    told = need_view(dataclasses.replace(need(), inputs=worked, is_wanted=False)).decibel
    assert told[0].startswith(f"{CALL} is worked: the agenda has no slot for it")
    assert "One decibel more on all ways" in told[1]
    bare = need_view(dataclasses.replace(need(), is_wanted=False)).decibel
    assert bare[0].startswith(f"No contact with {CALL} is wanted any more: ")


def test_what_is_assumed_of_home_is_for_its_own_file() -> None:
    home = inputs().home
    assumed = dataclasses.replace(home, assumed=(*home.assumed, "bands.3cm.power_w"))
    changed = dataclasses.replace(need(), inputs=dataclasses.replace(inputs(), home=assumed))
    line = next(one for one in need_view(changed).assumed if one.startswith(f"Assumed of {home.call}: "))
    assert line.endswith(f"; written into {home.file} they change this page.")
