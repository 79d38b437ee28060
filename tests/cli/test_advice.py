"""What a user is told on the way: stations left out, folders of another home, usage errors, the next step as typed."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.cli import run
from pipeline.reports.places import demo_folder

Type = Callable[..., tuple[int, str, str]]


@pytest.fixture
def mutual_moon(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Type:
    """Types a command in a folder with two nights of the demo and two partners."""
    stations = tmp_path / "stations"
    stations.mkdir()
    for name in ("qm7tor", "qf4lum", "qg8fen"):
        shutil.copy(demo_folder() / f"{name}.yaml", stations)
    (stations / "season.yaml").write_text(
        "home: QM7TOR\nband: 3cm\ndates: 2027-03-13/2027-03-14\npartners: [{call: QF4LUM}]\n"
        "policy: {step_minutes: 30}\n",
        "utf-8",
    )
    monkeypatch.chdir(tmp_path)

    def type_(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["mutual-moon", *words])
        code = run()
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return type_


def test_stations_that_the_season_leaves_out_are_named(mutual_moon: Type) -> None:
    code, _, err = mutual_moon("plan", "--no-pdf")
    assert code == 0
    assert "note: not a partner of this season: QG8FEN; the list `partners` in stations/season.yaml decides" in err


def test_the_plan_of_another_home_is_not_overwritten(mutual_moon: Type, tmp_path: Path) -> None:
    assert mutual_moon("plan", "--no-pdf")[0] == 0
    made = {file: file.read_bytes() for file in (tmp_path / "out").rglob("*") if file.is_file()}
    season = tmp_path / "stations" / "season.yaml"
    text = season.read_text("utf-8").replace("home: QM7TOR", "home: QG8FEN")
    season.write_text(text, "utf-8")
    fen = tmp_path / "stations" / "qg8fen.yaml"
    if "time_zone" not in fen.read_text("utf-8"):
        fen.write_text(fen.read_text("utf-8") + "time_zone: America/Halifax\n", "utf-8")
    code, out, err = mutual_moon("plan", "--no-pdf")
    assert (code, out) == (2, "")
    assert "holds the plan of QM7TOR, not of QG8FEN; choose another folder with --out" in err
    assert {file: file.read_bytes() for file in (tmp_path / "out").rglob("*") if file.is_file()} == made


def test_a_usage_error_names_the_commands_own_example_and_help(mutual_moon: Type) -> None:
    code, _, err = mutual_moon("explain", "QF4LUM")
    assert code == 2
    assert "mutual-moon explain --help says more; write\n  mutual-moon explain QF4LUM 2027-" in err
    code, _, err = mutual_moon("qwertz")
    assert code == 2
    assert "mutual-moon --help lists what there is" in err


def test_the_next_step_keeps_season_and_folder(mutual_moon: Type) -> None:
    code, _, err = mutual_moon("night", "2027-03-13", "--out", "elsewhere")
    assert code == 2
    assert err.strip().endswith("run: mutual-moon plan --out elsewhere")


def test_a_season_file_beside_is_pointed_to(mutual_moon: Type, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path / "stations")
    code, _, err = mutual_moon("plan")
    assert code == 2
    assert "there is no stations/season.yaml here, but a season.yaml" in err
    assert "run it one folder up, or: mutual-moon plan --season season.yaml" in err


def test_a_season_file_below_is_pointed_to_by_its_folder(mutual_moon: Type) -> None:
    code, _, err = mutual_moon("plan", "--season", "season.yaml")
    assert code == 2
    assert "there is no season.yaml here; it lies in stations: write --season stations/season.yaml" in err


def test_explain_says_first_that_the_moon_is_behind_the_hill(mutual_moon: Type) -> None:
    code, out, _ = mutual_moon("explain", "QF4LUM", "2027-03-19T20:30Z")
    assert code == 0
    assert out.splitlines()[1].strip().startswith("No path: the Moon is")


def test_a_remark_of_check_names_the_line_of_its_key(mutual_moon: Type, tmp_path: Path) -> None:
    partner = tmp_path / "stations" / "qf4lum.yaml"
    lines = partner.read_text("utf-8").splitlines()
    at = next(number for number, line in enumerate(lines, 1) if "power_w:" in line)
    lines[at - 1] = "    power_w: 4000"
    partner.write_text("\n".join(lines), "utf-8")
    for words in (("check",), ("check", "QF4LUM")):
        code, out, _ = mutual_moon(*words)
        assert code == 0
        assert f"- qf4lum.yaml, line {at}: power_w 4,000" in out or f"- qf4lum.yaml, line {at}: power_w 4000" in out, (
            out
        )


def test_an_import_tells_whom_the_list_of_partners_leaves_out(mutual_moon: Type, tmp_path: Path) -> None:
    (tmp_path / "roster.csv").write_text("call;locator\nQB6SUL;IM59mb\nQG5NEF;FN35fm\n", "utf-8")
    code, out, _ = mutual_moon("import", "roster.csv")
    assert code == 0
    assert "a line each: - {call: QB6SUL}, - {call: QG5NEF}" in out
