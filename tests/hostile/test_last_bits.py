"""Last bits of the sky, in which processors differ, stay far below the last digit that files write, in every column.

Whichever digits are written, a figure stands beside an edge between two of them by chance: what is moved by a share of
a digit changes it with just that probability. So the shares of all figures add up to the changes that are to be
expected, and no share may be great because some step of the work brings last bits out.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest

from pipeline.ephemeris import sky as sky_room
from pipeline.pairs import survey
from pipeline.plan.plan import make_plan
from pipeline.record.inputs import read_inputs
from pipeline.reports.precision import decimals_of
from pipeline.reports.tables import frames
from pipeline.windows import nights
from tests.hostile.small_season import lay_out

SHAKEN = ("moon_km", "moon_km_per_s", "sun_km", "sun_km_per_s", "equator", "spin_rad")
TODAY = dt.date(2027, 2, 1)
# Changes to be expected in a million figures, and the greatest share of one.
changes_bar, share_bar = 0.002, 1e-5


def _shaken_sky(*edges: Any) -> sky_room.Sky:
    """The sky with every third node a bit up, every third a bit down."""
    sky = sky_room.make_sky(*edges)
    for name in SHAKEN:
        array = getattr(sky, name)
        way = np.resize([np.inf, 0.0, -np.inf], array.size).reshape(array.shape)
        array[way != 0.0] = np.nextafter(array, way)[way != 0.0]
    return sky


def _shares(one: pd.DataFrame, other: pd.DataFrame) -> dict[str, npt.NDArray[np.float64]]:
    """By column, what lies between two tables in units of the last digit written; what is infinite is not written."""
    found: dict[str, npt.NDArray[np.float64]] = {}
    for name in map(str, one.columns):
        if isinstance(one[name].dtype, pd.DatetimeTZDtype):
            apart, places = (one[name] - other[name]).dt.total_seconds(), 1
        elif one[name].dtype.kind == "f":
            known = decimals_of(name)
            assert known is not None, name
            apart, places = one[name] - other[name], known
        else:
            continue
        found[name] = np.abs(apart[np.isfinite(apart)].to_numpy()) * 10.0**places
    return found


def test_last_bits_of_the_sky_move_no_written_digit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    inputs = read_inputs(lay_out(tmp_path) / "stations" / "season.yaml")
    calm = frames(make_plan(inputs, TODAY))
    for room in (survey, nights):
        monkeypatch.setattr(room, "make_sky", _shaken_sky)
    shaken = frames(make_plan(inputs, TODAY))
    shares = {f"{table}.{name}": one for table in calm for name, one in _shares(calm[table], shaken[table]).items()}
    assert {name: one.max() for name, one in shares.items() if one.size and one.max() > share_bar} == {}
    changes = sum(float(one.sum()) for one in shares.values())
    assert 0.0 < changes < changes_bar * sum(one.size for one in shares.values()) / 1e6
