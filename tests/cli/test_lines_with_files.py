"""Lines that name files, nights and slots: what each file is, and what the plan on disk says of a night or a letter.

What operators give to commands: common practice, no source. The season is that of the demo, March 2027.
"""

from __future__ import annotations

import shlex
import shutil
from pathlib import Path

import pytest

from pipeline.commands.put_right import put_right
from pipeline.commands.slips import slip
from pipeline.reports.places import demo_folder
from tests.cli.test_lines_put_right import COMMANDS, parses

# Lines beside a plan with slots A and B of one partner, on two nights.
AGENDA = """partner,operator,night,label,slot_start_utc,slot_end_utc
QF4LUM,QM7TOR,2027-03-13,A,2027-03-13T20:00:00.0Z,2027-03-13T21:00:00.0Z
QF4LUM,QM7TOR,2027-03-20,B,2027-03-20T23:00:00.0Z,2027-03-21T00:00:00.0Z
"""
PLANNED: list[tuple[str, list[str]]] = [
    ("night QF4LUM", ["night 2027-03-13", "night 2027-03-20"]),
    ("night A", ["night 2027-03-13", "night 2027-03-20"]),
    ("night", ["night 2027-03-13"]),
    ("night all", ["night 2027-03-13", "night 2027-03-20"]),
    ("explain QF4LUM A B", ["explain QF4LUM 2027-03-13T20:00Z", "explain QF4LUM 2027-03-20T23:00Z"]),
    ("propose QF4LUM A", ["answer QF4LUM A=yes"]),
    ("propose QF4LUM A 21:00", ["propose QF4LUM 2027-03-13 21:00 --instead A"]),
    ("propose QF4LUM statt B 14.3. 21:00 UTC", ["propose QF4LUM 2027-03-14T21:00Z --instead B"]),
    ("answer QF4LUM alle=ja", ["answer QF4LUM A=ja B=ja"]),
    ("answer '<aino@lumme-fjord.example>' A=yes", ["answer QF4LUM A=yes"]),
]
STATION = "call: QP3ALT\nposition: {locator: IN51rp}\n"
ROSTER = "call,position.locator\nQP3ALT,IN51rp\n"
CARD = "call,azimuth_deg,measured_elevation_deg\nQM7TOR,300,6\n"
MAIL = "From: Robin <robin@far.example>\nSubject: Re: Moon\n\nA yes\n"
LOG = "<CALL:6>QF4LUM<EOR>\n"
# What a command is given, the files that are there, what is told of them, and the lines.
FILES: list[tuple[str, dict[str, str | bytes], str, list[str]]] = [
    ("import qp3alt.yaml", {"qp3alt.yaml": STATION}, "mv qp3alt.yaml stations/", ["check QP3ALT"]),
    ("add qp3alt.yaml", {"qp3alt.yaml": STATION}, "the file of a station already, QP3ALT", ["check QP3ALT"]),
    ("replies q.yaml", {"q.yaml": STATION.replace("QP3ALT", "QF4LUM")}, "keep one of the two", ["check QF4LUM"]),
    ("survey stations/qf4lum.yaml", {}, "for a card", ["survey --station QF4LUM"]),
    ("check stations/season.yaml", {}, "is the file of a season", ["check"]),
    ("import stations", {}, "is a folder of station files", ["check"]),
    ("review roster.csv", {"roster.csv": ROSTER}, "is a table of stations", ["import roster.csv"]),
    ("import card.csv", {"card.csv": CARD}, "the table of a survey card", ["survey card.csv"]),
    ("import a.adi b.adi", {"a.adi": LOG, "b.adi": LOG}, "is a log", ["review a.adi b.adi"]),
    ("review re.eml", {"re.eml": MAIL}, "is mail", ["replies re.eml"]),
    ("import them.pdf", {"them.pdf": b"%PDF-1.7"}, "is a PDF", ["add CALL --help"]),
    ("survey card.pdf", {"card.pdf": b"%PDF-1.7", "card.csv": CARD}, "card.csv beside it", ["survey card.csv"]),
    ("review log.xlsx", {"log.xlsx": b"PK\x03\x04"}, "save it in the spreadsheet as CSV", ["review log.csv"]),
    ("replies re.msg", {"re.msg": b"\xd0\xcf\x11\xe0"}, "save it as .eml", ["replies re.eml"]),
    ("replies in/a.eml in/b.eml", {"in/a.eml": MAIL, "in/b.eml": MAIL}, "not each of them", ["replies in"]),
    ("replies out/letters", {"out/letters/QF4LUM/letter.eml": MAIL}, "letters that go out", ["replies mails"]),
    ("replies QF4LUM", {}, "noted by hand", ["answer QF4LUM A=yes"]),
    ("import qp3alt.txt", {"qp3alt.txt": STATION}, "mv qp3alt.txt stations/qp3alt.yaml", ["check QP3ALT"]),
    ("import a.yaml b.yaml", {"a.yaml": STATION, "b.yaml": STATION}, "mv a.yaml b.yaml stations/", ["check"]),
    ("review a.adi b.pdf", {"a.adi": LOG, "b.pdf": b"%PDF-1.7"}, "b.pdf is no log", ["review a.adi"]),
    ("replies 'in/*.eml'", {"in/a.eml": MAIL}, "as it is typed", ["replies in"]),
    ("import a.csv b.csv", {"a.csv": ROSTER, "b.csv": ROSTER}, "one table at a time", ["import a.csv", "import b.csv"]),
    (
        "review 13.3.", {"out/2027-03/nights/2027-03-13/log.csv": "partner\n"}, "is a night",
        ["review out/2027-03/nights/2027-03-13/log.csv"],
    ),
    ("review 2027-03-13", {}, "a night without one in out", ["night 2027-03-13"]),
]  # fmt: skip


def proposed_for(text: str) -> tuple[str, list[str]]:
    """The answer to a line, and the lines that it gives to type."""
    told = slip(put_right(shlex.split(text), COMMANDS), COMMANDS)
    return told, [one.strip() for one in told.splitlines() if one.startswith("  mutual-moon ")]


@pytest.mark.parametrize(("text", "lines"), PLANNED, ids=[text for text, _ in PLANNED])
def test_a_line_is_put_right_by_the_plan(
    text: str, lines: list[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copytree(demo_folder(), "stations")
    data = Path("out/2027-03/data")
    data.mkdir(parents=True)
    (data / "agenda.csv").write_text(AGENDA, "utf-8")
    told, proposed = proposed_for(text)
    assert proposed == [f"mutual-moon {one}" for one in lines], told
    for one in proposed:
        assert parses(shlex.split(one)[1:])


@pytest.mark.parametrize(("text", "files", "words", "lines"), FILES, ids=[one[0] for one in FILES])
def test_a_file_of_another_kind_is_told_with_what_it_is_for(
    text: str,
    files: dict[str, str | bytes],
    words: str,
    lines: list[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copytree(demo_folder(), "stations")
    for name, body in files.items():
        Path(name).parent.mkdir(parents=True, exist_ok=True)
        Path(name).write_bytes(body if isinstance(body, bytes) else body.encode())
    told, proposed = proposed_for(text)
    assert words in told
    assert proposed == [f"mutual-moon {one}" for one in lines], told


def test_files_that_a_command_takes_are_left_to_it(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)
    for name, body in (("roster.csv", ROSTER), ("card.csv", CARD), ("re.eml", MAIL), ("log.adi", LOG), ("x.csv", "a")):
        Path(name).write_text(body, "utf-8")
    for text in (
        "import roster.csv",
        "import x.csv",
        "survey card.csv",
        "replies re.eml",
        "replies .",
        "review log.adi",
    ):
        assert proposed_for(text) == ("", []), text
