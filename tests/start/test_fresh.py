"""The ways of installing: a failing step is told, and every way ends with the main job (the ways need a network)."""

import os
import sys
from pathlib import Path

import pytest

from tests import fresh


def test_failing_step_gives_its_command_and_last_lines(tmp_path: Path) -> None:
    with pytest.raises(fresh.Failure, match=r"(?s)-c .*no such package"):
        fresh.run(sys.executable, "-c", "raise SystemExit('no such package')", cwd=tmp_path)


def test_way_that_fails_fails_the_command(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    folders: list[Path] = []

    def fail(folder: Path) -> None:
        folders.append(folder)
        raise fresh.Failure("pip: no such package")

    monkeypatch.setattr(fresh, "WAYS", {"good": folders.append, "bad": fail})
    assert fresh.main(["good"]) == 0
    assert fresh.main([]) == 1
    assert "bad: failed: pip: no such package" in capsys.readouterr().out
    assert all(" " in folder.name and not folder.name.isascii() and not folder.exists() for folder in folders)
    assert fresh.main(["worse"]) == 2


@pytest.mark.skipif(os.name == "nt", reason="the stand-in is a shell script")
def test_plan_without_a_calendar_is_a_failure(tmp_path: Path) -> None:
    program = tmp_path / "mutual-moon"
    program.write_text("#!/bin/sh\nexit 0\n", encoding="utf-8")
    program.chmod(0o755)
    with pytest.raises(fresh.Failure, match="left no calendar"):
        fresh.plan_demo(program, tmp_path)


def test_oldest_and_newest_python_can_make_environments() -> None:
    oldest, newest = fresh.pythons()
    versions = [
        fresh.run(python, "-c", "import sys; print(*sys.version_info[:2])", cwd=Path.cwd())
        for python in (oldest, newest)
    ]
    first, last = (tuple(map(int, version.split())) for version in versions)
    assert (3, 11) <= first <= sys.version_info[:2] <= last
