"""The command `night` as a user types it: what it writes and keeps, and a sentence for each mistake."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from pipeline.record.log_csv import LOG_COLUMNS
from pipeline.reports.places import demo_folder
from pipeline.sheets.document import night_rooms
from tests.conftest import Type
from tests.sheets.invented_agenda import EMPTY_NIGHT, night_plan

pytestmark = pytest.mark.usefixtures("plans_made_once")

NIGHT = "2027-03-13"


@pytest.fixture
def mutual_moon(mutual_moon: Type, tmp_path: Path) -> Type:
    """Types a command in a folder with a short season of the demo's stations."""
    stations = tmp_path / "stations"
    stations.mkdir()
    for file in sorted(demo_folder().glob("q*.yaml")):
        (stations / file.name).write_bytes(file.read_bytes())
    season = (demo_folder() / "season.yaml").read_text("utf-8")
    season = season.replace("months: [2027-03]", "dates: 2027-03-12/2027-03-15")
    (stations / "season.yaml").write_text(season, "utf-8")
    return mutual_moon


def _log(folder: Path) -> list[dict[str, str]]:
    with (folder / "log.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_a_night_from_plan_to_log(mutual_moon: Type, tmp_path: Path) -> None:
    code, _, err = mutual_moon("night", NIGHT, "--no-pdf")
    assert (code, err.strip()) == (2, "there is no plan in out/2027-03-12_2027-03-15 yet; run: mutual-moon plan")
    assert mutual_moon("plan", "--no-pdf")[0] == 0
    folder = tmp_path / "out" / "2027-03-12_2027-03-15" / "nights" / NIGHT

    code, out, err = mutual_moon("night", NIGHT, "--no-pdf")
    assert (code, err) == (0, "")
    assert f"Open: out/2027-03-12_2027-03-15/nights/{NIGHT}/sheets.html" in out
    files = {file.name: file.read_bytes() for file in folder.iterdir()}
    assert set(files) == {"sheets.html", "pointing.csv", "tonight.html", "log.csv"}
    slots = _log(folder)
    assert len(slots) >= 2
    assert str(tmp_path) not in files["sheets.html"].decode()

    assert mutual_moon("night", NIGHT, "--no-pdf")[0] == 0
    assert {file.name: file.read_bytes() for file in folder.iterdir()} == files, "same inputs, same bytes"

    first, second = slots[0], slots[1]
    filled = files["log.csv"].decode().replace("QM7TOR,,,,,\n", "QM7TOR,-11,-12,yes,,\n", 1)
    (folder / "log.csv").write_text(filled, "utf-8")
    end = first["slot_end_utc"][11:16] + "Z"
    code, out, _ = mutual_moon("night", NIGHT, "--no-pdf", "--after", end, "--drop", second["partner"].lower())
    assert code == 0
    assert f"{second['partner']} {second['slot_start_utc'][11:16]}–{second['slot_end_utc'][11:16]} is dropped" in out
    rows = _log(folder)
    assert (rows[0]["partner"], rows[0]["report_sent"], rows[0]["completed"]) == (first["partner"], "-11", "yes")
    assert second["partner"] not in {row["partner"] for row in rows}
    assert not {first["partner"]} & {row["partner"] for row in rows[1:]}
    assert "Re-planned at the site" in (folder / "sheets.html").read_text("utf-8")

    # Of a slot that has ended unlogged the row stays: how it went is asked for in it.
    (folder / "log.csv").write_bytes(files["log.csv"])
    code, out, _ = mutual_moon("night", NIGHT, "--no-pdf", "--after", end, "--drop", second["partner"].lower())
    assert f"{first['partner']} {first['slot_start_utc'][11:16]}–{end[:5]} has ended" in out
    assert _log(folder)[0] == first
    assert second["partner"] not in {row["partner"] for row in _log(folder)}

    (folder / "log.csv").write_text(filled.replace("-11,-12,yes", "-11,-12,maybe"), "utf-8")
    code, out, err = mutual_moon("night", NIGHT, "--no-pdf")
    place = f"out/2027-03-12_2027-03-15/nights/{NIGHT}/log.csv, line 2"
    assert code == 0
    assert f"note: {place}: whether the contact was completed is 'maybe', which is neither yes nor no" in err


def test_at_the_site_a_reading_changes_figures_and_moves_no_slot(mutual_moon: Type, tmp_path: Path) -> None:
    """Readings that weak would have a new agenda drop a slot of this night, for which a partner waits."""
    assert mutual_moon("plan", "--no-pdf")[0] == 0
    folder = tmp_path / "out" / "2027-03-12_2027-03-15"
    agenda = (folder / "data" / "agenda.csv").read_text("utf-8")
    planned = [row["slot_start_utc"][11:16] for row in csv.DictReader(agenda.splitlines()) if row["night"] == NIGHT]
    for source, value in (("sun", "9"), ("ground", "4.4")):
        assert mutual_moon("measure", f"{NIGHT}T18:20Z", source, value)[0] == 0
    code, out, err = mutual_moon("night", NIGHT, "--no-pdf")
    assert (code, out) == (2, "")
    assert "inputs changed" in err
    code, out, err = mutual_moon("night", NIGHT, "--no-pdf", "--dial-offset", "3.4")
    assert code == 0
    assert "Kept for this night" in out
    assert "measurements.csv is newer than the calendar; tonight goes by it" in err
    assert planned == [line.split()[0] for line in out.splitlines() if " to " in line and line.startswith("  ")]
    code, out, err = mutual_moon("night", NIGHT, "--no-pdf", "--after", "18:40Z")
    assert code == 0
    assert "nothing changes" in out
    newer = "note: stations/record/measurements.csv is newer than the calendar; tonight goes by it; before letters: "
    assert newer in err
    held = [line.split()[0] for line in out.splitlines() if " to " in line and line.startswith("  ")]
    assert held == planned
    assert len(planned) > 1
    # Weaker still: a slot without hope is given up, and that is told.
    readings = tmp_path / "stations" / "record" / "measurements.csv"
    readings.write_text(readings.read_text("utf-8").replace(",sun,9", ",sun,7"), "utf-8")
    code, out, _ = mutual_moon("night", NIGHT, "--no-pdf", "--after", "18:40Z")
    assert code == 0
    assert "QG8FEN 20:15–21:15 is given up: what was noted since leaves it hardly a chance; tell them" in out
    assert "nothing changes" not in out
    season = tmp_path / "stations" / "season.yaml"
    season.write_text(season.read_text("utf-8") + "# one word more\n", "utf-8")
    code, out, err = mutual_moon("night", NIGHT, "--no-pdf", "--after", "18:40Z")
    assert (code, out) == (2, "")
    assert "inputs changed" in err


@pytest.mark.parametrize("outcome", ["failed", "absent"])
def test_an_outcome_noted_during_the_night_ends_its_own_slot_alone(
    mutual_moon: Type, tmp_path: Path, outcome: str
) -> None:
    """The others stay with their fall-backs; who failed is tried again, who was not there is not."""
    assert mutual_moon("plan", "--no-pdf")[0] == 0
    rows = csv.DictReader((tmp_path / "out/2027-03-12_2027-03-15/data/agenda.csv").read_text("utf-8").splitlines())
    first, *others = [row for row in rows if row["night"] == NIGHT]
    assert others
    for row in (first, *others):
        assert mutual_moon("answer", row["partner"], f"{row['label']}=yes")[0] == 0
    assert mutual_moon("plan", "--no-pdf")[0] == 0
    end = f"{first['slot_end_utc'][11:16]}Z"
    before = mutual_moon("night", NIGHT, "--no-pdf", "--after", end)[1]
    sheet = tmp_path / "out/2027-03-12_2027-03-15/nights" / NIGHT / "sheets.html"
    missed = re.findall(r"If missed [^<]*", sheet.read_text("utf-8"))
    code, out, _ = mutual_moon("answer", first["partner"], f"{first['label']}={outcome}")
    assert code == 0
    assert f"while that night goes on, before any plan: mutual-moon night {NIGHT} --after {end}\n" in out
    code, out, _ = mutual_moon("night", NIGHT, "--no-pdf", "--after", end)
    assert code == 0
    for row in others:
        assert f"  {row['slot_start_utc'][11:16]} to {row['slot_end_utc'][11:16]} UTC  {row['partner']}\n" in out
        assert row["partner"] in before
    # Once another cannot come the night has room to try again.
    code, out, _ = mutual_moon("night", NIGHT, "--no-pdf", "--after", end, "--drop", others[-1]["partner"])
    assert code == 0
    assert (f"{first['partner']} " in out and "is new: ask them" in out) == (outcome == "failed")
    now = re.findall(r"If missed [^<]*", sheet.read_text("utf-8"))
    assert not any("no other time in this period" in words for words in now if "no other time" not in "".join(missed))
    # After the last slot of the night there is only the plan.
    last = others[-1]
    assert "while that night goes on" not in mutual_moon("answer", last["partner"], f"{last['label']}=made")[1]


def test_a_date_without_a_night_is_refused_in_a_sentence(mutual_moon: Type, tmp_path: Path) -> None:
    """Over the demo's home the Moon stands highest at 05:31 on 28 March 2027 and at 06:23 on the 29th."""
    season = tmp_path / "stations" / "season.yaml"
    text = season.read_text("utf-8")
    season.write_text(text.replace("2027-03-12/2027-03-15", "2027-03-28/2027-03-28"), "utf-8")
    code, out, err = mutual_moon("plan", "--no-pdf")
    assert (code, out) == (2, "")
    assert err.strip() == (
        "2027-03-28 has no night: each is one passage of the Moon, which skips a date about once a month;"
        " plan 2027-03-27 or 2027-03-29"
    )
    assert not (tmp_path / "out").exists()
    season.write_text(text.replace("2027-03-12/2027-03-15", "2027-03-27/2027-03-29"), "utf-8")
    assert mutual_moon("plan", "--no-pdf")[0] in (0, 3)
    code, out, err = mutual_moon("night", "2027-03-28", "--no-pdf")
    assert (code, out) == (2, "")
    assert err.startswith(
        "2027-03-28 has no night: no passage of the Moon carries this date; meant may be 2027-03-27 or 2027-03-29"
    )
    assert len(err.strip().splitlines()) == 1


def test_one_sentence_for_each_mistake(mutual_moon: Type, tmp_path: Path) -> None:
    assert mutual_moon("plan", "--no-pdf")[0] == 0
    made = {file: file.read_bytes() for file in (tmp_path / "out").rglob("*") if file.is_file()}
    for words, told in (
        (
            (NIGHT.replace("03", "05", 1),),
            "2027-05-13 is no night of this plan (12 to 15 March 2027); nights with slots: 2",
        ),
        (("someday",), "someday is no date as it is taken; for instance\n  mutual-moon night 2027-03-13\n"),
        (
            (NIGHT, "--after", "23:10"),
            "--after 23:10: a time in UTC with Z is meant; write\n"
            f"  mutual-moon night {NIGHT} --after 23:10Z\n    where UTC is meant\n",
        ),
        ((NIGHT, "--after", "25:10Z"), "--after 25:10Z: a UTC time with Z is meant"),
        ((NIGHT, "--after", "2027-03-20T01:00Z"), "not in the night of 2027-03-13"),
        ((NIGHT, "--drop", "QXXXX"), "--drop QXXXX: no partner of this season; partners are QF4LUM, "),
    ):
        code, out, err = mutual_moon("night", *words)
        assert (code, out) == (2, "")
        assert told in err
        # What is to be typed stands on a line of its own.
        assert "\n" not in err.partition("\n  mutual-moon ")[0].strip()
    assert {file: file.read_bytes() for file in (tmp_path / "out").rglob("*") if file.is_file()} == made
    season = tmp_path / "stations" / "season.yaml"
    season.write_text(season.read_text("utf-8").replace("slot_minutes: 60", "slot_minutes: 45"), "utf-8")
    code, _, err = mutual_moon("night", NIGHT)
    assert code == 2
    assert "inputs changed since the plan in out/2027-03-12_2027-03-15 was made (season.yaml)" in err
    assert err.strip().endswith("run: mutual-moon plan")


def test_plan_remakes_the_nights_that_stand_there(tmp_path: Path) -> None:
    """Nights of the agenda, and one that was made before for own echoes: none may tell of an older plan."""
    log = ",".join(LOG_COLUMNS) + "\nQF4LUM,2027-03-02,2027-03-02T10:00:00Z,,,,,QM7TOR,,,no,,too windy\n"
    before = tmp_path / "nights" / EMPTY_NIGHT.isoformat()
    before.mkdir(parents=True)
    (before / "log.csv").write_text(log, "utf-8")
    rooms = {room.name: room for room in night_rooms(night_plan(), tmp_path, with_pdf=True)}
    assert list(rooms) == [f"nights/{EMPTY_NIGHT}", f"nights/{NIGHT}"]
    assert b"too windy" in rooms[f"nights/{EMPTY_NIGHT}"].files["log.csv"]
    assert all(list(room.documents) == ["sheets.pdf"] for room in rooms.values())
    assert night_plan().number in rooms[f"nights/{NIGHT}"].documents["sheets.pdf"].html
