"""README as it is typed: the ten-minute path in an empty folder, every option of its table, the ways to get it."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest
import typer

from pipeline import bootstrap
from pipeline.cli import app, run
from pipeline.commands.options_meant import commands_of
from tests.readme_boxes import README, boxes, rows, typed

ROOT = Path(__file__).resolve().parents[2]


def test_the_ten_minute_path_prints_what_it_shows(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """In an empty folder, one command after the other; pages are left out where a command would make them."""
    monkeypatch.chdir(tmp_path)
    path = [one for box in boxes("Your own month in ten minutes") for one in typed(box)]
    assert [one.words[0] for one in path] == ["new", "check", "add", "plan", "letters"]
    for one in path:
        pages = ["--no-pdf"] if one.words[0] in ("plan", "letters") else []
        monkeypatch.setattr(sys, "argv", ["mutual-moon", *one.words, *pages])
        assert run() == 0, one.words
        printed = capsys.readouterr().out
        assert one.fits(printed), printed


@pytest.mark.parametrize("row", rows())
def test_every_option_of_the_table_is_one(row: str) -> None:
    commands = commands_of(typer.main.get_command(app))
    name, *words = row.split()
    for word in words:
        if word.startswith("--"):
            assert word in commands[name].options, row


def test_the_two_commands_stand_in_two_boxes() -> None:
    first, second, shown, install, alias = boxes("Get it")
    assert (first, second) == ("python3 pipeline/bootstrap.py plan\n", "python3 pipeline/bootstrap.py test\n")
    assert shown.startswith("Setting up Mutual Moon in .venv")
    windows = sum(int(count) for count in re.findall(r"(\d+) windows", shown))
    agenda = re.search(r"Agenda, 9 slots on 4 nights, about ([\d.]+) contacts", shown)
    assert agenda is not None
    told = f"nine partners and {windows} windows; nine slots on four nights are worth it, about {agenda[1]} contacts"
    assert told in README.read_text(encoding="utf-8")
    assert len(install.splitlines()) == 3
    script = re.search(r"\$PWD/([\w/.]+)", alias)
    assert script is not None
    assert (ROOT / script[1]).is_file()


def test_an_empty_folder_is_left_for_the_demo_alone(tmp_path: Path) -> None:
    """From a checkout the path works as written: what is typed in the user's own folder stays there."""
    for words in (["new", "stations"], ["add", "QT8NUI"]):
        assert not bootstrap.needs_project_folder(bootstrap.split_arguments(words), str(tmp_path))
    (tmp_path / "stations").mkdir()
    (tmp_path / "stations" / "season.yml").touch()
    assert not bootstrap.needs_project_folder(bootstrap.split_arguments(["plan"]), str(tmp_path))
