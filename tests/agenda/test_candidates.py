"""Where a slot may stand: clear of the skyline by half a beam, long enough for its mode, from the first clear minute.

Half a beam is 35 wavelengths over the diameter, in degrees, a rule of antenna handbooks (from memory).
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from pipeline.agenda.candidates import GRID_MINUTES, Minutes, find_slots, least_minutes
from pipeline.inputs.lengths import SlotMinutes
from pipeline.inputs.model import mask_arrays
from pipeline.inputs.modes import Mode
from tests.agenda.slot_grids import grid_of, march, march_inputs

MODE = Mode(mode="CW", period_s=60.0, tone_spacing_hz=50.0, needed_snr_db=-15.0, messages=4)
WAVELENGTH_M = 299.792458 / 10_368.1


def test_half_a_beam_above_the_skyline_at_both_ends() -> None:
    """The clearance of every sample of the month; at its very edge a minute counts as clear."""
    plan, grid = march(), grid_of(march_inputs())
    stations = {one.call: one for one in plan.inputs.partners}
    for call, rows in plan.samples.reset_index(drop=True).groupby("partner"):
        least = np.full(len(rows), np.inf)
        for side, station in (("home", plan.inputs.home), ("partner", stations[str(call)])):
            skyline = np.interp(rows[f"{side}_azimuth_deg"], *mask_arrays(station), period=360.0)
            above = rows[f"{side}_elevation_deg"] + rows[f"{side}_refraction_deg"] - skyline
            half_beam = 35.0 * WAVELENGTH_M / station.bands["3cm"].antenna.dish_diameter_m
            least = np.minimum(least, above.to_numpy() - half_beam)
        assert grid.track.clear_deg[rows.index] == pytest.approx(least, abs=1e-3)
    clear_deg = grid.track.at(grid.track.clear_deg, grid.minutes.minute, grid.minutes.window)
    assert (grid.minutes.clear == (clear_deg >= 0.0)).all()
    assert 0.0 < grid.minutes.clear.mean() < 1.0


@pytest.mark.parametrize(
    ("period_s", "slot_minutes", "least"),
    [(60.0, 60, 15), (150.0, 60, 15), (151.0, 60, 16), (300.0, 60, 30), (300.0, 20, 20), (60.0, 10, 10)],
)
def test_a_short_slot_holds_six_periods(period_s: float, slot_minutes: int, least: int) -> None:
    """A quarter of an hour is enough for short periods; longer ones, from a table of the user's own, want more."""
    mode, length = dataclasses.replace(MODE, period_s=period_s), SlotMinutes(slot_minutes, slot_minutes + 30)
    assert least_minutes(mode, length) == least
    assert least_minutes(None, length) == min(15, slot_minutes)


def _minutes(first: int, clear: list[bool]) -> Minutes:
    """One window of one pair, a minute each; free throughout."""
    size = len(clear)
    nothing, free = np.zeros(size, dtype=np.int64), np.ones(size, dtype=bool)
    return Minutes(first + np.arange(size), nothing, nothing, nothing, free, free, free, np.array(clear))


def _slots(
    minutes: Minutes, length: tuple[int, int] = (60, 60), least: int = 15, on_grid: bool = True
) -> list[tuple[int, int]]:
    found = find_slots(minutes, minutes.free, SlotMinutes(*length), [least], on_grid)
    return list(zip(found["start"].tolist(), found["end"].tolist(), strict=True))


def test_slots_stand_on_the_quarter_hours_of_a_stretch() -> None:
    assert GRID_MINUTES == 15
    # 100 minutes from minute 1: the last whole hour that fits begins at 30; with a minute less at the end of it, too.
    assert _slots(_minutes(1, [True] * 100)) == [(15, 75), (30, 90)]
    assert _slots(_minutes(1, [True] * 89)) == [(15, 75), (30, 90)]
    assert _slots(_minutes(1, [True] * 88)) == [(15, 75)]


def test_where_lengths_may_vary_the_shortest_must_fit_and_the_longest_may() -> None:
    """100 minutes from minute 1: from 45 minutes at the last quarter hour to the 60 of the first."""
    assert _slots(_minutes(1, [True] * 100), (45, 60)) == [(15, 75), (30, 90), (45, 101)]
    assert _slots(_minutes(1, [True] * 89), (45, 60)) == [(15, 75), (30, 90), (45, 90)]
    assert _slots(_minutes(1, [True] * 88), (45, 60)) == [(15, 75), (30, 89)]


def test_what_fits_no_grid_begins_with_the_stretch() -> None:
    assert _slots(_minutes(1, [True] * 60)) == [(1, 61)]
    assert _slots(_minutes(1, [True] * 100), on_grid=False) == [(1, 61)]
    assert _slots(_minutes(1, [True] * 15)) == [(1, 16)]
    assert _slots(_minutes(1, [True] * 14)) == []


def test_a_slot_begins_where_the_moon_stands_clear_and_may_end_where_it_does_not() -> None:
    edges = [False] * 5 + [True] * 20 + [False] * 10
    assert _slots(_minutes(1, edges)) == [(6, 36)]
    assert _slots(_minutes(1, [False] * 40)) == []
