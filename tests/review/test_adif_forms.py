"""The two forms of ADIF and the sheets' log.csv against the specification's forms and an outside reader and writer.

Forms: ADIF specification 3.1.x (adif.org), sections ADI and ADX; outside program: adif_io.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from xml.sax.saxutils import escape

import adif_io
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.inputs.faults import InputFaults
from pipeline.review.adif import read_adi
from pipeline.review.adx import RefusedXml, read_adx
from pipeline.review.reading_logs import read_logs, read_records
from tests.conftest import Outside
from tests.review.logs import SAMPLE, read, record, season, with_partner
from tests.review.simulation import DEMO_LOG, as_adif, as_csv, demo_attempts

NAMES = st.from_regex(r"[A-Z][A-Z_]{0,11}", fullmatch=True).filter(lambda name: name not in ("EOR", "EOH"))
# Angle brackets inside a value are covered by cases of their own.
VALUES = st.text(st.characters(min_codepoint=32, max_codepoint=126, exclude_characters="<"), min_size=1, max_size=30)


def test_sample_record(tmp_path: Path) -> None:
    """The sample of check_values.md section 16, whose fields and forms are those of the specification."""
    raw = read_adi(SAMPLE)
    assert len(raw) == 1
    assert raw[0].fields["GRIDSQUARE"] == "FN31pr"
    entries, _ = read(tmp_path, SAMPLE, inputs=with_partner("QA1AA"))
    entry = entries[0]
    assert (entry.call, entry.band, entry.frequency_mhz, entry.mode) == ("QA1AA", "3cm", 10368.1, "CW")
    assert entry.time_utc == dt.datetime(2026, 1, 5, 20, 30, tzinfo=dt.UTC)
    # O is a report by ear: heard, no figure.
    assert (entry.report_sent, entry.report_sent_db, entry.heard, entry.completed) == ("O", None, True, True)
    assert entry.moonbounce


@pytest.mark.parametrize(
    "text",
    [
        "<call:6>QT8NUI<qso_date:8>20270302<eor>",  # names in any case
        "<CALL:6:S>QT8NUI <QSO_DATE:8:D>20270302 <EOR>",  # type indicators
        "Made by hand\n<ADIF_VER:5>3.1.4 <USERDEF1:4:N>Tilt <EOH>\n<CALL:6>QT8NUI\n<QSO_DATE:8>20270302\n<EOR>\n",
        "\n<CALL:6>QT8NUI // the far one\n <QSO_DATE:8>20270302\r\n<EOR>",  # what stands between fields is ignored
        "Nothing but a name of a program <EOH><CALL:6>QT8NUI<BAND:0><QSO_DATE:8>20270302<EOR>",  # no data
    ],
)
def test_forms_of_adi(text: str) -> None:
    """Forms that the specification's section on ADI allows."""
    records = read_adi(text)
    assert [(one.fields["CALL"], one.fields["QSO_DATE"]) for one in records] == [("QT8NUI", "20270302")]
    assert not records[0].oddities


def test_data_may_quote_a_tag() -> None:
    """A length counts whatever it covers: the specification gives data no forbidden character."""
    note = "we spoke of <eor> and <CALL:6> at length"
    text = f"<CALL:6>QT8NUI <NOTES:{len(note)}>{note} <BAND:3>3cm <EOR> <CALL:6>QJ2KAW <EOR>"
    first, second = read_adi(text)
    assert first.fields["NOTES"] == note
    assert first.fields["BAND"] == "3cm"
    assert second.fields["CALL"] == "QJ2KAW"
    assert adif_io.read_from_string(text)[0][0]["NOTES"] == note


def test_lengths_in_bytes_of_utf8() -> None:
    """Programs that count bytes: `Muñoz` has five letters and six bytes."""
    for length in (5, 6):
        (one,) = read_adi(f"<NAME:{length}>Muñoz <CALL:6>QT8NUI <EOR>")
        assert (one.fields["NAME"], one.fields["CALL"], one.oddities) == ("Muñoz", "QT8NUI", [])


def test_our_writing_is_read_alike_by_adif_io(outside: Outside) -> None:
    text = as_adif(demo_attempts())
    theirs, _ = adif_io.read_from_string(text)
    ours = read_adi(text)
    assert [one.fields for one in ours] == [dict(qso) for qso in theirs]
    assert all(not one.oddities for one in ours)
    outside("adif_io", len(ours), "0 fields", "records")


@given(st.lists(st.dictionaries(NAMES, VALUES.filter(str.strip), min_size=1, max_size=6), min_size=1, max_size=5))
def test_writing_by_adif_io_is_read(records: list[dict[str, str]]) -> None:
    """Whatever adif_io writes comes back, but for blanks about the data and the case of the few it puts in capitals."""
    text = "log <EOH>\n" + "".join(str(adif_io.qso_from_dict(one)) for one in records)
    capitals = ("QSO_DATE", "TIME_ON", "CALL", "FREQ", "MODE")
    expected = [
        {name: (value.upper() if name in capitals else value).strip() for name, value in one.items()} for one in records
    ]
    assert [one.fields for one in read_adi(text)] == expected


def test_adx_holds_the_same_as_adi(tmp_path: Path) -> None:
    """The same records in both forms give the same entries; fields are the elements of RECORD (specification, ADX)."""
    text = as_adif(demo_attempts())
    rows = "\n".join(
        "<RECORD>" + "".join(f"<{name}>{escape(value)}</{name}>" for name, value in one.fields.items()) + "</RECORD>"
        for one in read_adi(text)
    )
    head = '<?xml version="1.0" encoding="UTF-8"?>\n<ADX><HEADER><ADIF_VER>3.1.4</ADIF_VER></HEADER>\n<RECORDS>\n'
    (tmp_path / "log.adi").write_text(text, encoding="utf-8")
    (tmp_path / "log.adx").write_text(f"{head}{rows}\n</RECORDS></ADX>\n", encoding="utf-8")
    adi, adx = (read_records(tmp_path / name, name)[0] for name in ("log.adi", "log.adx"))
    assert [one.fields for one in adi] == [one.fields for one in adx]
    # Three lines of head, a record a line.
    assert [one.line for one in adx[:3]] == [4, 5, 6]


def test_broken_record_of_adx_spoils_no_other() -> None:
    text = (
        "<ADX><RECORDS>\n<RECORD><CALL>QT8NUI</CALL></RECORD>\n<RECORD><CALL>QJ2KAW</CALL><COMMENT>5 < 6</COMMENT>"
        "</RECORD>\n<RECORD><CALL>QK3RED</CALL></RECORD>\n</RECORDS></ADX>"
    )
    records = read_adx(text)
    assert [(one.line, one.fields["CALL"]) for one in records] == [(2, "QT8NUI"), (3, "QJ2KAW"), (4, "QK3RED")]
    assert [bool(one.oddities) for one in records] == [False, True, False]


def test_adx_takes_no_entities(tmp_path: Path) -> None:
    """The bomb of nested entities, and one under an encoding that hides the word."""
    bomb = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]><ADX>&b;</ADX>'
    with pytest.raises(RefusedXml):
        read_adx(bomb)
    with pytest.raises(InputFaults, match="document type or entities"):
        read(tmp_path, bomb, name="log.adx")
    hidden = b'<?xml version="1.0" encoding="cp037"?>' + bomb[21:].encode("cp037")
    with pytest.raises(InputFaults):
        read(tmp_path, hidden, name="log.adx")


def test_log_csv_tells_the_same_as_adif(tmp_path: Path) -> None:
    """The sheets' form of the same attempts: reports, success, and the time of each contact; the slot besides."""
    attempts = demo_attempts()
    (tmp_path / "log.csv").write_text(as_csv(attempts), encoding="utf-8")
    entries, findings = read_logs([tmp_path / "log.csv"], season())
    assert not findings
    assert len(entries) == len(attempts)
    for entry, attempt in zip(entries, attempts, strict=True):
        told = (entry.call, entry.completed, entry.report_sent, entry.report_received, entry.slot_start_utc)
        expected = (attempt.call, attempt.completed, attempt.report_sent, attempt.report_received)
        assert told == (*expected, attempt.slot_start_utc)
        if attempt.completed:
            assert entry.time_utc == attempt.time_utc
        else:
            assert attempt.slot_start_utc <= entry.time_utc <= attempt.slot_end_utc


@pytest.mark.parametrize("mark", [";", "\t"])
def test_log_csv_out_of_a_spreadsheet(tmp_path: Path, mark: str) -> None:
    """Other separators, decimal commas, a byte-order mark, times past midnight, rows never filled in."""
    head = "partner,night,slot_start_utc,slot_end_utc,frequency_mhz,band,mode,operator,report_sent,report_received"
    head += ",completed,time_utc,remarks"
    rows = [
        head,
        'QF4LUM,2027-03-14,2027-03-14T23:30Z,2027-03-15T00:30Z,"10368,1",3cm,CW,QM7TOR,O,O,Yes,0:12,late',
        "QT8NUI,2027-03-24,2027-03-24T23:30Z,2027-03-25T00:30Z,10368.1,3cm,Q65,QM7TOR,,,,,",
        "QT8NUI,2027-03-11,2027-03-11T22:15Z,2027-03-11T23:15Z,10368.1,3cm,Q65,QM7TOR,,,no,,nothing",
    ]
    text = "\r\n".join(rows).replace('"10368,1"', "10368#1").replace(",", mark).replace("#", ",")
    entries, findings = read(tmp_path, b"\xef\xbb\xbf" + text.encode(), name="log.csv")
    assert [str(one.time_utc) for one in entries] == ["2027-03-11 22:45:00+00:00", "2027-03-15 00:12:00+00:00"]
    assert [one.completed for one in entries] == [False, True]
    assert [one.line for one in entries] == [4, 2]
    assert entries[1].frequency_mhz == 10368.1
    assert [one.what for one in findings] == ["1 row has nothing filled in"]


def test_open_quote_in_csv_loses_no_row(tmp_path: Path) -> None:
    head = "partner,slot_start_utc,time_utc,completed,report_sent,remarks"
    rows = [f'QT8NUI,2027-03-{day:02d}T13:00Z,13:15,yes,-20,"open' for day in (2, 3, 4)]
    entries, findings = read(tmp_path, head, *rows, name="log.csv")
    assert [one.line for one in entries] == [2, 3, 4]
    assert any("quotation mark" in one.what for one in findings)


def test_demo_log_is_what_the_simulation_writes_and_reads_clean() -> None:
    entries, findings = read_logs([DEMO_LOG], season())
    assert not findings
    assert 30 <= len(entries) <= 60
    assert DEMO_LOG.read_text(encoding="utf-8").count("<EOR>") == len(entries)
    failed = [entry for entry in entries if not entry.completed]
    assert failed
    assert any(entry.heard and entry.report_sent_db is None for entry in failed)


def test_kind_of_file_is_told_by_content(tmp_path: Path) -> None:
    entries, _ = read(tmp_path, record(), name="log.txt")
    assert len(entries) == 1
    with pytest.raises(InputFaults, match="a log in ADIF"):
        read(tmp_path, "Dear diary, the Moon was fine tonight.", name="diary.adi")
