"""The user's own mode table takes the place of ours, is hashed as an input, and its faults are told in a sentence."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pipeline.inputs.faults import InputFaults
from pipeline.inputs.modes import mode_table
from pipeline.record.inputs import read_inputs
from pipeline.reports.places import demo_folder


@pytest.fixture
def season(tmp_path: Path) -> Path:
    """The demo season in a folder of its own."""
    for file in demo_folder().glob("*.yaml"):
        shutil.copy(file, tmp_path)
    return tmp_path / "season.yaml"


def test_ours_is_the_default(season: Path) -> None:
    inputs = read_inputs(season)
    assert inputs.modes == mode_table()
    assert "modes.yaml" not in inputs.files


def test_only_modes_of_tones_speak_of_tones() -> None:
    titles = {mode.mode: mode.title for mode in mode_table()}
    assert titles["CW"] == "CW, 60 s periods"
    assert titles["SSB"] == "SSB, 30 s periods"
    assert titles["JT65"] == "JT65, 60 s periods, tones 10.8 Hz apart"


def test_the_users_table_counts_and_is_hashed(season: Path) -> None:
    before = read_inputs(season).digest
    text = "- {mode: CW, period_s: 120, tone_spacing_hz: 40, needed_snr_db: -14, messages: 6}\n"
    (season.parent / "modes.yaml").write_text(text)
    inputs = read_inputs(season)
    assert [(mode.mode, mode.period_s, mode.messages) for mode in inputs.modes] == [("CW", 120.0, 6)]
    assert inputs.digest != before


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("- {mode: CW, period_s: x}\n", "line 1: modes.1.period_s is 'x'; a number of seconds is meant, 1 to 3600."),
        (
            "- {mode: CW, period_s: 60, tone_spacing_hz: 50, needed_snr_db: -15, message: 8}\n",
            "line 1: unknown key 'message' in modes.1; did you mean 'messages'?",
        ),
        (
            "- {mode: CW, period_s: 60, tone_spacing_hz: 50, needed_snr_db: -15}\n"
            "- {mode: CW, period_s: 0,\n   needed_snr_db: 3}",
            "line 2: modes.2.period_s is 0; a number of seconds is meant, 1 to 3600.\n"
            "modes.yaml, line 2: modes.2.tone_spacing_hz is missing; write for instance `tone_spacing_hz: 6.667`.",
        ),
        ("mode: CW\n", "list"),
        ("- [\n", "bracket"),
        ("- {mode: &a CW}\n", "line 1: the anchor"),
    ],
)
def test_a_fault_is_told(season: Path, text: str, says: str) -> None:
    (season.parent / "modes.yaml").write_text(text)
    with pytest.raises(InputFaults) as caught:
        read_inputs(season)
    assert {fault.file for fault in caught.value.faults} == {"modes.yaml"}
    assert says in str(caught.value)
