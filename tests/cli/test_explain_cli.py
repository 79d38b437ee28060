"""The commands `explain` and `check` as typed: text of at most 100 columns, JSON, and one sentence for each mistake."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from pipeline.cli import app

SEASON = str(Path(__file__).resolve().parents[2] / "stations" / "season.yaml")
INSTANT = "2027-03-05T20:00:00Z"


def typed(*words: str) -> Result:
    return CliRunner().invoke(app, [*words, "--season", SEASON])


def test_explain_prints_aligned_text_with_sources() -> None:
    result = typed("explain", "qt8nui", INSTANT)
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    assert lines[0] == "QM7TOR and QT8NUI, 2027-03-05 20:00:00 UTC"
    assert max(len(line) for line in lines) <= 100
    for title in ("Path", "Antenna of QM7TOR", "Noise at QT8NUI", "Polarization", "Doppler and spread", "Degradation"):
        assert title in lines
    assert "  Sources" not in lines
    assert "Sources" in lines
    assert "default of the band" in result.stdout


def test_explain_as_json_is_json_and_nothing_else() -> None:
    result = typed("explain", "QT8NUI", INSTANT, "--json")
    assert result.exit_code == 0, result.output
    read = json.loads(result.stdout)
    assert read["time_utc"] == "2027-03-05T20:00:00Z"
    assert read["partner"] == "QT8NUI"
    assert read["snr_at_partner_db"] < 0.0
    assert read["sections"][0]["title"] == "Place and time"


def test_explain_gives_another_zone_as_the_same_instant() -> None:
    here, there = (typed("explain", "QT8NUI", time) for time in (INSTANT, "2027-03-05T17:00-03:00"))
    assert here.stdout == there.stdout


def test_explain_with_the_moon_down_ends_well() -> None:
    result = typed("explain", "QT8NUI", "2027-03-08T03:00Z")
    assert result.exit_code == 0
    assert "below the level horizon of QM7TOR" in result.stdout
    assert "Degradation" not in result.stdout


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("QT8NUL", INSTANT), "QT8NUI is the nearest"),
        (("XX", INSTANT), "there are QF4LUM"),
        (("QM7TOR", INSTANT), "QM7TOR is home itself"),
        (
            ("QT8NUI", "tomorrow"),
            "tomorrow: not a time with its zone; a date and a time in UTC are meant, such as 2027-03-13T23:10Z.",
        ),
        (
            ("QT8NUI", "2027-03-05T20:00"),
            "write 2027-03-05T20:00Z if the time is UTC, 2027-03-05T23:00Z if it is your own clock's.",
        ),
        (("QT8NUI", "2027-02-30T20:00Z"), "not a time"),
        (("QT8NUI", "1700-01-01T00:00Z"), "DE421 runs from 1900 to 2053"),
        (("QT8NUI", "9999-12-31T23:00Z"), "DE421 runs from 1900 to 2053"),
    ],
)
def test_a_mistake_gets_one_sentence(words: tuple[str, str], sentence: str) -> None:
    result = typed("explain", *words)
    assert result.exit_code == 2
    assert sentence in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
    assert result.stdout == ""


def test_check_lists_all_stations_and_what_is_odd() -> None:
    result = typed("check")
    assert result.exit_code == 0, result.output
    assert max(len(line) for line in result.stdout.splitlines()) <= 100
    for call in ("QM7TOR", "QF4LUM", "QT8NUI"):
        assert f"  {call} " in result.stdout
    assert "frequency_accuracy_hz 1000 is wider than decoders usually search" in result.stdout
    assert "never a compliance statement" in result.stdout


def test_check_of_one_station_tells_all_of_it() -> None:
    result = typed("check", "QT8NUI")
    assert result.exit_code == 0, result.output
    assert max(len(line) for line in result.stdout.splitlines()) <= 100
    for words in (
        "beamwidth",
        "own echo at mean distance",
        "Sun noise rise",
        "general public, peak",
        "FCC OET Bulletin 65",
    ):
        assert words in result.stdout
    assert "all equipment on 3cm" in " ".join(result.stdout.split())
    assert "a caution, never a compliance statement" in result.stdout.lower()


def test_check_of_an_unknown_call_names_the_nearest() -> None:
    result = typed("check", "QM7TOP")
    assert result.exit_code == 2
    assert "QM7TOP: no such station in this season; QM7TOR is the nearest" in result.stderr


@pytest.mark.parametrize("command", ["explain", "check"])
def test_help_has_an_example(command: str) -> None:
    result = CliRunner().invoke(app, [command, "--help"])
    assert result.exit_code == 0
    assert f"Example: mutual-moon {command}" in result.stdout
