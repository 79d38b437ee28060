"""Logs full of faults: no good record is lost, every oddity is told with its line, nothing hostile does harm."""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
import math
import re
from pathlib import Path
from xml.parsers import expat

import ephem
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.inputs.bounds import LOG
from pipeline.inputs.faults import InputFaults
from pipeline.record.log_csv import read_log
from pipeline.record.log_entry import Finding, LogEntry
from pipeline.review.adif import MOST_RECORDS, read_adi
from pipeline.review.adx import RefusedXml, read_adx
from pipeline.review.bands_logged import band_and_frequency
from pipeline.review.reading_logs import MOST_OF_A_FILE, read_logs
from pipeline.review.reports_given import read_report
from tests.conftest import Outside
from tests.effort import counted
from tests.review.logs import DATA, read, record, season
from tests.review.simulation import as_adif, demo_attempts

FAULTS = DATA / "faults.adi"
# What is told of each line of faults.adi, and whether the record counts all the same.
TOLD = [
    (5, "the same attempt stands in line 4", False),
    (7, "the Moon was .* below the skyline of QF4LUM.*one day off: 2027-03-16 fits", False),
    (8, r"below the skyline.*local time \(UTC-03:00\) may be logged: 2027-03-01 17:38 UTC", False),
    (9, "QT8NUI/P is taken for QT8NUI", True),
    (10, "VE3/QT8NUI is taken for QT8NUI", True),
    (11, "QT8NUL is no partner.*is QT8NUI meant", False),
    (12, "QW1ABC is no partner", False),
    (13, "kilohertz; 10368.1 MHz", True),
    (14, "FREQ 10368100000 looks like hertz; 10368.1 MHz", True),
    (15, "gigahertz; 10368.1 MHz", True),
    (16, "BAND says 6m, but 5760.1 MHz lies in 6cm", True),
    (16, "no figures for 6cm at QM7TOR and QT8NUI", False),
    (17, "no band '9m'; 3cm is taken", True),
    (18, "PROP_MODE is TR, not EME", False),
    (19, "PROP_MODE is missing and QG8FEN is only 20 km away", False),
    (20, "the time is missing", False),
    (21, "20270401 1415 is taken", True),
    (22, "QSO_DATE 20270231 .* is no date", False),
    (23, "the report 25 has no sign", True),
    (23, "the report -2500 is no signal-to-noise ratio", True),
    (24, "completed is '\\?'", True),
    (25, "20270328 0145 is taken", True),
    (26, "the length of CALL says 4, its text has 6 characters; 'QJ2KAW' is taken", True),
    (26, "the length of BAND says 9, its text has 3", True),
    (26, "the length of MODE is missing", True),
    (26, "the length of RST_RCVD says 2, its text has 3", True),
    (27, "no <EOR>", True),
    (28, "the mode Q66 is not in the mode table", True),
    (29, "QM7TOR is home itself", False),
    (30, "logged at QW1ABC, not at QM7TOR", False),
    (31, "no CALL", False),
    (32, "the year 1899", False),
    (33, "sent on 3cm, received on 13cm", False),
    (34, "not UTF-8", True),
    (35, "QT8 is no partner", False),
]


@pytest.fixture(scope="module")
def read_faults() -> tuple[tuple[LogEntry, ...], tuple[Finding, ...]]:
    return read_logs([FAULTS], season())


@pytest.mark.parametrize(("line", "words", "used"), TOLD)
def test_each_oddity_is_told_with_its_line(
    read_faults: tuple[tuple[LogEntry, ...], tuple[Finding, ...]], line: int, words: str, used: bool
) -> None:
    here = [one for one in read_faults[1] if one.line == line]
    assert any(re.search(words, str(one)) and one.used is used for one in here), [str(one) for one in here]


def test_no_good_record_is_lost(read_faults: tuple[tuple[LogEntry, ...], tuple[Finding, ...]]) -> None:
    """The log's comments say which records are good: those count, and no other."""
    entries, findings = read_faults
    left_out = {one.line for one in findings if not one.used}
    counted = {one.line for one in entries if one.line not in left_out}
    lines = re.split(r"\r\n", FAULTS.read_bytes().decode("latin-1"))
    assert counted == {number for number, line in enumerate(lines, 1) if ">good: " in line}
    assert len(counted) == 17


def test_the_moon_was_where_pyephem_has_it(
    read_faults: tuple[tuple[LogEntry, ...], tuple[Finding, ...]], outside: Outside
) -> None:
    """Depths told of records with the Moon down, and a Moon up for all others, by PyEphem's geometric altitudes."""
    stations = {one.call: one for one in (season().home, *season().partners)}
    left_out = {one.line for one in read_faults[1] if not one.used}
    down = {one.line: one for one in read_faults[1] if "skyline" in one.what}
    worst = 0.0
    for entry in read_faults[0]:
        heights = {call: moon_altitude_deg(stations[call], entry.time_utc) for call in ("QM7TOR", entry.call)}
        if entry.line not in left_out:
            # Radio refraction lifts the Moon by up to 0.8 degree at the horizon (ITU-R P.834).
            assert min(heights.values()) > -0.8, entry
        if entry.line == 8:
            told = re.search(r"was (\S+) degrees below the skyline of (\S+)", down[8].what)
            assert told is not None
            # Below -1 degree the lift stays that of -1 degree, 0.82 at sea level (P.834, equation 14).
            worst = abs(heights[told[2].rstrip(";")] + 0.82 + float(told[1]))
    # Told to a tenth of a degree.
    assert 0.0 < worst < 0.07
    outside("PyEphem", len(read_faults[0]), f"{worst:.2g} degree", "Moons over a log")


def moon_altitude_deg(station: object, instant: dt.datetime) -> float:
    observer = ephem.Observer()
    place = station.position  # type: ignore[attr-defined]
    observer.lat, observer.lon = math.radians(place.latitude_deg), math.radians(place.longitude_deg)
    observer.elevation, observer.pressure = place.height_m, 0
    observer.date = ephem.Date(instant.replace(tzinfo=None))
    return math.degrees(ephem.Moon(observer).alt)


@pytest.mark.parametrize(
    ("text", "snr_db", "heard"),
    [
        ("-22", -22.0, True), ("+05", 5.0, True), ("R-18", -18.0, True), ("-22dB", -22.0, True),
        ("−22 dB", -22.0, True), ("R +3", 3.0, True), ("-7.5", -7.5, True), ("-00", 0.0, True),
        ("O", None, True), ("RO", None, True), ("M", None, True), ("T", None, True), ("559", None, True),
        ("599", None, True), ("5NN", None, True), ("RRR", None, True), ("73", None, True), ("heard", None, True),
        ("", None, None), ("NIL", None, False), ("not heard", None, False), ("--", None, False),
        ("22", None, True), ("22dB", None, True), ("-99", None, None), ("+60", None, None), ("banana", None, None),
    ],
)  # fmt: skip
def test_reports(text: str, snr_db: float | None, heard: bool | None) -> None:
    """Signed decibels are figures, reports by ear are not (common practice, no source)."""
    report = read_report(text)
    assert (report.snr_db, report.heard) == (snr_db, heard)
    assert bool(report.oddity) == (text in ("22", "22dB", "-99", "+60", "banana"))


@pytest.mark.parametrize("text", ["52", "59", "33"])
def test_readability_and_strength_have_no_sign(text: str) -> None:
    report = read_report(text, by_ear_mode=True)
    assert (report.snr_db, report.heard, report.oddity) == (None, True, "")


@pytest.mark.parametrize(
    ("band", "frequency", "planned", "expected", "told"),
    [
        # Limits of the bands: ADIF band enumeration, from memory.
        ("1.25m", "24048.1", "1.25cm", ("1.25cm", 24048.1), "lies in 1.25cm"),
        ("1.25m", "", "1.25cm", ("1.25cm", None), "1.25cm is planned"),
        ("6mm", "", "6cm", ("6cm", None), "6cm is planned"),
        ("6M", "50.19", "6m", ("6m", 50.19), ""),
        ("", "144.12", "2m", ("2m", 144.12), ""),
        ("2m", "144120", "2m", ("2m", 144.12), "kilohertz"),
        ("23cm", "1296,1", "23cm", ("23cm", 1296.1), ""),
        ("10 GHz", "", "3cm", ("3cm", None), ""),
        ("3cm", "banana", "3cm", ("3cm", None), "no frequency"),
        ("3cm", "-1", "3cm", ("3cm", None), "no frequency"),
        ("3cm", "1e999", "3cm", ("3cm", None), "no frequency"),
        ("", "", "3cm", ("3cm", None), "the band is missing"),
    ],
)
def test_bands(band: str, frequency: str, planned: str, expected: tuple[str, float | None], told: str) -> None:
    found, megahertz, notes = band_and_frequency(band, frequency, "", (planned, (planned,)))
    assert found == expected[0]
    assert megahertz == (pytest.approx(expected[1]) if expected[1] else None)
    assert (told in notes[0][0]) if told else not notes


def test_fuller_record_of_an_attempt_is_kept(tmp_path: Path) -> None:
    entries, findings = read(
        tmp_path, record(QSO_COMPLETE="N", RST_RCVD=""), record(time="1318"), record(time="1340"), record("QJ2KAW")
    )
    assert [(one.call, one.line) for one in entries] == [("QJ2KAW", 4), ("QT8NUI", 2), ("QT8NUI", 3)]
    assert "the same attempt stands in line 2 as well, with other reports" in findings[0].what


def test_logs_of_two_nights_have_names_of_their_own(tmp_path: Path) -> None:
    """Two files of one name are told apart by their folder, and an attempt in both counts once."""
    paths = []
    for night in ("2027-03-02", "2027-03-03"):
        (tmp_path / night).mkdir()
        paths.append(tmp_path / night / "log.adi")
        paths[-1].write_text(record())
    entries, findings = read_logs(paths, season())
    assert [one.file for one in entries] == ["2027-03-02/log.adi"]
    assert "2027-03-02/log.adi, line 1" in findings[0].what


def test_whole_file_in_local_time(tmp_path: Path) -> None:
    """Montevideo is three hours behind UTC all year: the demo's log with all times so shifted."""
    late = [dataclasses.replace(one, time_utc=one.time_utc - dt.timedelta(hours=3)) for one in demo_attempts()]
    _, findings = read(tmp_path, as_adif(late))
    assert any("the whole file looks like local time (UTC-03:00)" in one.advice for one in findings)


def test_heard_and_completed(tmp_path: Path) -> None:
    """QSO_COMPLETE of the specification: Y, N, NIL (not heard), ? (uncertain); absent means completed."""
    cases = {
        "": (True, True), "Y": (True, True), "N": (False, True), "?": (False, True),
    }  # fmt: skip
    for complete, expected in cases.items():
        entries, _ = read(tmp_path, record(QSO_COMPLETE=complete))
        assert (entries[0].completed, entries[0].heard) == expected
    for complete, heard in (("NIL", False), ("N", None)):
        entries, _ = read(tmp_path, record(QSO_COMPLETE=complete, RST_SENT="", RST_RCVD=""))
        assert (entries[0].completed, entries[0].heard) == (False, heard)


def test_faults_of_files_are_told_in_one_go(tmp_path: Path) -> None:
    (tmp_path / "empty.adi").write_text("")
    (tmp_path / "picture.adi").write_bytes(bytes(range(256)))
    (tmp_path / "large.adi").write_bytes(b" " * (LOG.largest_bytes + 1))
    paths = [tmp_path / name for name in ("none.adi", "empty.adi", "picture.adi", "large.adi")]
    with pytest.raises(InputFaults) as caught:
        read_logs([*paths, tmp_path], season())
    text = str(caught.value)
    for words in ("there is no file", "the file is empty", "not plain text", "over 5 MB", "this is no file"):
        assert words in text
    assert len(caught.value.faults) == 5


def test_station_log_of_thousands_is_told_in_short(tmp_path: Path) -> None:
    strangers = [record(f"QW{number:04d}X") for number in range(400)]
    others = [record("QJ2KAW", f"2027{month:02d}01", f"{hour:02d}00", PROP_MODE="TR")
              for month in range(1, 13) for hour in range(24)]  # fmt: skip
    entries, findings = read(tmp_path, *strangers, *others, record())
    assert sum(one.moonbounce for one in entries) == 1
    assert len(findings) == 22
    assert any("390 more stations are no partners" in one.what for one in findings)


@pytest.mark.parametrize(
    "piece",
    [
        "<", "<A>", "<CALL>", "<COMMENT:5000>x", "<CALL:4999> ", "<NOTES:4000>x <eor>", "<CALL:99999999999999>",
        "é<A:9>",
        "<RECORD><CALL>Q", "<!-- ", '"', "partner,time_utc\n", "<eor>", "\r", "<CALL:1>Q", "<CALL:1>Q\n",
    ],
)  # fmt: skip
def test_hostile_repetition_ends_soon(piece: str, tmp_path: Path) -> None:
    """100 kB of the same over and over: what grows with the square of the length would take minutes."""
    for head in ("", "<ADX>", "partner,time_utc\n"):
        text = head + piece * (LOG.largest_bytes // 50 // len(piece))
        with counted() as effort, contextlib.suppress(InputFaults):
            _, findings = read(tmp_path, text)
            assert len(findings) <= MOST_OF_A_FILE + 1
        # The worst of these takes 20 calls a character and half a second.
        assert effort.calls < 300_000 + 40 * len(text)
        assert effort.processor_s < 4.0


def test_records_have_a_limit() -> None:
    records = read_adi("<CALL:6>QT8NUI<EOR>" * (MOST_RECORDS + 5))
    assert len(records) == MOST_RECORDS
    assert "more than 20,000 records" in records[-1].oddities[-1][1]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(
    pieces=st.lists(
        st.sampled_from(
            ["<", ">", ":", "CALL", "<CALL:6>", "QT8NUI", "<EOR>", "<EOH>", "\n", " ", "12", "<BAND:3>3cm", "é", "\x00",
             "<RECORD>", "</RECORD>", "<ADX>", "&", "<![CDATA[", "<?xml?>", "partner", ",", '"', "time_utc", "-22"]
        ),
        max_size=40,
    )
)  # fmt: skip
def test_anything_is_read_or_refused_in_words(pieces: list[str], tmp_path: Path) -> None:
    text = "".join(pieces)
    read_adi(text)
    with contextlib.suppress(RefusedXml, expat.ExpatError):
        read_adx(text)
    read_log(text)
    with contextlib.suppress(InputFaults):
        read(tmp_path, text)
