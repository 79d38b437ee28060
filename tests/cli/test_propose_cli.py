"""`propose` as typed: README's own example, what is taken and planned round, letters that confirm, faults."""

from __future__ import annotations

import csv
import json
import re
import shutil
from email.message import EmailMessage
from pathlib import Path

import pytest
from icalendar import Calendar, Event

from pipeline.record.inputs import read_inputs
from pipeline.record.model import Answer
from pipeline.record.writing import record_lock
from tests.conftest import Type
from tests.letters.readers import body, calendars, opened

ROOT = Path(__file__).resolve().parents[2]
STATIONS = ROOT / "stations"
PARTNERS = ("QF4LUM", "QG8FEN", "QT8NUI")
DATES = "dates: 2027-03-12/2027-03-15"
OUT = Path("out") / "2027-03-12_2027-03-15"
RECORD = Path("stations/record/agenda.yaml")
# Sunday, outside home's hours, which begin at 18:00 there; QF4LUM is in its own.
SUNDAY = "2027-03-14T20:00Z"


@pytest.fixture
def moon(tmp_path: Path, mutual_moon: Type) -> Type:
    """The commands, in a folder with four nights of the demo and three partners."""
    stations = tmp_path / "stations"
    stations.mkdir()
    for call in ("QM7TOR", *PARTNERS):
        shutil.copy(STATIONS / f"{call.lower()}.yaml", stations)
    text = (STATIONS / "season.yaml").read_text("utf-8")
    text = re.sub(r"months: .*", DATES, text).replace("policy:", "policy:\n  step_minutes: 15\n")
    kept = [line for line in text.splitlines() if "{call:" not in line or any(call in line for call in PARTNERS)]
    (stations / "season.yaml").write_text("\n".join(kept) + "\n", "utf-8")
    return mutual_moon


def agenda() -> list[dict[str, str]]:
    with (OUT / "data" / "agenda.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def lines() -> tuple[Answer, ...]:
    return read_inputs(Path("stations/season.yaml")).record.answers


def mail(call: str) -> EmailMessage:
    return opened((OUT / "letters" / call / "letter.eml").read_bytes())


def invitation(call: str, label: str) -> Event:
    """The event of one slot, among the mail's files."""
    parts = [part for part in calendars(mail(call), True) if part.get_filename() == f"slot-{label}.ics"]
    (event,) = Calendar.from_ical(parts[0].get_payload(decode=True)).walk("VEVENT")
    return event


def test_readmes_example_is_what_it_prints(mutual_moon: Type, tmp_path: Path) -> None:
    shutil.copytree(STATIONS, tmp_path / "stations")
    section = (ROOT / "README.md").read_text("utf-8").split("### A time that a partner proposes", 1)[1]
    typed, printed = (block.strip("\n") for block in section.split("```")[1:4:2])
    code, out, err = mutual_moon(*typed.split())
    assert (code, err) == (0, "")
    folded = [re.sub(r"\s+", " ", text) for text in (printed, out.rstrip("\n"))]
    assert folded[0] == folded[1]


def test_what_is_taken_is_planned_round_confirmed_and_not_asked(moon: Type) -> None:
    code, out, _ = moon("propose", "qf4lum", "14", "Mar", "22:00", "--zone", "partner", "--take", "--json")
    assert code == 0
    told = json.loads(out)
    (line,) = lines()
    assert (line.partner, line.label, line.state, line.proposed_by) == ("QF4LUM", "B", "confirmed", "partner")
    assert moon("plan", "--no-pdf")[0] == 0
    (row,) = [row for row in agenda() if (row["partner"], row["label"]) == ("QF4LUM", "B")]
    assert row["state"] == "confirmed"
    assert row["slot_start_utc"].startswith("2027-03-14T20:00")
    assert float(row["chance"]) == pytest.approx(told["chance"], abs=1e-12)
    assert float(row["chance_met"]) == pytest.approx(told["chance_met"], abs=1e-12)
    # The same again says so and changes nothing, and so does a yes.
    before = RECORD.read_bytes()
    code, out, err = moon("propose", "QF4LUM", SUNDAY, "--take")
    assert (code, err) == (0, "")
    assert out.endswith("the record says so already; next: mutual-moon plan\n")
    code, out, err = moon("answer", "QF4LUM", "B=yes")
    assert (code, err) == (0, "")
    assert out.startswith("QF4LUM B  2027-03-14 20:00 to 21:00 UTC (")
    assert out.endswith("): the record says so already; nothing was changed\n")
    assert RECORD.read_bytes() == before
    assert moon("letters", "--no-pdf")[0] == 0
    text = body(mail("QF4LUM"), "plain")
    assert "You proposed this time. We confirm it." in text
    waiting = [row for row in agenda() if row["partner"] == "QF4LUM" and row["state"] == "proposed"]
    what = f"please confirm {'a time' if len(waiting) == 1 else f'{len(waiting)} times'}" if waiting else "agreed times"
    assert str(mail("QF4LUM")["subject"]).endswith(what)
    # RFC 5545, sections 3.2.12 and 3.2.17: it has accepted, and no answer is asked for.
    person = invitation("QF4LUM", "B")["attendee"]
    assert (person.params["PARTSTAT"], person.params["RSVP"]) == ("ACCEPTED", "FALSE")
    chat = (OUT / "letters/QF4LUM/message.txt").read_text("utf-8")
    assert "22:00 to 23:00 your time (UTC+2) = Sun 14 Mar 20:00 to 21:00 UTC (as you proposed)" in chat


def test_a_slot_moves_to_the_time_that_was_proposed(moon: Type) -> None:
    """Whatever the letter before it said, what was proposed counts; a comment in the record stays."""
    assert moon("plan", "--no-pdf")[0] == 0
    RECORD.parent.mkdir()
    RECORD.write_text("# my own words\nslots:\n  # by telephone\n", "utf-8")
    code, out, err = moon("propose", "QF4LUM", SUNDAY, "--instead", "a", "--take")
    assert code == 0
    assert "Slot A moves here; before: Sat 13 Mar 16:00–17:00 your time." in out
    assert "QF4LUM A  2027-03-14 20:00 to 21:00 UTC: confirmed\n" in out
    assert "Yes, Sunday 14 March 2027, 22:00 to 23:00 your time" in out
    assert "note: the plan in out/2027-03-12_2027-03-15 is older than the inputs" in err
    assert "note: taken although outside your hours" in err
    text = RECORD.read_text("utf-8")
    assert [line for line in text.splitlines() if "#" in line] == ["# my own words", "  # by telephone"]
    assert "proposed_by: partner}" in text
    # The plan on disk still has the old time under this letter; the record's counts.
    out = moon("answer", "QF4LUM", "A=yes")[1]
    assert out.startswith("QF4LUM A  2027-03-14 20:00 to 21:00 UTC (")
    assert out.endswith("): the record says so already; nothing was changed\n")
    assert "QF4LUM A  2027-03-14 20:00 to 21:00 UTC: declined (was confirmed)" in moon("answer", "QF4LUM", "A=no")[1]


def test_it_needs_no_plan_and_writes_nothing_unless_told(moon: Type, tmp_path: Path) -> None:
    before = sorted(path for path in tmp_path.rglob("*"))
    code, out, err = moon("propose", "QF4LUM", "2027-03-13T19:00Z")
    assert (code, err) == (0, "")
    assert out.rstrip().endswith("To agree: mutual-moon propose QF4LUM 2027-03-13T19:00Z --take")
    assert sorted(path for path in tmp_path.rglob("*")) == before
    plan_first = moon("plan", "--no-pdf")
    assert plan_first[0] == 0
    assert moon("propose", "QF4LUM", "2027-03-13T19:00Z") == (code, out, err)
    (tmp_path / "stations/qg8fen.yaml").write_text(
        (tmp_path / "stations/qg8fen.yaml").read_text("utf-8") + "# new\n", "utf-8"
    )
    assert "is older than the inputs; this is worked out from the inputs" in moon("propose", "QF4LUM", SUNDAY)[2]


def test_a_time_without_a_clock_is_asked_with_how_good_each_reading_is(moon: Type) -> None:
    code, out, err = moon("propose", "QF4LUM", "Sat", "21:00", "--take")
    assert (code, out) == (2, "")
    first, *readings = err.splitlines()
    assert first == "Sat 21:00 names no clock; end it with Z for UTC, or say --zone home, utc or partner."
    assert readings[0].startswith("  --zone home    Sun 14 Mar 00:00 UTC: the Moon is ")
    assert readings[1].startswith("  --zone utc     Sat 13 Mar 21:00 UTC: chance ")
    assert readings[2] == "  --zone partner Sat 13 Mar 19:00 UTC: chance 95 %"
    assert not RECORD.exists()


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("QF4LUN", SUNDAY), "QF4LUN is no partner of this season; did you mean QF4LUM?"),
        (("QF4LUM", "tomorrow"), "the time of day is missing, for instance 21:00; write\n  mutual-moon propose QF4"),
        (("QF4LUM", "2027-04-13T19:00Z"), "2027-04-13 19:00 UTC lies outside the nights that are planned, 2027-03-"),
        (
            ("QF4LUM", "2027-04-13T19:00Z"),
            "for that month: mutual-moon propose QF4LUM 2027-04-13T19:00Z --month 2027-04",
        ),
        (("QT8NUI", "2027-03-13", "--zone", "partner"), "the time of day is missing"),
        (("QF4LUM", SUNDAY, "--zone", "partner"), "names its clock itself; leave --zone out."),
        (("QF4LUM", SUNDAY, "--instead", "Z"), "--instead Z: QF4LUM has no such slot in this plan; there is A."),
        (("QF4LUM", "2027-03-14T06:00Z", "--take"), "nothing was taken: the Moon is "),
    ],
)
def test_a_mistake_gets_one_sentence(words: tuple[str, ...], sentence: str, moon: Type) -> None:
    code, out, err = moon("propose", *words)
    assert (code, out) == (2, "")
    assert sentence in err
    # What is to be typed stands on a line of its own.
    assert len(err.replace("; write\n", "; write").strip().splitlines()) == 1
    assert not RECORD.exists()


def test_an_agreed_slot_of_another_is_never_taken_away(moon: Type) -> None:
    assert moon("propose", "QG8FEN", "2027-03-13T19:30Z", "--take")[0] == 0
    before = RECORD.read_bytes()
    code, _, err = moon("propose", "QF4LUM", "2027-03-13T19:00Z", "--take")
    assert code == 2
    assert err.startswith("nothing was taken: QG8FEN ")
    assert RECORD.read_bytes() == before


def test_another_run_that_holds_the_record_is_waited_for_and_told(moon: Type, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipeline.record.writing.WAIT_S", 0.05)
    with record_lock(Path("stations")):
        code, out, err = moon("propose", "QF4LUM", "2027-03-13T19:00Z", "--take")
        assert moon("propose", "QF4LUM", "2027-03-13T19:00Z")[0] == 0
    assert (code, out) == (2, "")
    assert err.startswith("another run of this program is writing to ")
    assert not RECORD.exists()


def test_a_failure_while_writing_leaves_the_record_as_it_was(moon: Type, monkeypatch: pytest.MonkeyPatch) -> None:
    assert moon("propose", "QG8FEN", "2027-03-13T21:30Z", "--take")[0] == 0
    before = RECORD.read_bytes()

    def fails(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("pipeline.record.writing.write_file", fails)
        code, out, err = moon("propose", "QF4LUM", "2027-03-13T19:00Z", "--take")
    assert (code, out) == (2, "")
    assert err.endswith("nothing was changed.\nNothing was written.\n")
    assert RECORD.read_bytes() == before


def test_values_as_json(moon: Type) -> None:
    code, out, err = moon("propose", "QT8NUI", "2027-03-13T19:00Z", "--json")
    assert (code, err) == (0, "")
    read = json.loads(out)
    assert read["partner"] == "QT8NUI"
    assert read["slot_start_utc"] == "2027-03-13T19:00:00Z"
    assert read["ends"]["partner"]["local"] == "2027-03-14T08:00:00+13:00"
    assert read["against"][0] == "Moon"
    assert read["ends"]["partner"]["missed"]["horizon"] > 0.0
    assert read["reply"].startswith("That time is hard because the Moon is ")
