"""The agenda's small print: the gap to a minute, what was sent twice stays twice, and how ties are settled."""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from pipeline.absence import upgrades as mending
from pipeline.agenda.agenda import LEAST_GAIN, _demand
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.commitments import Kept, _too_close, blocked
from pipeline.agenda.slot_grid import SlotGrid, make_slot_grids
from pipeline.agenda.ties import second_criterion
from pipeline.link.chance import node_weights
from pipeline.outlook.weekends import always_free
from tests.agenda.slot_grids import (
    agenda_of,
    answer,
    grid_of,
    is_there,
    march,
    march_inputs,
    minutes_between,
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
    demand = _demand(_ground(), 0, slots, np.arange(slots.start.size), [], kept, 1)
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
        demand = _demand(_ground(), 0, slots, np.arange(2), beside, np.array(kept), 1)
        assert (demand.slots.size, demand.most) == (count, count), kept


def test_the_least_gain_of_a_second_slot() -> None:
    """Beside a chance of a half another of `chance` adds half of it; both errors of station figures left out."""
    assert LEAST_GAIN == 0.05
    for chance, allowed in ((0.101, True), (0.099, False)):
        demand = _demand(
            _ground(), 0, _slots((600, 660), chance=chance), np.arange(1), [_kept(0, 60)], np.zeros(1, dtype=bool), 1
        )
        assert demand.slots.size == int(allowed), chance
    # Nothing is worth a third evening.
    two = [_kept(0, 60, 0.3), _kept(300, 360, 0.3)]
    assert _demand(_ground(), 0, _slots((600, 660)), np.arange(1), two, np.zeros(1, dtype=bool), 1).most == 0


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


def test_of_equals_the_order_of_criteria() -> None:
    """Every slot of the month: a fall-back, the Sun by 10 degrees, degradation by half decibels, the start."""
    grid = grid_of(march_inputs())
    pool = grid.slots
    second = second_criterion(grid, pool)
    middle = (pool.start + pool.end) / 2
    degradation_db = grid.track.at(grid.samples["degradation_db"].to_numpy(float), middle, pool.window)
    sun_deg = grid.track.at(grid.track.sun_deg, middle, pool.window)
    slots = list(zip(pool.pair, pool.night, pool.start, pool.end, strict=True))
    again = [any(o[:2] == one[:2] and o[2] >= one[3] for o in slots) for one in slots]
    table = pd.DataFrame(
        {
            "alone": ~np.array(again),
            "near": -np.minimum(sun_deg // 10, 9),
            "step": np.minimum(np.round(degradation_db / 0.5), 20),
            "start": pool.start,
        }
    )
    keys = list(table.columns)
    ordered = table.assign(second=second).sort_values(keys)
    rises = np.diff(ordered["second"])
    same = (np.diff(ordered[keys].to_numpy(float), axis=0) == 0).all(axis=1)
    assert (rises[~same] > 0.0).all()
    assert np.allclose(rises[same], 0.0)
    assert second.min() >= 0.0
    assert second.max() < 1.0
    assert (table[["alone", "near", "step"]].nunique() > [1, 3, 5]).all()


@dataclass(frozen=True)
class _Even:
    """A track on which every figure is that of the window, by the window's number."""

    sun_deg: np.ndarray

    def at(self, values: np.ndarray, minute: np.ndarray, window: np.ndarray) -> np.ndarray:
        return values[window]


def _tie(sun_deg: float = 60.0, degradation_db: float = 3.0, later: int = 0, again: bool = True) -> tuple[float, float]:
    """The criterion of a plain slot (window 0) and of one that differs in this alone (window 1), a week apart."""
    start = np.array([0, 600, 20000 + later, 20600 + later])[: 4 if again else 3]
    night, window = np.array([0, 0, 14, 14])[: start.size], np.array([0, 0, 1, 1])[: start.size]
    made = Candidates(
        night * 0, window, night, start, start + 60, start * 0.0, np.zeros((start.size, 1)), *np.ones((2, start.size))
    )
    samples = pd.DataFrame({"degradation_db": [3.0, degradation_db]})
    second = second_criterion(SimpleNamespace(track=_Even(np.array([60.0, sun_deg])), samples=samples), made)
    return float(second[0]), float(second[2])


def test_each_criterion_of_a_tie_by_itself() -> None:
    """Only one thing differs, and then that against all behind it at their most."""
    plain, alike = _tie()
    assert plain < alike  # The earlier.
    assert _tie(later=15)[1] > alike
    assert _tie(degradation_db=2.0)[1] < plain
    assert _tie(sun_deg=75.0, degradation_db=20.0)[1] < plain
    assert _tie(sun_deg=45.0, degradation_db=0.0)[1] > plain
    assert _tie(sun_deg=90.0, degradation_db=0.0, again=False)[1] > plain


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
    assert mending.dish_that_would_do(grid, _slots((0, 60)), "home", missing_db, 0.25) == told_m


def _first_and_last(table: pd.DataFrame) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Of each night the start of its first slot and the end of its last one."""
    grouped = table.groupby("night")
    return list(zip(grouped["slot_start_utc"].min(), grouped["slot_end_utc"].max(), strict=True))


def test_dearer_hours_make_nights_no_longer() -> None:
    """What an hour costs comes off the worth, and where it is dear fewer hours are spent."""
    found = []
    for cost in (0.0, 0.01, 0.2):
        _, agenda, table = agenda_of(march_inputs(hour_cost=cost))
        spans = _first_and_last(table)
        # Common practice, no source: the hours count from arriving to the end of the last slot.
        hours = sum((last - first).total_seconds() / 3600.0 + 2.0 for first, last in spans)
        assert agenda.choice.gap == 0.0
        found.append(hours)
    assert found[0] >= found[1] >= found[2]
    assert found[0] > found[2]


def test_setting_up_within_hours() -> None:
    """Where the policy asks for it, home is there for all of arriving before each night's first slot."""
    loose, strict = (agenda_of(march_inputs(setup_within_hours=asked, hour_cost=0.0))[2] for asked in (False, True))
    home = march_inputs().home

    def all_within(table: pd.DataFrame) -> list[bool]:
        arrive = pd.Timedelta(minutes=120)
        return [
            all(is_there(home, one) for one in minutes_between(first - arrive, first))
            for first, _ in _first_and_last(table)
        ]

    assert len(strict)
    assert all(all_within(strict))
    assert not all(all_within(loose))


def test_grounds_made_together_are_those_made_alone() -> None:
    """Home's hours differ, slots that both have are worked out once, and nothing else changes."""
    plan, inputs = march(), march_inputs()
    every = [inputs, always_free(inputs)]
    together = make_slot_grids(every, plan.period, plan.windows, plan.samples, plan.modes)
    assert together[1].slots.pair.size > together[0].slots.pair.size
    for one, grid in zip(every, together, strict=True):
        alone = grid_of(one)
        assert np.array_equal(grid.minutes.home, alone.minutes.home)
        for name in ("pair", "window", "night", "start", "end"):
            assert np.array_equal(getattr(grid.slots, name), getattr(alone.slots, name)), name
        for name in ("chance", "success", "presence", "clear"):
            assert getattr(grid.slots, name) == pytest.approx(getattr(alone.slots, name), abs=1e-12), name
