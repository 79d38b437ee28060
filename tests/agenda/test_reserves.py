"""Reserve nights: no other night holds more of the partners; each claim is tried against every set of slots."""

from __future__ import annotations

import dataclasses
import datetime as dt
from itertools import permutations

import numpy as np
import pytest

from pipeline.agenda.agenda import Agenda
from pipeline.agenda.reserves import Reserve, reserve_nights
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.wording.agenda import reserve_words
from tests.agenda.slot_grids import agenda_of, march_inputs, with_record
from tests.agenda.test_outcomes import agreed, first_plan, planned


def can_hold(grid: SlotGrid, agenda: Agenda, night: int, pairs: tuple[int, ...]) -> bool:
    """Whether in any order each of these gets a slot, the earliest that is free."""
    pool, gap = agenda.pool, grid.inputs.season.policy.gap_minutes
    for order in permutations(pairs):
        free = 0
        for pair in order:
            mine = (pool.pair == pair) & (pool.night == night) & (pool.start >= free)
            if not mine.any():
                break
            free = int(pool.end[mine].min()) + gap
        else:
            return True
    return False


@pytest.mark.parametrize("policy", [{}, {"maximum_slots_per_night": 5, "night_cost": 1.5}, {"slot_minutes": 90}])
def test_no_free_night_holds_more(policy: dict[str, object]) -> None:
    grid, agenda, table = agenda_of(march_inputs(**policy))
    dates, most = grid.period.dates, grid.inputs.season.policy.maximum_slots_per_night
    found = reserve_nights(grid, agenda)
    assert [one.night for one in found] == sorted(set(table["night"]))
    assert any(one.reserve for one in found)
    for one in found:
        mine = tuple(
            grid.inputs.place_of(call) for call in dict.fromkeys(table[table["night"] == one.night]["partner"])
        )
        assert set(one.partners) <= {grid.inputs.partners[pair].call for pair in mine}
        later = [night for night in range(len(dates)) if dates[night] > one.night and night not in agenda.nights]
        held = tuple(map(grid.inputs.place_of, one.partners))
        assert len(held) <= most
        if one.reserve is None:
            assert held == ()
        else:
            assert dates.index(one.reserve) in later
            assert can_hold(grid, agenda, dates.index(one.reserve), held)
        size = len(held) + 1
        if size > min(most, len(mine)):
            continue
        for night in later:
            assert not any(can_hold(grid, agenda, night, some[:size]) for some in permutations(mine, size))


def test_what_is_over_has_no_reserve_and_is_none() -> None:
    row = first_plan().iloc[0]
    grid, agenda, table = planned(with_record(march_inputs(), (agreed(row, "made"),)))
    found = reserve_nights(grid, agenda)
    assert [one.night for one in found] == sorted(set(table.loc[table["slot_outcome"] == "", "night"]))
    assert row["partner"] not in {call for one in found for call in one.partners}


def test_the_nearest_of_equal_nights() -> None:
    grid, agenda, _ = agenda_of(march_inputs())
    pool = agenda.pool
    flat = dataclasses.replace(agenda, pool=dataclasses.replace(pool, chance=np.ones(pool.chance.size)))
    for one in reserve_nights(grid, flat):
        if one.reserve is None:
            continue
        held = tuple(map(grid.inputs.place_of, one.partners))
        night = grid.period.dates.index(one.night)
        for between in range(night + 1, grid.period.dates.index(one.reserve)):
            assert between in agenda.nights or not can_hold(grid, agenda, between, held)


def test_in_words() -> None:
    lost, later = dt.date(2027, 3, 12), dt.date(2027, 3, 20)
    assert reserve_words(Reserve(lost, later, ("QF4LUM", "QJ2KAW"))) == (
        "If the night of Fri 12 March is lost, that of Sat 20 March could hold QF4LUM and QJ2KAW."
    )
    assert reserve_words(Reserve(lost, None, ())) == (
        "If the night of Fri 12 March is lost, no later night that is free could hold any of its partners."
    )
