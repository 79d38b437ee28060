"""The usable windows: each has a usable slot, its best one, and the highest margin is looked for minute by minute."""

import numpy as np
import pytest

from pipeline.agenda.commitments import make_commitments
from pipeline.agenda.slot_grid import make_slot_grid
from pipeline.outlook.usable_windows import usable_windows
from pipeline.outlook.worth import Worth
from pipeline.windows.instants import minutes_of
from tests.plan.months import demo_inputs, survey_of, with_policy


@pytest.fixture(scope="module")
def worth() -> Worth:
    inputs = with_policy(demo_inputs(), step_minutes=15)
    found = survey_of(inputs)
    grid = make_slot_grid(inputs, found.period, found.windows, found.samples, found.modes)
    return Worth(grid, make_commitments(grid))


def test_a_window_is_usable_exactly_where_a_usable_slot_lies_in_it(worth: Worth) -> None:
    found = usable_windows(worth)
    assert {one.window for one in found} == set(worth.usable.window.tolist())
    for one in found:
        mine = worth.usable.take(np.flatnonzero(worth.usable.window == one.window))
        here = np.flatnonzero(mine.start == minutes_of(one.slot_start))
        assert here.size == 1
        assert one.chance == mine.chance[here[0]] >= mine.chance.max() - 0.001
        row = worth.grid.windows.iloc[one.window]
        assert (one.partner, one.night) == (row["partner"], row["night"])
        assert row["window_start_utc"] <= one.slot_start < one.slot_end <= row["window_end_utc"]


def test_margins_are_those_of_the_samples_by_plain_loops(worth: Worth) -> None:
    """Every minute of every usable slot, one at a time, between the samples of its own window."""
    for one in usable_windows(worth)[::5]:
        window = worth.grid.windows.iloc[one.window]
        samples = worth.grid.samples
        own = samples[
            (samples["partner"] == one.partner)
            & (samples["time_utc"] >= window["window_start_utc"])
            & (samples["time_utc"] <= window["window_end_utc"])
        ]
        time = own["time_utc"].to_numpy("datetime64[us]").astype(float) / 60e6

        def margins(minute: float, time=time, own=own) -> list[float]:
            return [float(np.interp(minute, time, own[f"margin_at_{end}_db"])) for end in ("home", "partner")]

        slots = worth.usable.take(np.flatnonzero(worth.usable.window == one.window))
        looked = {
            minute: min(margins(minute))
            for start, end in zip(slots.start, slots.end, strict=True)
            for minute in range(start, end)
        }
        assert one.high_margin_db == pytest.approx(max(looked.values()), abs=0.011)
        assert looked[minutes_of(one.high_at)] == pytest.approx(one.high_margin_db, abs=1e-6)
        slot = np.array([margins(m + 0.5) for m in range(minutes_of(one.slot_start), minutes_of(one.slot_end))])
        assert one.margin_db == pytest.approx(slot.mean(axis=0).min(), abs=1e-6)
