"""`measure` in the terminal: noted whole, told inside its doubt, and gone by in check, plan and sheets."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from pipeline.record.log_csv import GUESSED, PERIODS
from pipeline.record.measurements import COLUMNS
from tests.conftest import Type

STATIONS = Path(__file__).resolve().parents[2] / "stations"
FILE = Path("stations/record/measurements.csv")
OUT = Path("out/2027-03-12_2027-03-14")


@pytest.fixture
def moon(tmp_path: Path, mutual_moon: Type) -> Type:
    """The commands, in a folder with the demo's home, one partner and three nights."""
    stations = tmp_path / "stations"
    stations.mkdir()
    for call in ("QM7TOR", "QF4LUM"):
        shutil.copy(STATIONS / f"{call.lower()}.yaml", stations)
    text = (STATIONS / "season.yaml").read_text("utf-8")
    text = re.sub(r"months: .*", "dates: 2027-03-12/2027-03-14", text)
    kept = [line for line in text.splitlines() if "{call:" not in line or "QF4LUM" in line]
    (stations / "season.yaml").write_text("\n".join(kept) + "\n", "utf-8")
    return mutual_moon


def test_a_reading_is_noted_and_told_inside_its_doubt(moon: Type) -> None:
    code, said, _ = moon("measure", "2027-03-13T18:20Z", "sun", "11.2")
    assert code == 0
    assert "QM7TOR, 3cm: Sun 11.2 dB at 2027-03-13 18:20 UTC, azimuth 304.6°, 43.4° up, as the dial pointed" in said
    expected, low, high, less = re.search(  # type: ignore[union-attr]
        r"expected ([\d.]+) dB, nine times in ten ([\d.]+) to ([\d.]+); measured ([\d.]+) dB less", said
    ).groups()
    assert float(low) < 11.2 < float(expected) < float(high)
    assert float(less) == pytest.approx(float(expected) - 11.2, abs=0.051)
    assert "Inside the doubt: nothing is wrong by this reading." in said
    assert "Ground against cold sky would tell the receiver's noise from gain and aim." in said
    assert FILE.read_text().splitlines()[1] == "2027-03-13T18:20Z,QM7TOR,3cm,sun,11.2,dial,,,"


def test_a_poor_reading_says_where_to_look_first(moon: Type) -> None:
    said = moon("measure", "2027-03-13T18:20Z", "sun", "7.5")[1]
    assert re.search(r"Below the doubt\. All of it would be an axis 0\.\d° off\. Look at the aim first", said)
    assert "By 1 reading QM7TOR hears" in said


def test_an_echo_without_its_minus_is_asked_for(moon: Type) -> None:
    """Far from all that is to be expected, and its opposite is near: nothing is written until the sign is told."""
    code, _, said = moon("measure", "2027-03-13T22:40Z", "echo", "15.5")
    assert code == 2
    assert said.startswith("echo 15.5: the own echo is expected at −")
    assert said.endswith("; if −15.5 dB was read, write -15.5, and +15.5 if it was not. Nothing was written.\n")
    assert not FILE.exists()
    assert moon("measure", "2027-03-13T22:40Z", "echo", "-15.5")[0] == 0
    assert moon("measure", "2027-03-13T22:45Z", "echo", "+15.5")[0] == 0
    assert moon("measure", "2027-03-13T22:50Z", "echo", "1.5")[0] == 0
    assert [line.split(",")[4] for line in FILE.read_text().splitlines()[1:]] == ["-15.5", "15.5", "1.5"]


def test_a_dial_that_is_off_is_told_and_spoils_no_plan(moon: Type) -> None:
    """Within the dial's own fifth of a degree nothing is said; what no error of pointing explains does not count."""
    near, off, far = (
        moon("measure", f"2027-03-13T18:{minute}Z", "sun", "12.0", "--azimuth-offset", offset)[1]
        for minute, offset in (("20", "0.2"), ("25", "-0.7"), ("30", "12"))
    )
    assert "At the peak" not in near
    assert "Inside the doubt: nothing is wrong by this reading." in near
    assert "At the peak the azimuth dial showed 0.7° less than the truth." in off
    assert "night DATE --dial-offset -0.7." in off
    assert "Inside the doubt: nothing is wrong by its level." in off
    assert "kept and not counted" not in off
    assert "night DATE --dial-offset 12." in far
    assert "The reading is kept and not counted: no doubt explains it." in far
    assert "nor a dial that is to be set?" in far
    assert "By 2 readings QM7TOR hears" in far


def test_a_reading_of_another_month_leads_to_its_plan(moon: Type) -> None:
    assert moon("measure", "2027-04-11T22:05Z", "echo", "-14")[1].endswith("next: mutual-moon plan --month 2027-04\n")
    assert moon("measure", "2027-03-13T22:40Z", "echo", "-14")[1].endswith("next: mutual-moon plan\n")


def test_a_weak_echo_is_a_number_and_no_option(moon: Type) -> None:
    assert moon("measure", "2027-03-13T22:40Z", "echo", "-15.5")[0] == 0
    assert ",echo,-15.5," in FILE.read_text()


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("2027-03-13T02:40Z sun 11", "below the level horizon of QM7TOR at 2027-03-13 02:40 UTC; give the time in UTC"),
        ("2027-03-13T18:20 sun 11", "and no clock is named; write mutual-moon measure 2027-03-13T18:20Z sun 11 where"),
        ("2027-03-13T18:20Z sun much", "measure: measured_db is 'much'; a number from -1 to 40 is meant"),
        ("2027-03-13T18:20Z sun 11 --station QF4LUN", "QF4LUN: no such station in this season; QF4LUM is the nearest"),
        ("2027-03-13T18:20Z sun 11 --band 23cm", "QM7TOR has no equipment on 23cm; its file has 3cm"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_written(moon: Type, typed: str, told: str) -> None:
    code, _, error = moon("measure", *typed.split())
    assert code == 2
    assert told in " ".join(error.split())
    assert not FILE.exists()


def test_check_plan_and_sheets_go_by_the_readings(moon: Type) -> None:
    assert moon("plan", "--no-pdf")[0] == 0
    before = json.loads((OUT / "data" / "run.json").read_text())
    chances = {one["partner"]: one["chance"] for one in json.loads((OUT / "data" / "plan.json").read_text())["windows"]}
    for time, what, value in (("11T18:20", "sun", "8.9"), ("11T18:40", "ground", "4.0"), ("12T18:20", "sun", "9.1")):
        assert moon("measure", f"2027-03-{time}Z", what, value)[0] == 0
    checked = moon("check", "QM7TOR")[1]
    assert re.search(r"gain over temperature +\d+\.\d\d dB/K +± 0\.\d dB, by the file \d", checked)
    assert re.search(r"last of sun +8\.9, 9\.1 dB", checked)
    assert "The plan takes the figures as planned" in " ".join(checked.split())
    code, said, error = moon("letters")
    assert code == 2
    assert "measurements.csv" in said + error or "changed" in said + error
    assert moon("plan", "--no-pdf")[0] == 0
    after = json.loads((OUT / "data" / "run.json").read_text())
    assert after["plan_number"] != before["plan_number"]
    assert "record/measurements.csv" in after["inputs"]
    (measured,) = after["measured"]
    assert measured["receive_db"] < -1.5
    worse = {one["partner"]: one["chance"] for one in json.loads((OUT / "data" / "plan.json").read_text())["windows"]}
    assert worse["QF4LUM"] < chances["QF4LUM"]
    sheets = "".join(one.read_text() for one in sorted((OUT / "nights").glob("*/sheets.html")))
    assert "your last two: 8.9, 9.1 dB" in sheets
    assert "your last: 4.0 dB" in sheets


def test_readme_shows_what_is_said(tmp_path: Path, mutual_moon: Type) -> None:
    shutil.copytree(STATIONS, tmp_path / "stations")
    readme = (STATIONS.parent / "README.md").read_text("utf-8")
    block = readme.split("$ mutual-moon measure ", 1)[1].split("```", 1)[0]
    typed, shown = block.split("\n", 1)
    code, said, _ = mutual_moon("measure", *typed.split())
    assert code == 0
    assert said.split() == shown.split()


def test_developers_name_every_column() -> None:

    text = (STATIONS.parent / "DEVELOPERS.md").read_text("utf-8")
    assert all(f"`{name}`" in text for name in (*COLUMNS, *PERIODS, *GUESSED))
