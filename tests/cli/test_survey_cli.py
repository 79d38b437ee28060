"""`survey` as a user types it: the card, the heights shown before they are written, and what a log tells of trees."""

from __future__ import annotations

import csv
import re
import shutil
from pathlib import Path

import pytest

from pipeline.review.skyline_told import point_in
from pipeline.sheets.survey_card import COLUMNS
from tests.conftest import Type
from tests.sheets.print_marks import pages_of

DEMO = Path(__file__).parent.parent.parent / "stations"
FILE = Path("stations/qm7tor.yaml")


@pytest.fixture
def demo(mutual_moon: Type) -> Type:
    shutil.copytree(DEMO, "stations", ignore=shutil.ignore_patterns("record"))
    return mutual_moon


def test_the_card_is_one_page_and_the_filled_table_goes_into_the_file(demo: Type) -> None:
    code, out, _ = demo("survey")
    assert code == 0
    assert "a degree of skyline costs most at" in out
    pages = pages_of(Path("out/survey_card.pdf").read_bytes())
    assert len(pages) == 1
    assert pages[0].outside(14.0) == 0
    assert not pages[0].overprints()
    with Path("out/survey_card.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert tuple(rows[0]) == COLUMNS
    dear = sorted(rows, key=lambda row: int(row["rank"]))[:2]
    for row in dear:
        row["measured_elevation_deg"] = "6.5"
        assert f"{row['azimuth_deg']}°" in pages[0].text
    with Path("out/survey_card.csv").open("w", encoding="utf-8", newline="") as stream:
        table = csv.DictWriter(stream, COLUMNS)
        table.writeheader()
        table.writerows(rows)
    # A card that is made anew keeps what was filled in.
    assert demo("survey", "--no-pdf")[0] == 0
    assert not Path("out/survey_card.pdf").exists()
    before = FILE.read_text("utf-8")
    code, out, _ = demo("survey", "out/survey_card.csv")
    assert code == 0
    assert FILE.read_text("utf-8") == before, "shown and not written"
    command = next(line for line in out.splitlines() if "To write it" in line).partition(": mutual-moon ")[2]
    assert demo(*command.split())[0] == 0
    after = FILE.read_text("utf-8")
    for row in dear:
        assert f"{{azimuth_deg: {row['azimuth_deg']}, elevation_deg: 6.5}}" in after
    assert [line for line in before.splitlines() if line not in after.splitlines()] == []


def test_a_partner_has_a_card_of_its_own_and_its_table_names_it(demo: Type) -> None:
    code, out, _ = demo("survey", "--station", "qx6ice", "--no-pdf")
    assert code == 0
    assert "QX6ICE" in out
    card = Path("out/survey_card_qx6ice.csv")
    card.write_text(card.read_text("utf-8").replace(",\n", ",4\n"), "utf-8")
    assert "qx6ice.yaml" in demo("survey", str(card))[1]
    code, _, err = demo("survey", str(card), "--station", "QF4LUM")
    assert code == 2
    assert "is the card of QX6ICE" in err


def test_readme_shows_what_is_printed(demo: Type) -> None:
    readme = (DEMO.parent / "README.md").read_text("utf-8")
    block = readme.split("$ mutual-moon survey --heights 300=6,305=7.5\n", 1)[1].split("```", 1)[0]
    assert demo("survey", "--heights", "300=6,305=7.5") == (0, block, "")


def test_a_degree_sign_behind_a_height_is_taken(demo: Type) -> None:
    demo("survey", "--station", "qx6ice", "--no-pdf")
    card = Path("out/survey_card_qx6ice.csv")
    empty = card.read_text("utf-8")
    texts = []
    for height in ("4.5", "4.5°", "4.5 º"):
        card.write_text(empty.replace(",\n", f",{height}\n"), "utf-8")
        texts.append(demo("survey", str(card)))
    assert texts[0][0] == 0
    assert texts == texts[:1] * 3


def test_faults_write_nothing(demo: Type) -> None:
    before = FILE.read_text("utf-8")
    for words in (["--heights", "300=x", "--yes"], ["gone.csv"], ["--heights", "300=6", "--station", "QZZ", "--yes"]):
        code, _, err = demo("survey", *words)
        assert code == 2
        assert err
    assert FILE.read_text("utf-8") == before


def test_a_log_that_tells_of_trees_is_answered_by_a_command_and_changes_nothing(demo: Type) -> None:
    head = "night,partner,band,mode,frequency_mhz,slot_start_utc,slot_end_utc,completed,time_utc,remarks"
    slot = "2027-03-13,QF4LUM,3cm,CW,10368.1,2027-03-13T19:00:00Z,2027-03-13T20:00:00Z,no,2027-03-13T19:30Z"
    other = slot.replace("T19:30Z", "T19:40Z")
    log = Path("log.csv")
    log.write_text(
        f'{head}\n{slot},"lost behind trees at 12, 29"\n{other},"hidden by the roof at 304 degrees, 6.0"\n', "utf-8"
    )
    before = FILE.read_text("utf-8")
    code, out, _ = demo("review", str(log), "--no-pdf")
    assert code == 0
    # The Moon of that hour stands in the north (the plan's own table), nowhere near 304.
    assert "log.csv, line 3" in out
    assert "came no nearer than" in out
    assert FILE.read_text("utf-8") == before
    command = next(line for line in out.splitlines() if "where that is right" in line).partition(": mutual-moon ")[2]
    assert command == "survey --heights 12=29"
    code, out, _ = demo(*command.split(), "--yes")
    assert code == 0
    assert "{azimuth_deg: 12, elevation_deg: 29}" in FILE.read_text("utf-8")
    assert "tells of the skyline" in (again := demo("review", str(log), "--no-pdf")[1])
    assert "where that is right" not in again, "what the file has now is not proposed again"


@pytest.mark.parametrize(
    ("remark", "point"),
    [
        ("lost behind trees at 304, 6.0", (304.0, 6.0)),
        ("Trees at 304° 6°", (304.0, 6.0)),
        ("Moon hidden by the ridge at azimuth 91.5, elevation 3", (91.5, 3.0)),
        ("behind the house at 360,4", (0.0, 4.0)),
        ("lost at 304, 6.0", None),
        ("trees at 23:10, 6 dB down", None),
        ("behind trees at 2310 6", None),
        ("trees at 400, 6", None),
        ("trees everywhere", None),
    ],
)
def test_only_words_about_a_skyline_make_a_point(remark: str, point: tuple[float, float] | None) -> None:
    assert point_in(remark) == point


def test_a_guess_beside_what_was_measured_is_called_one(demo: Type) -> None:
    """Where no skyline stood, and again where more is measured in its place."""
    text = FILE.read_text("utf-8")
    FILE.write_text(re.sub(r"(?m)^horizon:\n(?:[ #].*\n)*", "", text), "utf-8")
    assert "horizon:" not in FILE.read_text("utf-8")
    code, out, _ = demo("survey", "--heights", "100=3", "--yes")
    assert code == 0
    assert "azimuth 100: 3.0°, no skyline was stated\n" in out
    assert "beside it the skyline counts as 10.0°, a cautious guess, by points at 99 (10.0°), 101 (10.0°)\n" in out
    assert "that guess cuts windows from now on, wherever nobody has measured" in out
    assert FILE.read_text("utf-8").count("elevation_deg: 10}  # a guess\n") == 2
    out = demo("survey", "--heights", "101=4,102=4", "--yes")[1]
    assert "that guess cuts windows" not in out
    written = FILE.read_text("utf-8")
    assert "{azimuth_deg: 101, elevation_deg: 4}\n" in written
    assert written.count("# a guess") == 1
