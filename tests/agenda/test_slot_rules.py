"""The agenda's small print: the gap to a minute, what was sent twice stays twice, and how ties are settled."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from pipeline.absence import upgrades as mending
from pipeline.agenda.agenda import LEAST_GAIN, TIE_MOST_DB, TIE_STEP_DB, _demand, _second
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.commitments import Kept, _too_close, blocked
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.link.chance import node_weights
from tests.agenda.slot_grids import (
    agenda_of,
    answer,
    grid_of,
    march_inputs,
    offers_of,
    only_wanted,
    with_record,
    with_wish,
)

GAP = 15


def _slots(*times: tuple[int, int], chance: float = 0.5) -> Candidates:
    """Slots of the first pair at these minutes, as sure at every node of station errors; one night, all are there."""
    count = len(times)
    start, end = np.array(times, dtype=np.int64).reshape(-1, 2).T
    nothing = np.zeros(count, dtype=np.int64)
    sure = np.full((count, node_weights().size), chance)
    return Candidates(nothing, nothing, nothing, start, end, np.full(count, chance), sure, *np.ones((2, count)))


def _kept(start: int, end: int, chance: float = 0.5) -> Kept:
    return Kept(0, "QM7TOR", "A", "confirmed", _slots((start, end), chance=chance))


# The gap


@pytest.mark.parametrize(("start", "near"), [(75, False), (74, True), (-75, False), (-74, True)])
def test_the_gap_is_enough_to_the_minute(start: int, near: bool) -> None:
    """A slot of an hour beside one from 0 to 60, before and behind it."""
    slot = _slots((start, start + 60))
    assert blocked(slot, ((0, 60),), GAP).tolist() == [near]
    assert _too_close(_kept(start, start + 60), _kept(0, 60), GAP) == near
    both = _slots((0, 60), (start, start + 60))
    worth = _worth_of(both, np.zeros(2, dtype=bool))
    assert np.isneginf(worth[0, 1]) == near
    assert np.isneginf(worth[1, 0]) == near


def _worth_of(slots: Candidates, kept: np.ndarray) -> np.ndarray:
    demand = _demand(_ground(), 0, slots, np.arange(slots.start.size), [], kept)
    assert demand.pair_worth is not None
    return demand.pair_worth


def _ground(**policy: object) -> SlotGrid:
    return grid_of(march_inputs(gap_minutes=GAP, presence=1.0, **policy))


# Second slots


def test_a_second_slot_that_adds_little_stays_only_where_it_was_sent() -> None:
    """Two slots almost sure add less than the least gain to one another: only two that both stand already may."""
    slots = _slots((0, 60), (600, 660), chance=0.97)
    for kept, allowed in (([True, True], True), ([True, False], False), ([False, False], False)):
        assert np.isfinite(_worth_of(slots, np.array(kept))[0, 1]) == allowed, kept
    # The same beside one that is agreed.
    beside = [_kept(1200, 1260, chance=0.97)]
    for kept, count in (([False, True], 1), ([False, False], 0)):
        demand = _demand(_ground(), 0, slots, np.arange(2), beside, np.array(kept))
        assert (demand.slots.size, demand.most) == (count, count), kept


def test_the_least_gain_of_a_second_slot() -> None:
    """Beside a chance of a half another of `chance` adds half of it; both errors of station figures left out."""
    assert LEAST_GAIN == 0.05
    for chance, allowed in ((0.101, True), (0.099, False)):
        demand = _demand(
            _ground(), 0, _slots((600, 660), chance=chance), np.arange(1), [_kept(0, 60)], np.zeros(1, dtype=bool)
        )
        assert demand.slots.size == int(allowed), chance
    # Nothing is worth a third evening.
    two = [_kept(0, 60, 0.3), _kept(300, 360, 0.3)]
    assert _demand(_ground(), 0, _slots((600, 660)), np.arange(1), two, np.zeros(1, dtype=bool)).most == 0


def test_two_slots_that_were_sent_stay_two() -> None:
    """They were sent when two contacts were wanted; one is wanted now, and it is as good as sure with either."""
    wanted = with_wish(only_wanted(march_inputs(night_cost=0.0, presence=1.0), "QN1PIK"), "QN1PIK", contacts_wanted=2)
    sent = agenda_of(wanted)[2]
    assert len(sent) == 2
    one = only_wanted(march_inputs(night_cost=0.0, presence=1.0), "QN1PIK")
    assert len(agenda_of(one)[2]) == 1
    kept = agenda_of(with_record(one, (), offers_of(sent)))[2]
    assert len(kept.merge(sent, on=["uid", "slot_start_utc", "slot_end_utc"])) == 2
    # One of them confirmed, the other still an open offer.
    first = sent.iloc[0]
    answers = (answer("QN1PIK", first["slot_start_utc"].to_pydatetime(), "confirmed", first["label"]),)
    kept = agenda_of(with_record(one, answers, offers_of(sent)))[2]
    assert kept["slot_start_utc"].tolist() == sent["slot_start_utc"].tolist()


# Ties


def test_of_equals_the_quieter_and_then_the_earlier() -> None:
    """The second criterion of every slot of the month, from its degradation by half decibels and its start."""
    grid = grid_of(march_inputs())
    pool = grid.slots
    second = _second(grid, pool)
    middle = (pool.start + pool.end) / 2
    degradation_db = grid.track.at(grid.samples["degradation_db"].to_numpy(float), middle, pool.window)
    step = np.minimum(np.round(degradation_db / TIE_STEP_DB), TIE_MOST_DB / TIE_STEP_DB)
    assert (TIE_STEP_DB, TIE_MOST_DB) == (0.5, 10.0)
    table = pd.DataFrame({"step": step, "start": pool.start, "second": second})
    ordered = table.sort_values(["step", "start"])
    rises = np.diff(ordered["second"])
    same = (np.diff(ordered["step"]) == 0) & (np.diff(ordered["start"]) == 0)
    assert (rises[~same] > 0.0).all()
    assert np.allclose(rises[same], 0.0)
    assert second.min() >= 0.0
    assert second.max() <= 1.0
    assert np.unique(step).size > 5


# What would help


@pytest.mark.parametrize(("wanted_m", "told_m"), [(14.96, 15.0), (15.04, None)])
def test_no_dish_above_fifteen_metres_is_advised(
    wanted_m: float, told_m: float | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first dish tried would do; it is told only as far as anybody could build it."""
    grid = _ground()
    size = grid.inputs.home.bands["3cm"].antenna.dish_diameter_m
    assert size is not None
    monkeypatch.setattr(mending, "_chance_with", lambda *_: 1.0)
    missing_db = 20.0 * math.log10(wanted_m / size)
    assert mending.dish_that_would_do(grid, _slots((0, 60)), "home", missing_db) == told_m
