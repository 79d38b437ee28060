"""What README prints of `need` and `weather` is what they say of the demo."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from pipeline.cli import app

HERE = Path(__file__).resolve().parents[2]
SEASON = HERE / "stations" / "season.yaml"


def shown(command: str) -> str:
    """The block behind the one that holds the command alone."""
    text = (HERE / "README.md").read_text(encoding="utf-8")
    _, _, rest = text.partition(f"```\n{command}\n```\n\n```\n")
    assert rest, command
    return rest.partition("```")[0]


@pytest.mark.parametrize("command", ["need QK3RED", "weather"])
def test_readme_prints_what_the_command_says(command: str, tmp_path: Path) -> None:
    words = [*command.split(), "--no-pdf", "--season", str(SEASON), "--out", str(tmp_path / "out")]
    result = CliRunner().invoke(app, words)
    assert result.exit_code == 0, result.output
    said = result.stdout.replace(str(tmp_path / "out"), "out").replace(f" --season {SEASON} --out out", "")
    assert " ".join(said.split()) == " ".join(shown(command).split())
