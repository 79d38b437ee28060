"""Values tried without touching a file: they reach the model, say what is wrong with them, and leave the file alone."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pipeline.inputs.faults import InputFaults
from pipeline.inputs.what_if import read_changes
from pipeline.record.inputs import read_inputs

STATIONS = Path(__file__).resolve().parents[2] / "stations"


@pytest.fixture
def season(tmp_path: Path) -> Path:
    for file in STATIONS.glob("*.yaml"):
        shutil.copy(file, tmp_path)
    return tmp_path / "season.yaml"


def test_values_reach_the_stations_and_the_season(season: Path) -> None:
    texts = ["qf4lum.bands.3cm.power_w=100", "season.policy.nights=[fri, sat]", "QJ2KAW.horizon.2.elevation_deg=1.5"]
    changed = read_inputs(season, None, read_changes(texts))
    partners = {station.call: station for station in changed.partners}
    assert partners["QF4LUM"].bands["3cm"].power_w == 100
    assert changed.season.policy.nights == ("fri", "sat")
    assert partners["QJ2KAW"].horizon[1].elevation_deg == 1.5
    assert changed.digest != read_inputs(season).digest, "a tried plan has a number of its own"


def test_what_was_assumed_is_known_once_it_is_tried(season: Path) -> None:
    before = read_inputs(season)
    after = read_inputs(season, None, read_changes(["QJ2KAW.bands.3cm.spillover_fraction=0.1"]))
    key = "bands.3cm.spillover_fraction"
    assert key in next(station for station in before.partners if station.call == "QJ2KAW").assumed
    assert key not in next(station for station in after.partners if station.call == "QJ2KAW").assumed


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("QF4LUM", "no change of a value"),
        ("QF4LUM=3", "no change of a value"),
        ("QF4LUM..power_w=3", "no change of a value"),
        ("QZ9NOT.bands.3cm.power_w=3", "there is no station QZ9NOT"),
        ("QF4LUM.bands.3cm.powr=3", "power_w"),
        ("QF4LUM.bands.3cm.power_w=lots", "power_w"),
        ("QF4LUM.power_w=+50%", "is 40 now; write QF4LUM.power_w=60."),
        ("QF4LUM.power_w=-25 %", "is 40 now; write QF4LUM.power_w=30."),
        ("QF4LUM.power_w=+3 dB", "is 40 now; write QF4LUM.power_w=79.8."),
        ("QF4LUM.power_w=x2", "is 40 now; write QF4LUM.power_w=80."),
        ("QF4LUM.power_w=+10", "write QF4LUM.power_w=50, or QF4LUM.power_w=10 for that figure itself."),
        ("QF4LUM.name.first=x", "single value"),
        ("QF4LUM.horizon.99.elevation_deg=1", "entries count from 1"),
        ("QF4LUM.name=[", "bracket"),
        ("season.policy.slot_minutes=1", "slot_minutes"),
        ("season.policy.nights=&a [fri]", "anchor"),
    ],
)
def test_a_wrong_change_gets_a_sentence(season: Path, text: str, words: str) -> None:
    with pytest.raises(InputFaults) as caught:
        read_inputs(season, None, read_changes([text]))
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("text", "edges"),
    [
        ("slot_minutes=45", (45, 45)),
        ("slot_minutes={least: 30, most: 50}", (30, 50)),
        ("slot_minutes={most: 90}", (45, 90)),
    ],
)
def test_a_length_or_a_range_may_be_tried(season: Path, text: str, edges: tuple[int, int]) -> None:
    found = read_inputs(season, None, read_changes([f"season.policy.{text}"])).season.policy.slot_minutes
    assert (found.least, found.most) == edges
