"""Beyond the table's end the Earth's rotation is held, and that is told."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from pipeline.ephemeris.sky import make_sky
from pipeline.ephemeris.timescale import held_beyond, load_clock

ten_microseconds = 1e-5


def _ut1_less_utc_s(day: dt.date) -> float:
    time = load_clock().timescale.utc(day.year, day.month, day.day)
    return float(time.dut1)


def test_ut1_is_held_beyond_the_table() -> None:
    """As astropy does; leap seconds keep it within 0.9 s (ITU-R TF.460, from memory), a parabola would not."""
    last = load_clock().known_until
    assert last is not None
    at_end = _ut1_less_utc_s(last)
    for years in (1, 5, 13, 25):
        assert _ut1_less_utc_s(last.replace(year=last.year + years)) == pytest.approx(at_end, abs=ten_microseconds)


def test_the_pole_is_held_too() -> None:
    table = {name: np.array([1.0, 2.0]) for name in ("utc_mjd", "x_arcseconds", "y_arcseconds", "dut1")}
    held = held_beyond(table)
    assert {name: column[-1] for name, column in held.items() if name != "utc_mjd"} == dict.fromkeys(
        ("x_arcseconds", "y_arcseconds", "dut1"), 2.0
    )
    assert held["utc_mjd"][-1] > 88_000


def test_a_plan_says_what_is_extrapolated() -> None:
    until = load_clock().known_until
    assert until is not None
    inside = dt.datetime.combine(until - dt.timedelta(days=60), dt.time(), dt.UTC)
    beyond = dt.datetime.combine(until + dt.timedelta(days=300), dt.time(), dt.UTC)
    assert "extrapolated" not in make_sky(inside, inside + dt.timedelta(days=1)).clock_note
    note = make_sky(beyond, beyond + dt.timedelta(days=1)).clock_note
    assert f"extrapolated: held from {until:%Y-%m-%d}" in note
    assert "0.9 s" in note
