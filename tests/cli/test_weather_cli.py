"""The command `weather` as typed."""

from __future__ import annotations

import shutil
from pathlib import Path

from typer.testing import CliRunner

from pipeline.cli import app

STATIONS = Path(__file__).resolve().parents[2] / "stations"


def test_a_season(tmp_path: Path) -> None:
    for name in ("qm7tor.yaml", "qf4lum.yaml"):
        shutil.copy(STATIONS / name, tmp_path / name)
    season = tmp_path / "season.yaml"
    season.write_text("home: QM7TOR\nband: 3cm\nmonths: [2027-03]\npolicy: {step_minutes: 30}\n", encoding="utf-8")
    words = ["weather", "--no-pdf", "--season", str(season), "--out", str(tmp_path / "out")]
    result = CliRunner().invoke(app, words)
    assert result.exit_code == 0, result.output
    assert "How often weather takes the signal" in result.stdout
    page = (tmp_path / "out" / "weather.html").read_text(encoding="utf-8")
    assert "An average year and never a forecast." in page
    lines = (tmp_path / "out" / "weather.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("station,month,moon_elevation_deg,rain_over_1_db_share")
    assert len(lines) == 25
