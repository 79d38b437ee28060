"""Names, paths and files as Windows and its programs make them; its own rules stand in windows_habits.py."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from pipeline.letters.outbox import folder_name
from tests.conftest import Type
from tests.hostile.windows_habits import faults, is_device

DEVICES = [f"{kind}{number}" for kind in ("COM", "LPT") for number in range(1, 10)]


@pytest.mark.parametrize("call", [*DEVICES, "QF4LUM", "QF4LUM/P", "COM1/P", "OH/QF4LUM/QRP"])
def test_a_call_becomes_a_folder_that_windows_takes(call: str) -> None:
    name = folder_name(call)
    assert not is_device(name)
    assert "/" not in name
    assert name.startswith(call.replace("/", "-"))


def test_calls_keep_their_own_folders() -> None:
    calls = [*DEVICES, *(f"{call}/P" for call in DEVICES)]
    assert len({folder_name(call).casefold() for call in calls}) == len(calls)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows refuses them itself")
@pytest.mark.parametrize("name", ["aux", "con.txt", "nul", "trailing.", "blank ", "a:b", "what?", "Ä.csv", "x" * 200])
def test_the_rule_finds_what_windows_would_refuse(name: str, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "calendar.pdf").touch()
    assert faults(tmp_path / "out") == []
    (tmp_path / "out" / name).touch()
    assert faults(tmp_path / "out")


@pytest.mark.skipif(sys.platform != "linux", reason="file systems that tell cases apart and have links")
def test_the_rule_finds_links_and_names_that_differ_by_case(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "QX1A").touch()
    (tmp_path / "out" / "qx1a").touch()
    (tmp_path / "out" / "other").symlink_to(tmp_path)
    assert len(faults(tmp_path / "out")) == 2


def test_a_roster_from_a_spreadsheet(mutual_moon: Type, tmp_path: Path) -> None:
    """Saved with a byte order mark and CRLF; what is written of it has LF alone."""
    assert mutual_moon("new", ".")[0] == 0
    rows = "call;name;position.locator;bands.3cm.antenna.dish_diameter_m\r\nqx1abc;Ärger;KP10;2.4\r\n"
    (tmp_path / "roster.csv").write_bytes(b"\xef\xbb\xbf" + rows.encode())
    code, out, err = mutual_moon("import", "roster.csv", "--season", "season.yaml")
    assert (code, err) == (0, ""), err
    written = (tmp_path / out.splitlines()[0].removeprefix("written: ")).read_bytes()
    assert b"\r" not in written
    assert "Ärger" in written.decode()
