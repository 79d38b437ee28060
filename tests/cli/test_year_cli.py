"""The command `year` as typed: what it prints, what it writes, how it ends."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from pipeline.cli import app

STATIONS = Path(__file__).resolve().parents[2] / "stations"


@pytest.fixture
def season(tmp_path: Path) -> Path:
    """A copy of the demo's home with one partner, to be changed at will."""
    folder = tmp_path / "stations"
    folder.mkdir()
    for name in ("qm7tor.yaml", "qf4lum.yaml"):
        shutil.copy(STATIONS / name, folder / name)
    (folder / "season.yaml").write_text("home: QM7TOR\nband: 3cm\nmonths: [2027-03]\n", encoding="utf-8")
    return folder / "season.yaml"


def typed(season: Path, *words: str) -> Result:
    return CliRunner().invoke(app, ["year", *words, "--season", str(season), "--out", str(season.parent / "out")])


def test_a_month_without_pdf(season: Path) -> None:
    result = typed(season, "--months", "1", "--no-pdf")
    assert result.exit_code == 0, result.output
    out = season.parent / "out"
    assert {path.name for path in out.iterdir()} - {".lock"} == {
        "year.html", "year.csv", "weekends.csv", "year_partners.csv",
    }  # fmt: skip
    assert len((out / "year.csv").read_text().splitlines()) == 31
    assert "Best weekends, by the contacts to expect within everybody's hours:" in result.stdout
    assert "The Moon comes to 27.7 degrees north" in result.stdout
    assert f"Open: {out / 'year.html'}" in result.stdout.replace("\n", " ")


@pytest.mark.parametrize("months", ["0", "25", "-3"])
def test_other_counts_of_months_are_refused(season: Path, months: str) -> None:
    result = typed(season, "--months", months)
    assert result.exit_code == 2
    assert "a number from 1 to 24 is meant" in result.stderr
    assert not (season.parent / "out").exists()


@pytest.mark.parametrize("month", ["2093-01", "2053-09"])
def test_a_month_beyond_the_kernel_gets_its_sentence(season: Path, month: str) -> None:
    """DE421 ends in October 2053; the second season starts within and ends beyond it."""
    season.write_text(season.read_text().replace("2027-03", month))
    result = typed(season, "--months", "3", "--no-pdf")
    assert result.exit_code == 2
    assert "de421.bsp does not cover" in result.stderr
    assert "Traceback" not in result.output
    assert not (season.parent / "out").exists()


def test_nobody_in_reach_ends_with_three_and_files(season: Path) -> None:
    (season.parent / "qf4lum.yaml").write_text(
        "call: QZ9ZZ\nposition: {latitude_deg: 34, longitude_deg: 124, height_m: 0}\nminimum_elevation_deg: 80\n"
    )
    result = typed(season, "--months", "1", "--no-pdf")
    assert result.exit_code == 3, result.output
    assert "No weekend that could be used. None earns a set-up within everybody's hours." in " ".join(
        result.stdout.split()
    )
    assert (season.parent / "out" / "year.html").is_file()


def test_help_has_an_example() -> None:
    result = CliRunner().invoke(app, ["year", "--help"])
    assert result.exit_code == 0
    assert "Example: mutual-moon year --months 12" in result.stdout
