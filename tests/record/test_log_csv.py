"""One reading of log.csv for `night` and `review`: whatever a hand or a spreadsheet made of it, both say the same.

Forms of spreadsheets are common practice, no source.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from pipeline.record.attempts import COLUMNS, LABEL, NAME, OLDER_COLUMNS, attempts_text, remembered
from pipeline.record.log_csv import COMPLETED, LOG_COLUMNS, PERIODS, LogRow, Way, read_log
from pipeline.record.log_entry import Finding, LogEntry
from pipeline.record.night_log import log_files, log_of, merged, outcomes, questions
from tests.review.logs import read

NIGHT = dt.date(2027, 3, 2)
HEAD = ",".join(LOG_COLUMNS)
# Slots of the demo's month in which the Moon was up at both ends.
SLOTS = {
    "QT8NUI": "QT8NUI,2027-03-02,2027-03-02T12:30:00Z,2027-03-02T13:30:00Z,10368.1,3cm,Q65,QM7TOR",
    "QJ2KAW": "QJ2KAW,2027-03-01,2027-03-01T17:00:00Z,2027-03-01T18:00:00Z,10368.1,3cm,Q65,QM7TOR",
}


def log(*tails: str, head: str = HEAD) -> str:
    """A log of these slots, each with what was written in it."""
    return "\n".join([head, *(f"{slot},{tail}" for slot, tail in zip(SLOTS.values(), tails, strict=False))]) + "\n"


def by_night(raw: bytes) -> dict[str, bool]:
    """How `night` reads it: completed or not, by partner."""
    found = log_of(raw)
    assert found is not None
    return {call: completed for (call, _), completed in outcomes(found).items()}


def by_review(folder: Path, raw: bytes) -> tuple[dict[str, bool], tuple[LogEntry, ...], tuple[Finding, ...]]:
    """How `review` reads it: the same, the entries and the findings."""
    entries, findings = read(folder, raw, name="log.csv")
    return {one.call: one.completed for one in entries}, entries, findings


@pytest.mark.parametrize("word", [*COMPLETED, "X", "OK", "Nil", " Yes "])
def test_what_counts_as_completed(word: str, tmp_path: Path) -> None:
    raw = log(f"-20,-21,{word},13:15,").encode()
    expected = {"QT8NUI": COMPLETED[word.strip().casefold()]}
    told, entries, findings = by_review(tmp_path, raw)
    assert by_night(raw) == told == expected
    assert not findings
    if word.casefold() == "nil":
        assert by_review(tmp_path, log("," + f",{word},,").encode())[1][0].heard is False
    assert entries[0].report_sent_db == -20.0


@pytest.mark.parametrize(("word", "shown"), [("maybe", "'maybe', which is neither yes nor no"), ("", "left empty")])
def test_what_is_not_told_is_asked_by_file_and_line(word: str, shown: str, tmp_path: Path) -> None:
    raw = log("-20,-21,yes,13:15,", f"-20,,{word},17:30,").encode()
    told, _, findings = by_review(tmp_path, raw)
    assert by_night(raw) == told == {"QT8NUI": True}
    sentence = f"line 3: whether the contact was completed is {shown}; it is not counted; write yes or no"
    assert [str(one) for one in findings] == [f"log.csv, {sentence}"]
    assert [(one.call, one.used) for one in findings] == [("QJ2KAW", False)]
    found = log_of(raw)
    assert found is not None
    assert [f"line {one.line}: {one.what}; {one.advice}" for one in questions(found)] == [sentence]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_spreadsheets_of_any_country(encoding: str, mark: str, end: str, tmp_path: Path) -> None:
    """A column of one's own with commas in its head, a remark with the delimiter, a long dash for a minus sign."""
    own = '"wind, gusts, rain, clouds, dew, snow, hail, sand, heat, cold, fog, rime, sun"'
    text = log(f'–20,-21,x,13:15,"too{mark} loud",north', ",,0,,über Wasser,", head=f"{HEAD},#").replace("\n", end)
    head, rest = text.split(end, 1)
    rest = rest.replace(f"too{mark}", "too@").replace(",", mark).replace("too@", f"too{mark}")
    raw = (head.replace(",", mark).replace("#", own) + end + rest).encode(encoding)
    told, entries, _ = by_review(tmp_path, raw)
    assert by_night(raw) == told == {"QT8NUI": True, "QJ2KAW": False}
    by_call = {one.call: one for one in entries}
    assert by_call["QT8NUI"].report_sent_db == -20.0
    assert by_call["QT8NUI"].remarks == f"too{mark} loud".replace("\t", " ")
    assert by_call["QJ2KAW"].remarks == "über Wasser"
    # Carried over, it is the same log, and the column of one's own with it.
    again = log_files(NIGHT, [], raw)["log.csv"]
    found = log_of(again)
    assert found is not None
    assert {row.cells["partner"]: row.cells[own.strip('"')] for row in found.rows} == {"QJ2KAW": "", "QT8NUI": "north"}
    assert by_review(tmp_path, again)[0] == told


def test_nothing_typed_is_lost_when_the_log_is_carried_over(tmp_path: Path) -> None:
    """Columns twice there or without a name, cells beyond the head, an open quote: all stays, read alike."""
    text = log("-20,-21,yes,13:15,loud,,north", '-19,,no,,"gone, then back', head=f"{HEAD},Remarks,")
    again = log_files(NIGHT, [], text.encode())["log.csv"]
    for word in ("loud", "north", "gone", "then back"):
        assert word.encode() in again
    told, _, findings = by_review(tmp_path, text.encode())
    assert by_night(text.encode()) == told == by_night(again) == {"QT8NUI": True, "QJ2KAW": False}
    words = [str(one) for one in findings]
    assert "log.csv, line 1: the column remarks stands twice; the second is kept as 'remarks 2'" in words
    assert "log.csv, line 3: a quotation mark is left open; each line is taken as a row" in words


def test_a_start_written_anew_by_a_spreadsheet_is_the_same_slot() -> None:
    """The row is not laid out a second time beside the one that was filled in."""
    raw = log("-20,-21,yes,13:15,").replace("2027-03-02T12:30:00Z", "2027-03-02 12:30:00").encode()
    held = log_of(raw)
    assert held is not None
    fresh = dict.fromkeys(LOG_COLUMNS, "") | {
        "partner": "QT8NUI", "operator": "QM7TOR", "slot_start_utc": "2027-03-02T12:30:00Z",
    }  # fmt: skip
    assert [row["report_sent"] for row in merged(held.rows, [fresh])] == ["-20"]


def row_of(tail: str) -> LogRow:
    """A log's one row that tells of periods."""
    found = read_log(log(f",,no,,,{tail}", head=",".join([HEAD, *PERIODS])))
    assert found is not None
    return found.rows[0]


def test_periods_are_read_and_carried_along(tmp_path: Path) -> None:
    assert PERIODS == (
        "periods_tried_at_home", "periods_heard_at_home", "periods_tried_at_partner", "periods_heard_at_partner",
    )  # fmt: skip
    row = row_of("14,3,15,0")
    assert (row.at_home, row.at_partner, row.oddities) == (Way(14, 3), Way(15, 0), ())
    raw = log(",,no,,,14,3,15,", head=",".join([HEAD, *PERIODS])).encode()
    (entry,) = by_review(tmp_path, log_files(NIGHT, [], raw)["log.csv"])[1]
    assert [getattr(entry, name) for name in PERIODS] == [14, 3, 15, None]
    (tmp_path / "record").mkdir()
    (tmp_path / LABEL).write_text(attempts_text([entry]), "utf-8")
    (known,) = remembered(tmp_path)
    assert [getattr(known, name) for name in PERIODS] == [14, 3, 15, None]


def test_periods_alone_tell_of_an_attempt() -> None:
    found = read_log(log(",,,,,14,,,", ",,,,,,,,", head=",".join([HEAD, *PERIODS])))
    assert found is not None
    assert [row.attempted for row in found.rows] == [True, False]


@pytest.mark.parametrize(
    ("tail", "ways", "told"),
    [
        ("many,3,,", (Way(None, 3), Way()), "periods_tried_at_home 'many' is no number of periods"),
        (",,-1,", (Way(), Way()), "periods_tried_at_partner '-1' is no number of periods"),
        ("2,3,,", (Way(), Way()), "periods_heard_at_home is 3, more than the 2 of periods_tried_at_home"),
    ],
)
def test_periods_that_cannot_be_are_asked(tail: str, ways: tuple[Way, Way], told: str) -> None:
    row = row_of(tail)
    assert (row.at_home, row.at_partner) == ways
    assert [(one.line, one.what) for one in row.oddities] == [(2, told)]
    assert row.completed is False


def test_a_record_of_before_periods_is_read(tmp_path: Path) -> None:
    (tmp_path / "record").mkdir()
    line = "QT8NUI,QM7TOR,2027-03-02T13:00:00Z,3cm,10368.1,Q65,-20,-21,-20,-21,yes,yes,,,"
    (tmp_path / "record" / NAME).write_text(f"{','.join(OLDER_COLUMNS)}\n{line}\n", "utf-8")
    (entry,) = remembered(tmp_path)
    assert entry.periods_tried_at_home is None
    assert COLUMNS[: len(OLDER_COLUMNS)] == OLDER_COLUMNS


@pytest.mark.parametrize(
    ("start", "night", "meant"),
    [
        ("13/02/2027 11:30", "2027-02-13", "2027-02-13T11:30Z"),
        ("2/13/2027 11:30 PM", "", "2027-02-13T23:30Z"),
        ("03.02.2027 00:15:00", "2027-02-02", "2027-02-03T00:15Z"),
        ("03/02/2027 00:15", "2027-03-01", "2027-03-02T00:15Z"),
        ("2027/02/13 11:30", "", "2027-02-13T11:30Z"),
        ("soon", "", "2027-03-13T01:15Z"),
    ],
)
def test_a_slot_in_the_dress_of_a_spreadsheet_is_told_once_as_it_is_taken(start: str, night: str, meant: str) -> None:
    """ISO 8601 is what is taken; the order of day and month is that of the row's night."""
    found = read_log(f"partner,night,slot_start_utc,completed,time_utc\nQT8NUI,{night},{start},yes,11:50\n")
    assert found is not None
    (row,) = found.rows
    assert [one.what for one in row.oddities] == []
    assert [one.advice for one in row.questions] == [f"a review does not count the row; write {meant}"]
