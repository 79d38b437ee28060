"""The frequency of a pair where the season names none: home's own, else the band's usual one, told as assumed.

No outside source: files laid out here against what plan, explanation and pages say.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from pipeline.explain.explain import explain
from pipeline.inputs.bands import band_table
from pipeline.pairs.equipment import pair_transmit_mhz
from pipeline.plan.plan import make_plan
from pipeline.record.inputs import read_inputs
from pipeline.reports.method_view import method_view
from tests.plan.months import TODAY

PLACE = "position: {latitude_deg: 48.1, longitude_deg: 11.6, height_m: 500}\ntime_zone: Europe/Berlin\n"
BAND = "bands: {3cm: {antenna: {dish_diameter_m: 1.8}, power_w: 40%s}}\n"


def season_file(folder: Path, home_own: str, season: str) -> Path:
    """Home with or without a frequency of its own; the partner has none."""
    (folder / "home.yaml").write_text(f"call: QA1HOM\n{PLACE}{BAND % home_own}", encoding="utf-8")
    (folder / "other.yaml").write_text(f"call: QB2SEA\n{PLACE}{BAND % ''}", encoding="utf-8")
    file = folder / "season.yaml"
    file.write_text(f"home: QA1HOM\nband: 3cm\ndates: 2027-03-05/2027-03-06\n{season}", encoding="utf-8")
    return file


def told(file: Path) -> dict[str, tuple[float, str, bool]]:
    """Each end's frequency, its source, and whether it is marked assumed."""
    found = explain(read_inputs(file), "QB2SEA", dt.datetime(2027, 3, 5, 12, tzinfo=dt.UTC))
    lines = (line for section in found.sections for line in section.lines)
    return {
        line.quantity.split()[0]: (float(line.value), line.source, line.assumed)
        for line in lines
        if line.quantity.endswith("transmits on")
    }


def test_a_partner_without_a_frequency_is_met_on_homes_own(tmp_path: Path) -> None:
    file = season_file(tmp_path, ", frequency_mhz: 10450.2", "")
    inputs = read_inputs(file)
    assert pair_transmit_mhz(inputs, 0) == (10450.2, 10450.2)
    assert inputs.season.assumed == ()
    assert told(file) == {"QA1HOM": (10450.2, "station file", False), "QB2SEA": (10450.2, "home's station file", False)}


def test_the_usual_frequency_is_told_as_assumed(tmp_path: Path) -> None:
    file, usual = season_file(tmp_path, "", ""), band_table()["3cm"].typical_mhz
    assert told(file) == dict.fromkeys(("QA1HOM", "QB2SEA"), (usual, "band table", True))
    plan = make_plan(read_inputs(file), TODAY)
    assert plan.assumed["season"] == ("frequency_mhz",)
    line = next(one for one in method_view(plan).assumed if one.call == "season")
    assert "frequency 10368.1" in line.words.replace("\u202f", "").replace(",", "")


def test_the_seasons_frequency_stands_first(tmp_path: Path) -> None:
    file = season_file(tmp_path, "", "frequency_mhz: 10368.2\n")
    assert told(file) == dict.fromkeys(("QA1HOM", "QB2SEA"), (10368.2, "season file", False))
    assert read_inputs(file).season.assumed == ()
