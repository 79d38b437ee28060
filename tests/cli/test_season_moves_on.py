"""A season played through with the commands: outcomes noted, what is left planned, letters and sheets of that plan.

Each outcome's meaning is the product's own contract (DEVELOPERS.md).
"""

from __future__ import annotations

import csv
import datetime as dt
import json
import re
import shutil
from pathlib import Path

import pytest

from pipeline.record.inputs import read_inputs
from pipeline.record.model import Answer
from tests.conftest import Type

pytestmark = pytest.mark.usefixtures("plans_made_once")

STATIONS = Path(__file__).resolve().parents[2] / "stations"
PARTNERS = ("QJ2KAW", "QG8FEN", "QF4LUM", "QT8NUI")
# Two weeks of the demo's month with few partners and coarse steps: enough for every rule, quick to plan.
DATES = "dates: 2027-03-05/2027-03-20"
OUT = Path("out") / "2027-03-05_2027-03-20"


@pytest.fixture
def moon(tmp_path: Path, mutual_moon: Type) -> Type:
    """The commands, in a folder with that season."""
    stations = tmp_path / "stations"
    stations.mkdir()
    for call in ("QM7TOR", *PARTNERS):
        shutil.copy(STATIONS / f"{call.lower()}.yaml", stations)
    text = (STATIONS / "season.yaml").read_text("utf-8")
    text = re.sub(r"months: .*", DATES, text).replace("policy:", "policy:\n  step_minutes: 30\n")
    kept = [line for line in text.splitlines() if "{call:" not in line or any(call in line for call in PARTNERS)]
    (stations / "season.yaml").write_text("\n".join(kept) + "\n", "utf-8")
    return mutual_moon


@pytest.fixture(scope="module")
def first_plan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where what the season's first plan writes is kept."""
    return tmp_path_factory.mktemp("first") / "out"


@pytest.fixture
def planned(first_plan: Path, moon: Type) -> Type:
    """The commands, after the first plan."""
    if first_plan.exists():
        shutil.copytree(first_plan, "out")
    else:
        assert moon("plan", "--no-pdf")[0] == 0
        shutil.copytree("out", first_plan)
    return moon


def agenda() -> list[dict[str, str]]:
    with (OUT / "data" / "agenda.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def run_json() -> dict[str, str | None]:
    return json.loads((OUT / "data" / "run.json").read_text("utf-8"))  # type: ignore[no-any-return]


def lines() -> tuple[Answer, ...]:
    return read_inputs(Path("stations/season.yaml")).record.answers


def files() -> dict[str, bytes]:
    return {path.as_posix(): path.read_bytes() for path in sorted(OUT.rglob("*")) if path.is_file()}


def test_two_outcomes_and_what_is_left(planned: Type) -> None:
    moon = planned
    assert run_json()["planned_from"] is None
    first, second = agenda()[:2]
    code, out, _ = moon("answer", first["partner"], f"{first['label']}=made")
    assert code == 0
    assert ": made\n" in out
    assert moon("answer", second["partner"], f"{second['label']}=absent")[0] == 0
    code, _, err = moon("letters", "--no-pdf")
    assert code == 2
    assert "record/agenda.yaml" in err
    code, out, _ = moon("plan", "--no-pdf")
    assert code == 0
    begun = (dt.date.fromisoformat(second["night"]) + dt.timedelta(days=1)).isoformat()
    assert run_json()["planned_from"] == begun
    assert f"planned from {begun}" in out
    assert f"no slot for {first['partner']}: it is worked" in out
    told = {(row["partner"], row["label"]): row["slot_outcome"] for row in agenda()}
    assert told[first["partner"], first["label"]] == "made"
    assert told[second["partner"], second["label"]] == "absent"
    new = [row for row in agenda() if not row["slot_outcome"]]
    assert new
    assert all(row["night"] >= begun for row in new)
    assert first["partner"] not in {row["partner"] for row in new}
    # Rows of the nights before stay; no reason, no worth, no letter about them.
    with (OUT / "data" / "nights.csv").open(encoding="utf-8", newline="") as stream:
        nights = list(csv.DictReader(stream))
    past = [row for row in nights if row["night"] < begun]
    assert past
    assert {(row["outcome"], row["reason"], row["best_partner"]) for row in past} == {("past", "", "")}
    code, out, _ = moon("letters", "--no-pdf")
    assert code == 0
    assert not re.search(rf"^{first['partner']} ", out, re.MULTILINE)
    if second["partner"] in {row["partner"] for row in new}:
        letter = (OUT / "letters" / second["partner"] / "message.txt").read_text("utf-8")
        assert f" {second['label']}:" not in letter
    page = (OUT / "calendar" / "calendar.html").read_text("utf-8")
    assert "is-past" in page


def test_letters_and_sheets_follow_a_plan_from_a_date(planned: Type) -> None:
    """They read the date where the plan keeps it; a plan without one is another plan, and the letters are too."""
    moon = planned
    whole = run_json()["plan_number"]
    code, out, _ = moon("plan", "--no-pdf", "--from", "2027-03-12")
    assert code == 0
    number = run_json()["plan_number"]
    assert number != whole
    assert run_json()["planned_from"] == "2027-03-12"
    assert f"plan {number}" in out
    rows = agenda()
    assert rows
    assert all(row["night"] >= "2027-03-12" for row in rows)
    assert moon("letters", "--no-pdf")[0] == 0
    summaries = [json.loads(path.read_text("utf-8")) for path in OUT.glob("letters/*/letter.json")]
    assert {summary["plan"] for summary in summaries} == {number}
    code, out, err = moon("send")
    assert (code, err) == (0, "")
    assert "first letter" in out
    code, out, _ = moon("night", rows[0]["night"], "--no-pdf")
    assert code == 0
    assert f"plan {number}" in out
    assert moon("check")[0] == 0
    assert moon("explain", rows[0]["partner"], "2027-03-14T01:00Z")[0] == 0
    assert moon("plan", "--no-pdf")[0] == 0
    assert run_json()["plan_number"] == whole
    code, _, err = moon("send")
    assert code == 2
    assert "letters" in err


def test_the_day_of_running_is_told_and_changes_no_byte(moon: Type, monkeypatch: pytest.MonkeyPatch) -> None:
    seen, notes = [], []
    for today in (dt.date(2026, 1, 1), dt.date(2027, 3, 13), dt.date(2030, 1, 1)):
        monkeypatch.setattr("pipeline.commands.plan.utc_today", lambda today=today: today)
        code, _, err = moon("plan", "--no-pdf")
        assert code == 0
        seen.append(files())
        notes.append(err)
    assert seen[0] == seen[1] == seen[2]
    assert "over" not in notes[0]
    found = re.search(r"note: (\d+) of this season's (\d+) nights are over; what is left: (.*)\n", notes[1])
    assert found
    assert 6 <= int(found[1]) <= 8 < int(found[2]) <= 16
    assert found[3] == "mutual-moon plan --from 2027-03-13"
    assert "note: this season is over\n" in notes[2]
    monkeypatch.setattr("pipeline.commands.plan.utc_today", lambda: dt.date(2027, 3, 13))
    assert "over" not in moon("plan", "--no-pdf", "--from", "2027-03-13")[2]
    from_then = files()
    monkeypatch.setattr("pipeline.commands.plan.utc_today", lambda: dt.date(2031, 1, 1))
    moon("plan", "--no-pdf", "--from", "2027-03-13")
    assert files() == from_then


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--from", "14.3.2027"), "--from 14.3.2027 is Sun 14 Mar 2027; write\n  mutual-moon plan --from 2027-03-14\n"),
        (("--from", "2027-04-01"), "--from 2027-04-01: the last night of this plan is 2027-03-20\n"),
        (
            ("--hold", "0.2"),
            "--hold 0.2: a number of contacts from 0 on is meant, beside a --what-if; for instance "
            "mutual-moon plan --what-if QF4LUM.bands.3cm.power_w=100 --hold 0.2\n",
        ),
    ],
)
def test_a_wrong_option_is_one_sentence(words: tuple[str, ...], sentence: str, moon: Type) -> None:
    assert moon("plan", *words) == (2, "", sentence)
    assert not OUT.exists()


def test_a_lost_night_is_offered_again_and_answered_anew(planned: Type) -> None:
    """From the first yes to the contact: the letter and the UID stay, the lost date stays in the record."""
    moon = planned
    row = agenda()[0]
    moon("answer", row["partner"], f"{row['label']}=yes")
    moon("answer", row["partner"], f"{row['label']}=rained")
    code, out, _ = moon("plan", "--no-pdf")
    assert code == 0
    again = next(one for one in agenda() if (one["partner"], one["label"]) == (row["partner"], row["label"]))
    assert (again["uid"], again["state"], again["slot_outcome"]) == (row["uid"], "proposed", "")
    assert again["night"] > row["night"]
    notes = json.loads((OUT / "data" / "plan.json").read_text("utf-8"))["agenda_notes"]
    assert any("was lost to the weather; " in note and note.endswith("ask them.") for note in notes)
    moon("answer", row["partner"], f"{row['label']}=yes")
    moon("answer", row["partner"], f"{row['label']}=made")
    assert [(lock.label, lock.outcome) for lock in lines()] == [(row["label"], "rained"), (row["label"], "made")]
    code, out, _ = moon("plan", "--no-pdf")
    assert code == 0
    assert f"no slot for {row['partner']}: it is worked" in out


def test_a_reviewed_log_notes_how_slots_went(planned: Type) -> None:
    """From the night's own log.csv; what the operator has written stays, and a second review changes nothing."""
    moon = planned
    first, second, third = agenda()[:3]
    moon("answer", third["partner"], f"{third['label']}=absent")
    moon("answer", first["partner"], f"{first['label']}=yes")
    logs = []
    for row, completed in ((first, "yes"), (second, "no"), (third, "yes")):
        file = OUT / "nights" / row["night"] / "log.csv"
        with file.open(encoding="utf-8", newline="") as stream:
            rows = list(csv.DictReader(stream))
        for one in rows:
            if one["partner"] == row["partner"]:
                one |= {"completed": completed, "report_sent": "-20", "report_received": "-22"}
        with file.open("w", encoding="utf-8", newline="") as stream:
            writer = csv.DictWriter(stream, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
        logs.append(file.as_posix())
    record = Path("stations/record/agenda.yaml")
    before = record.read_text("utf-8")
    assert moon("review", *dict.fromkeys(logs), "--no-pdf")[0] == 0
    assert record.read_text("utf-8") == before
    code, out, err = moon("review", *dict.fromkeys(logs), "--no-pdf", "--apply")
    assert code == 0, err
    assert re.search(rf"^{first['partner']} {first['label']}  .* UTC: made$", out, re.MULTILINE)
    assert re.search(rf"^{second['partner']} {second['label']}  .* UTC: failed$", out, re.MULTILINE)
    found = {(one.partner, one.label): (one.state, one.outcome) for one in lines()}
    assert found == {
        (first["partner"], first["label"]): ("confirmed", "made"),
        (second["partner"], second["label"]): ("fixed", "failed"),
        (third["partner"], third["label"]): ("fixed", "absent"),
    }
    after = record.read_bytes()
    code, out, _ = moon("review", *dict.fromkeys(logs), "--no-pdf", "--apply")
    assert code == 0
    assert "UTC: made" not in out
    assert record.read_bytes() == after
    assert moon("plan", "--no-pdf")[0] == 0
    assert first["partner"] not in {row["partner"] for row in agenda() if not row["slot_outcome"]}


def test_a_tried_change_moves_the_agenda_only_for_enough(planned: Type) -> None:
    """Held, what is proposed stays where it can; free, it is the plan of the changed files."""
    moon = planned
    nights = {row["night"] for row in agenda()}
    gone = ("plan", "--what-if", "QF4LUM.unavailable_dates=[2027-03-05/2027-03-20]")
    free = moon(*gone)[1].splitlines()
    code, out, _ = moon(*gone, "--hold", "0")
    assert code == 0
    gain = re.search(r"^The agenda is not held: the best one gains (.*) contacts, more than 0 contacts\.$", out, re.M)
    assert gain
    assert [line for line in out.splitlines() if "not held" not in line] == free
    code, out, _ = moon(*gone, "--hold", f"{float(gain[1]) + 0.01:.2f}")
    assert code == 0
    assert f"The agenda is held: the best one would gain {gain[1]} contacts, no more than " in out
    # Whom nothing forbids stays where it was.
    assert "  moves from" not in out
    assert re.findall(r"^  (\w+) +gone:", out, re.M) == ["QF4LUM"]
    assert nights == {row["night"] for row in agenda()}
