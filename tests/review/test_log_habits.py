"""Habits of programs and hands: encodings, crashes, silence about failures, the same attempt in two kinds of log.

Forms of ADIF by its specification 3.1.x (adif.org); what programs write otherwise is common practice, no source.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from pipeline.inputs.model import Operator
from pipeline.review.reading_logs import read_logs
from tests.review.logs import read, record, season

CSV_HEAD = (
    "partner,night,slot_start_utc,slot_end_utc,frequency_mhz,band,mode,operator,report_sent,report_received,"
    "completed,time_utc,remarks"
)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1"])
def test_encodings_with_and_without_a_mark(encoding: str, tmp_path: Path) -> None:
    """As editors save: UTF-16 often without its mark."""
    (tmp_path / "log.adi").write_bytes(f"from the hut\n<EOH>\n{record()}\n{record('QJ2KAW')}\n".encode(encoding))
    entries, findings = read_logs([tmp_path / "log.adi"], season())
    assert {one.call for one in entries} == {"QT8NUI", "QJ2KAW"}
    assert {one.line for one in entries} == {3, 4}
    assert not [one for one in findings if "Moon" not in one.what]


def test_zero_bytes_of_a_crash_lose_no_record(tmp_path: Path) -> None:
    """A machine that died while writing leaves zeros, an old system Ctrl-Z at the end."""
    entries, findings = read(tmp_path, record(), b"\x00" * 700, record("QJ2KAW", "20270301", "1732"), b"\x1a")
    assert [one.call for one in entries] == ["QJ2KAW", "QT8NUI"]
    assert [(one.line, one.what) for one in findings] == [(2, "there are zero bytes in the file")]


@pytest.mark.parametrize(
    ("fields", "expected", "told"),
    [
        ({"COMMENT": "nothing heard"}, (False, False), "the comment says 'nothing heard'"),
        ({"COMMENT": "NIL, rain"}, (False, False), "the comment says 'NIL'"),
        ({"COMMENT": "Not completed, traces"}, (False, None), "the comment says 'Not completed'"),
        ({"RST_SENT": "NIL"}, (False, False), "a report says nothing was heard"),
        ({"COMMENT": "fine evening"}, (True, True), "neither a report nor QSO_COMPLETE"),
        ({"RST_SENT": "-20", "RST_RCVD": "-21", "COMMENT": "nothing heard at first"}, (True, True), ""),
        ({"RST_SENT": "O", "COMMENT": "no copy of 73"}, (True, True), ""),
    ],
)
def test_failures_that_only_words_tell(
    fields: dict[str, str], expected: tuple[bool, bool | None], told: str, tmp_path: Path
) -> None:
    """Without QSO_COMPLETE a record counts as a contact, unless it has no report and says that there was none."""
    entries, findings = read(tmp_path, record(**({"RST_SENT": "", "RST_RCVD": ""} | fields)))
    assert (entries[0].completed, entries[0].heard) == expected
    assert [one.line for one in findings] == ([1] if told else [])
    assert told in "".join(one.what for one in findings)


def test_who_sat_at_the_dish_matters_only_where_the_season_names_them(tmp_path: Path) -> None:
    guest = record(STATION_CALLSIGN="QM7TOR", OPERATOR="QA5ZZZ")
    entries, findings = read(tmp_path, guest)
    assert (entries[0].operator, findings) == ("QM7TOR", ())
    in_turn = dataclasses.replace(season().season, operators=(Operator("QM7TOR"), Operator("QA5ZZZ")))
    entries, _ = read(tmp_path, guest, inputs=dataclasses.replace(season(), season=in_turn))
    assert entries[0].operator == "QA5ZZZ"


def test_one_attempt_in_the_radio_log_and_on_the_sheet_counts_once(tmp_path: Path) -> None:
    """A failure has another minute in each log, but lies in the sheet's slot; another slot is another attempt."""
    (tmp_path / "radio.adi").write_text(record(time="1235", RST_SENT="", RST_RCVD="", QSO_COMPLETE="NIL"))
    rows = [
        f"QT8NUI,2027-03-02,2027-03-02T{start}:30Z,2027-03-02T{start + 1}:30Z,10368.1,3cm,Q65,QM7TOR,,,no,,nothing"
        for start in (12, 14)
    ]
    (tmp_path / "log.csv").write_text("\n".join([CSV_HEAD, *rows]) + "\n")
    entries, findings = read_logs([tmp_path / "radio.adi", tmp_path / "log.csv"], season())
    assert len(entries) == 2
    assert "log.csv, line 2: the same attempt stands in radio.adi, line 1" in "\n".join(map(str, findings))
