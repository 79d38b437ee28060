"""In a folder whose name has blanks, what a command tells one to type next can be typed as it stands."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest

from pipeline.reports.places import demo_folder
from tests.conftest import Type

SEASON, OUT = "my season/season.yaml", "my out"
PLACES = ("--season", SEASON, "--out", OUT)


@pytest.fixture
def beside(tmp_path: Path) -> None:
    shutil.copytree(demo_folder(), tmp_path / "my season", ignore=shutil.ignore_patterns("record"))


def steps(text: str) -> list[list[str]]:
    """The words of each command that a text tells to type, by the POSIX shell's reading."""
    flat = re.sub(r"\n\s*", " ", text)
    return [shlex.split(one)[1:] for one in re.findall(r"mutual-moon (?:[^;]*?)--out 'my out'", flat)]


@pytest.mark.usefixtures("beside")
def test_the_step_after_an_answer(mutual_moon: Type) -> None:
    assert mutual_moon("plan", "--no-pdf", *PLACES)[0] == 0
    assert mutual_moon("letters", *PLACES)[0] == 0
    code, out, _ = mutual_moon("answer", "QJ2KAW", "A=yes", *PLACES)
    assert code == 0
    assert steps(out) == [["plan", *PLACES]]


@pytest.mark.usefixtures("beside")
def test_the_season_that_is_elsewhere(mutual_moon: Type) -> None:
    code, _, said = mutual_moon("check")
    assert code == 2
    assert shlex.split(said.split(": write ")[1]) == ["--season", SEASON]
    assert mutual_moon("check", "--season", SEASON)[0] == 0


def test_a_new_season(mutual_moon: Type, tmp_path: Path) -> None:
    _, out, _ = mutual_moon("new", "my own")
    told = [shlex.split(line)[1:] for line in out.splitlines() if line.startswith("  mutual-moon ")]
    assert [words[0] for words in told] == ["check", "add", "plan"]
    assert all((tmp_path / words[words.index("--season") + 1]).is_file() for words in told)
