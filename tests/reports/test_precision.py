"""Files have the digits that are known, the same ones on every processor."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.reports.precision import decimals_of, rounded, rounded_table, rounded_tree
from pipeline.reports.table_text import columns_of
from pipeline.reports.tables import csv_text, frames
from tests.reports.invented_plan import make


def test_every_figure_of_the_files_has_a_stated_precision() -> None:
    whole = {name: frame for name, frame in frames(make(partners=2)).items() if len(frame)}
    assert set(whole) >= {"windows", "samples", "nights", "partners", "agenda"}
    for name, frame in whole.items():
        floats = [column for column in frame.columns if frame[column].dtype.kind == "f"]
        assert [(name, column) for column in floats if decimals_of(column) is None] == []


@pytest.mark.parametrize("name", ["azimuth_deg", "range_km", "doppler_spread_hz", "margin_at_home_db", "chance"])
def test_what_another_processor_adds_otherwise_is_no_other_file(name: str) -> None:
    values = np.concatenate([np.random.default_rng(7).uniform(-400.0, 400.0, 2000), [0.0, -1e-14, 1e-14, 12.5]])
    here = pd.DataFrame({name: values})
    there = pd.DataFrame({name: values * (1.0 + 4e-16) + 1e-15})
    assert not np.array_equal(here[name], there[name])
    assert csv_text(here) == csv_text(there)
    assert "-0.0\n" not in csv_text(here)
    assert rounded_table(here).equals(rounded_table(there))


def test_the_unit_in_a_name_decides() -> None:
    assert float(rounded("home_azimuth_deg", 112.89668101600753)) == 112.8967
    assert float(rounded("doppler_rate_hz_per_s", 1.23456789)) == 1.2346
    assert float(rounded("home_range_km", 384_400.123456)) == 384_400.12
    assert float(rounded("joint_chance_met", 0.123456)) == 0.1235
    assert float(rounded("slope", 123.4567891234)) == 123.456789
    tree = {"measured": [{"call": "QF4LUM", "noise_db": 1.23456, "count": 3, "good": True, "none": None}]}
    assert rounded_tree(tree) == {
        "measured": [{"call": "QF4LUM", "noise_db": 1.235, "count": 3, "good": True, "none": None}]
    }


def test_instants_are_told_to_the_tenth_of_a_second() -> None:
    stamps = pd.to_datetime(["2027-03-01T23:59:59.949999Z", "2027-03-01T23:59:59.95Z", None], utc=True)
    assert columns_of(pd.DataFrame({"a_utc": stamps}))[0].cells == [
        "2027-03-01T23:59:59.9Z",
        "2027-03-02T00:00:00.0Z",
        "",
    ]
    mixed = pd.DataFrame({"a_utc": [stamps[0], None, "no"]}, dtype=object)
    assert columns_of(mixed)[0].cells == ["2027-03-01T23:59:59.9Z", "", "no"]
