"""What the skyline costs by azimuth, against the plan's windows and samples counted by hand and another ephemeris."""

from __future__ import annotations

import datetime as dt
import math
from functools import cache

import ephem
import numpy as np
import pytest

from pipeline.agenda.agenda import make_agenda
from pipeline.agenda.proposal_ground import Ground, make_ground
from pipeline.inputs.model import mask_arrays
from pipeline.outlook.skyline_cost import ONE_DEG, TREES_DEG, SeenMinutes, SkylineCost, seen_minutes, skyline_cost
from pipeline.outlook.worth import Worth
from pipeline.sheets.survey_card import COLUMNS, lead_words
from pipeline.windows.span import span_of
from tests.agenda.slot_grids import fortnight
from tests.conftest import Outside

CALLS = ("QF4LUM", "QX6ICE", "QT8NUI")


@cache
def ground() -> Ground:
    inputs = fortnight(*CALLS)
    return make_ground(inputs, span_of(inputs, dt.date(2027, 3, 1)), lambda _: None)


@cache
def cost_of(station: int) -> tuple[SeenMinutes, SkylineCost]:
    found = ground()
    seen = seen_minutes(found.survey, found.grid, Worth(found.grid, found.agenda.commitments), station)
    return seen, skyline_cost(found.survey, station, seen)


def ephem_moon(station: int, moments: list[dt.datetime]) -> tuple[np.ndarray, np.ndarray]:
    """Azimuth and apparent elevation by PyEphem, degrees; refraction by Saemundsson 1986 (Meeus, 16.4; from memory)."""
    home = ground().grid.inputs.home if station == 0 else ground().grid.inputs.partners[station - 1]
    place = home.position
    observer = ephem.Observer()
    observer.lat, observer.lon = math.radians(place.latitude_deg), math.radians(place.longitude_deg)
    observer.elevation, observer.pressure, found = place.height_m, 0.0, []
    for moment in moments:
        observer.date = ephem.Date(moment.replace(tzinfo=None))
        moon = ephem.Moon(observer)
        found.append((math.degrees(moon.az), math.degrees(moon.alt)))
    azimuth, elevation = np.array(found).T
    lift = 1.02 / np.tan(np.radians(elevation + 10.3 / (elevation + 5.11))) / 60.0
    return azimuth, elevation + lift


@pytest.mark.parametrize("station", [0, 1])
def test_minutes_lost_are_those_of_the_windows_by_another_ephemeris(station: int, outside: Outside) -> None:
    """Every minute of every window, by PyEphem's Moon and the station file's own points; ten degrees of azimuth each.

    A minute on an edge may fall to either side: the windows begin and end there.
    """
    cost = cost_of(station)[1]
    grid = ground().grid
    who = grid.inputs.home if station == 0 else grid.inputs.partners[station - 1]
    rows = grid.windows if station == 0 else grid.windows[grid.windows["partner"] == who.call]
    moments = [
        (start.ceil("min") + dt.timedelta(minutes=number)).to_pydatetime() + dt.timedelta(seconds=30)
        for start, end in zip(rows["window_start_utc"], rows["window_end_utc"], strict=True)
        for number in range(int((end.floor("min") - start.ceil("min")).total_seconds() // 60))
    ]
    azimuth, elevation = ephem_moon(station, moments)
    floor = np.maximum(np.interp(azimuth, *mask_arrays(who), period=360.0), who.minimum_elevation_deg)
    worst = 0.0
    for rise, ours in ((ONE_DEG, cost.any_one), (TREES_DEG, cost.any_trees)):
        lost = np.bincount(np.rint(azimuth[elevation < floor + rise]).astype(int) % 360, minlength=360)
        assert lost.sum() > 20
        apart = abs(lost.reshape(36, 10).sum(axis=1) - ours.reshape(36, 10).sum(axis=1))
        worst = max(worst, float(apart.max()))
        assert abs(int(lost.sum()) - int(ours.sum())) <= 0.03 * lost.sum() + 3
        assert apart.max() <= 4
    outside("ephem", 72, f"{worst:g} min", "minutes that a higher skyline takes, by ten degrees")


def test_a_raised_skyline_takes_what_the_card_said() -> None:
    """The dearest azimuth raised in the file: the windows that are made anew are as much shorter.

    The line falls to what it was within a degree to either side, so it takes at least what the one degree held.
    """
    import dataclasses

    from pipeline.inputs.model import HorizonPoint
    from pipeline.pairs.survey import make_survey

    inputs, cost = ground().grid.inputs, cost_of(0)[1]
    dear = int(np.argmax(cost.any_trees))
    high = float(cost.counts_deg[dear]) + TREES_DEG
    low = [HorizonPoint(float(at % 360), float(cost.counts_deg[at % 360])) for at in range(dear - 178, dear + 180, 2)]
    block = [HorizonPoint((dear + side) % 360.0, high) for side in (-0.5, 0.5)]
    edge = [HorizonPoint((dear + s) % 360.0, float(cost.counts_deg[(dear + round(s)) % 360])) for s in (-0.51, 0.51)]
    others = [one for one in low if abs((one.azimuth_deg - dear + 180) % 360 - 180) > 0.6]
    raised = dataclasses.replace(inputs.home, horizon=(*others, *block, *edge))
    again = make_survey(
        dataclasses.replace(inputs, home=raised), span_of(inputs, dt.date(2027, 3, 1)), lambda _: None
    ).windows
    before, after = (float(one["duration_min"].sum()) for one in (ground().survey.windows, again))
    windows = len(ground().survey.windows)
    assert before - after == pytest.approx(int(cost.any_trees[dear]), abs=2.0 + 0.25 * windows)
    assert before - after > 10.0


def test_the_page_names_the_rises_that_are_counted() -> None:
    assert (ONE_DEG, TREES_DEG) == (1.0, 5.0)
    assert "one degree higher there, or five" in lead_words(3, 5.0)
    assert f"usable_minutes_lost_by_{TREES_DEG:g}_deg" in COLUMNS


def test_usable_minutes_are_a_part_and_rank_first() -> None:
    for station in (0, 1, 3):
        cost = cost_of(station)[1]
        assert (cost.usable_one <= cost.any_one).all()
        assert (cost.usable_trees <= cost.any_trees).all()
        assert (cost.any_one <= cost.any_trees).all()
        order = cost.order
        assert sorted(order) == np.flatnonzero(cost.any_trees).tolist()
        assert (np.diff(cost.usable_trees[order]) <= 0).all()
    assert cost_of(0)[1].usable_trees.sum() > 0


def test_usable_minutes_lie_in_slots_that_could_be_planned() -> None:
    """Counted slot by slot, without the grid's rows."""
    seen = cost_of(0)[0]
    grid, agenda = ground().grid, make_agenda(ground().grid)
    slots = Worth(grid, agenda.commitments).usable
    held = {
        (int(pair), minute)
        for pair, start, end in zip(slots.pair, slots.start, slots.end, strict=True)
        for minute in range(int(start), int(end))
    }
    assert int(seen.usable.sum()) == len(held)
