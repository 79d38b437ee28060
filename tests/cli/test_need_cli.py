"""The command `need` as typed: what it prints, what it writes, how it ends."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from pipeline.cli import app

STATIONS = Path(__file__).resolve().parents[2] / "stations"


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the demo's home with two partners, one of which the Moon never shows at once."""
    folder = tmp_path_factory.mktemp("need") / "stations"
    folder.mkdir()
    for name in ("qm7tor.yaml", "qk3red.yaml", "qi9tea.yaml"):
        shutil.copy(STATIONS / name, folder / name)
    (folder / "season.yaml").write_text(
        "home: QM7TOR\nband: 3cm\nmonths: [2027-03]\npolicy: {step_minutes: 15}\n", encoding="utf-8"
    )
    return folder / "season.yaml"


def typed(season: Path, *words: str) -> Result:
    return CliRunner().invoke(app, ["need", *words, "--season", str(season), "--out", str(season.parent / "out")])


def test_a_partner_within_reach(season: Path) -> None:
    result = typed(season, "qk3red", "--no-pdf")
    assert result.exit_code == 0, result.output
    out = season.parent / "out"
    assert "What it takes to work QK3RED" in result.stdout
    assert "workable from" in result.stdout
    assert "Whom QK3RED could work, at whatever hour:" in result.stdout
    assert f"Open: {out / 'need_QK3RED.html'}" in result.stdout.replace("\n", " ")
    page = (out / "need_QK3RED.html").read_text(encoding="utf-8")
    assert "Dish and power at QK3RED" in page
    with (out / "need_QK3RED.csv").open(encoding="utf-8", newline="") as file:
        cells = list(csv.DictReader(file))
    assert {cell["station"] for cell in cells} == {"QM7TOR", "QK3RED"}
    assert all(0.0 <= float(cell["chance_best_night"]) <= 1.0 for cell in cells)
    with (out / "need_QK3RED_least.csv").open(encoding="utf-8", newline="") as file:
        least = list(csv.DictReader(file))
    assert {(row["figure"], row["chance_asked"]) for row in least} == {
        (figure, chance) for figure in ("dish_diameter_m", "power_w", "noise_figure_db") for chance in ("0.6", "0.9")
    }


def test_the_change_that_is_advised_makes_the_partner_workable(season: Path) -> None:
    """The page's own words, typed."""
    typed(season, "QK3RED", "--no-pdf")
    with (season.parent / "out" / "need_QK3RED_least.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["change"] and row["chance_asked"] == "0.9"]
    assert rows
    for row in rows[:2]:
        words = ["plan", "--what-if", row["change"], "--json", "--season", str(season)]
        result = CliRunner().invoke(app, [*words, "--out", str(season.parent / "out")])
        assert result.exit_code == 0, result.output
        slots = json.loads(result.stdout)
        chances = [slot["chance"] for slot in slots if slot["partner"] == "QK3RED"]
        assert max(chances) >= 0.88, row  # a slot may be shortened by 0.02 of chance


def test_without_a_window_the_page_says_that_no_equipment_helps(season: Path) -> None:
    result = typed(season, "QI9TEA", "--no-pdf")
    assert result.exit_code == 3, result.output
    words = " ".join(result.stdout.split())
    assert "no equipment opens a window with QI9TEA" in words
    assert "workable from" not in words


def test_a_call_that_is_no_partner(season: Path) -> None:
    result = typed(season, "QK3REX", "--no-pdf")
    assert result.exit_code == 2
    assert "did you mean QK3RED?" in result.stderr
