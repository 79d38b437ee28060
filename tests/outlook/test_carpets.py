"""Carpets: the chances that the agenda would give, each in the cell of home's own clock, at much less work."""

from __future__ import annotations

import dataclasses
import datetime as dt
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from pipeline.agenda.candidates import find_slots, with_chances
from pipeline.agenda.slot_grid import SlotGrid, make_slot_grid
from pipeline.inputs.model import Hours
from pipeline.outlook import carpets
from pipeline.outlook.carpets import QUARTERS, Carpet, make_carpets
from pipeline.record.inputs import Inputs
from tests.plan.months import demo_inputs, one_station, only_partners, small_inputs, survey_of

# What reading between neighbours may miss of the chance proper, and the share of starts that is worked out at most.
WORST, MOST_WORK = 0.02, 0.65


@lru_cache(maxsize=4)
def grid_of(month: str) -> SlotGrid:
    """A month of the demo."""
    return made(demo_inputs(month))


def made(inputs: Inputs) -> SlotGrid:
    found = survey_of(inputs)
    return make_slot_grid(inputs, found.period, found.windows, found.samples, found.modes)


def starts(grid: SlotGrid) -> dict[str, np.ndarray]:
    """Every place for a slot at whatever hour."""
    everywhere = np.ones(grid.minutes.minute.size, dtype=bool)
    return find_slots(grid.minutes, everywhere, grid.inputs.season.policy.slot_minutes, grid.least)


@pytest.mark.parametrize("month", ["2027-03", "2027-10"])
def test_the_chance_is_that_of_the_agenda_at_less_work(month: str, monkeypatch: pytest.MonkeyPatch) -> None:
    grid = grid_of(month)
    asked = 0

    def counted(*args: object) -> object:
        nonlocal asked
        asked += args[3]["start"].size  # type: ignore[index]
        return with_chances(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(carpets, "with_chances", counted)
    found = starts(grid)
    proper = with_chances(grid.inputs, grid.modes, grid.track, found).chance
    assert np.abs(carpets.chances_at(grid, found) - proper).max() < WORST
    assert 0 < asked < MOST_WORK * found["start"].size
    # The month holds every kind of chance, or the bound would say nothing.
    assert np.histogram(proper, [0.0, 0.1, 0.5, 0.9, 1.0])[0].min() > 50


def expected(grid: SlotGrid, pair: int, carpet: Carpet) -> dict[str, np.ndarray]:
    """The same cells by the standard library's clock, start by start and minute by minute (slow and plain)."""
    zone, shape = grid.period.zone, carpet.chance.shape

    def cell(minute: int) -> tuple[int, int]:
        wall = (dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(minutes=int(minute))).astimezone(zone)
        return (wall.date() - carpet.first_date).days, wall.hour * 4 + wall.minute // 15

    chance, found = np.full(shape, np.nan), starts(grid)
    proper = with_chances(grid.inputs, grid.modes, grid.track, found).chance
    for row in np.flatnonzero(found["pair"] == pair):
        here = cell(found["start"][row])
        chance[here] = np.fmax(chance[here], proper[row])
    masks = {name: np.zeros(shape, dtype=bool) for name in ("shared", "free", "near_sun")}
    for row in np.flatnonzero(grid.minutes.pair == pair):
        here = cell(grid.minutes.minute[row])
        masks["shared"][here] = True
        masks["near_sun"][here] |= not grid.minutes.sun[row]
    for start in grid.slots.start[grid.slots.pair == pair]:
        masks["free"][cell(start)] = True
    return {"chance": chance, **masks}


def compare(grid: SlotGrid) -> None:
    for pair, carpet in enumerate(make_carpets(grid)):
        other = expected(grid, pair, carpet)
        assert (np.isfinite(carpet.chance) == np.isfinite(other["chance"])).all()
        assert np.nanmax(np.abs(carpet.chance - other["chance"]), initial=0.0) < WORST
        for name in ("shared", "free", "near_sun"):
            assert (getattr(carpet, name) == other[name]).all(), name
        assert carpet.dates[0] <= grid.period.first_night
        assert carpet.dates[-1] >= grid.period.last_night


def test_cells_are_those_of_homes_clock() -> None:
    grid = made(only_partners(demo_inputs("2027-03"), "QJ2KAW", "QN1PIK", "QI9TEA"))
    compare(grid)
    short, long, without = make_carpets(grid)
    assert long.near_sun.any(), "the Moon passes the Sun in every month"
    assert short.free.any()
    assert long.free.any()
    assert not without.shared.any()
    assert np.isnan(without.chance).all()


@pytest.mark.parametrize("first", [dt.date(2027, 3, 26), dt.date(2027, 10, 29)])
def test_an_hour_skipped_is_empty_and_one_shown_twice_is_one(first: dt.date) -> None:
    """European clocks change at 01:00 UTC on the last Sunday of March and October (EU directive 2000/84/EC)."""
    home = dataclasses.replace(one_station("QH0ME", 51.0, 7.0, 100.0), time_zone="Europe/Berlin")
    always = dataclasses.replace(home, available=(Hours(("sat", "sun"), dt.time(0, 0), dt.time(12, 0)),))
    there = one_station("QT0ME", 50.0, 15.0, 100.0)
    grid = made(small_inputs(always, there, first=first, last=first + dt.timedelta(days=4)))
    compare(grid)
    (carpet,) = make_carpets(grid)
    change = carpet.dates.index(first + dt.timedelta(days=2))
    assert carpet.dates[change].weekday() == 6
    skipped = carpet.shared[change, 8:12]
    if first.month == 3:
        assert not skipped.any()
        assert carpet.shared[change, 12:16].all()
    assert ZoneInfo("Europe/Berlin") == grid.period.zone


def test_a_part_of_a_carpet_keeps_its_dates() -> None:
    (carpet,) = make_carpets(made(only_partners(demo_inputs("2027-03"), "QN1PIK")))
    some = carpet.between(dt.date(2027, 3, 5), dt.date(2027, 3, 9))
    assert some.chance.shape == (5, QUARTERS)
    assert some.dates == tuple(dt.date(2027, 3, day) for day in range(5, 10))
    row = carpet.dates.index(dt.date(2027, 3, 7))
    assert np.array_equal(some.chance[2], carpet.chance[row], equal_nan=True)
    assert (some.free[2] == carpet.free[row]).all()
