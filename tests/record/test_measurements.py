"""Readings of noise in the record: what a line may say, every fault in one go, and lines that are only added."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from pipeline.inputs.faults import InputFaults
from pipeline.record.measurements import COLUMNS, LABEL, measurement_of, measurements_in, read_measurements
from pipeline.record.measurements_writing import add_measurement
from pipeline.record.model import DIAL, PEAK, Measurement
from pipeline.record.writing import record_lock

HEAD = ",".join(COLUMNS)
SUN = Measurement("QM7TOR", "3cm", dt.datetime(2027, 3, 13, 18, 20, tzinfo=dt.UTC), "sun", 11.2)


def test_a_line_says_what_it_says() -> None:
    rows = (
        f"{HEAD}\n2027-03-13T18:20Z,qm7tor,3CM,Sun,11.2,,,,\n2027-03-13T15:40-03:00,QM7TOR,3cm,moon,0.7,,0.3,-0.1,wet\n"
    )
    first, second = measurements_in(rows)
    assert first == Measurement("QM7TOR", "3cm", SUN.time_utc, "sun", 11.2, DIAL, line=2)
    assert (second.time_utc.hour, second.aim, second.azimuth_offset_deg, second.remarks) == (18, PEAK, 0.3, "wet")


def test_a_spreadsheet_with_decimal_commas_is_read() -> None:
    """Where commas part the digits, semicolons part the cells."""
    (found,) = measurements_in("time_utc;call;band;what;measured_db\n2027-03-13T18:20Z;QM7TOR;3cm;echo;-15,5\n")
    assert found.value_db == -15.5


@pytest.mark.parametrize(
    ("line", "field", "told"),
    [
        ("2027-03-13T18:20,QM7TOR,3cm,sun,11", "time_utc", "the zone is missing"),
        ("yesterday,QM7TOR,3cm,sun,11", "time_utc", "an instant is meant"),
        ("2027-03-13T18:20Z,,3cm,sun,11", "call", "call is missing"),
        ("2027-03-13T18:20Z,QM7TOR,4cm,sun,11", "band", "one of 6m, 2m"),
        ("2027-03-13T18:20Z,QM7TOR,3cm,star,11", "what", "one of ground, sun, moon, echo is meant"),
        ("2027-03-13T18:20Z,QM7TOR,3cm,sun,", "measured_db", "measured_db is missing"),
        ("2027-03-13T18:20Z,QM7TOR,3cm,sun,112", "measured_db", "a number from -1 to 40"),
        ("2027-03-13T18:20Z,QM7TOR,3cm,sun,1e1", "measured_db", "a number from -1 to 40"),
        ("2027-03-13T18:20Z,QM7TOR,3cm,sun,11,best", "aim", "one of dial, peak is meant"),
        ("2027-03-13T18:20Z,QM7TOR,3cm,sun,11,,90", "azimuth_offset_deg", "a number from -20 to 20"),
    ],
)
def test_a_fault_is_one_sentence_with_its_line_and_field(line: str, field: str, told: str) -> None:
    with pytest.raises(InputFaults) as caught:
        measurements_in(f"{HEAD}\n{line}\n")
    (fault,) = caught.value.faults
    assert (fault.file, fault.line, fault.field) == (LABEL, 2, field)
    assert told in fault.message


def test_all_faults_are_told_and_so_is_a_reading_that_stands_twice() -> None:
    text = f"{HEAD}\nx,QM7TOR,3cm,sun,11\n2027-03-13T18:20Z,QM7TOR,3cm,sun,y\n"
    with pytest.raises(InputFaults) as caught:
        measurements_in(text)
    assert [fault.line for fault in caught.value.faults] == [2, 3]
    good = "2027-03-13T18:20Z,QM7TOR,3cm,sun,11"
    with pytest.raises(InputFaults, match="stands in line 2 as well"):
        measurements_in(f"{HEAD}\n{good}\n{good}\n")


def test_a_file_without_the_columns_is_refused() -> None:
    with pytest.raises(InputFaults, match="does not name measured_db; the columns are time_utc, call"):
        measurements_in("time_utc,call,band,what\n")


def test_a_line_is_added_and_what_stood_there_stays(tmp_path: Path) -> None:
    with record_lock(tmp_path):
        file = add_measurement(tmp_path, SUN)
    assert file.read_text() == f"{HEAD}\n2027-03-13T18:20Z,QM7TOR,3cm,sun,11.2,dial,,,\n"
    own = "what;time_utc;call;band;measured_db;who\r\necho;2027-03-12T18:20Z;QM7TOR;3cm;-15;anna\r\n"
    file.write_bytes(own.encode())
    add_measurement(tmp_path, SUN)
    assert file.read_bytes().decode() == own + "sun;2027-03-13T18:20Z;QM7TOR;3cm;11.2;\r\n"
    found, digest = read_measurements(tmp_path)
    assert [one.what for one in found] == ["echo", "sun"]
    assert len(digest) == 64


def test_a_reading_is_noted_once_and_never_into_a_faulty_file(tmp_path: Path) -> None:
    with record_lock(tmp_path):
        file = add_measurement(tmp_path, SUN)
    before = file.read_bytes()
    with pytest.raises(InputFaults, match=r"line 2: sun of QM7TOR at 2027-03-13T18:20Z stands there already, 11.2 dB"):
        add_measurement(tmp_path, SUN)
    assert file.read_bytes() == before
    file.write_text(f"{HEAD}\nnonsense\n")
    with pytest.raises(InputFaults):
        add_measurement(tmp_path, SUN)
    assert file.read_text() == f"{HEAD}\nnonsense\n"


def test_what_was_typed_is_judged_like_a_line() -> None:
    good = {"time_utc": "2027-03-13T18:20Z", "call": "QM7TOR", "band": "3cm", "what": "sun", "measured_db": "11.2"}
    assert measurement_of(good) == SUN
    with pytest.raises(InputFaults, match=r"measure: what is 'sum'; one of ground") as caught:
        measurement_of(good | {"what": "sum", "measured_db": "x"})
    assert len(caught.value.faults) == 2


def test_no_file_is_no_reading(tmp_path: Path) -> None:
    assert read_measurements(tmp_path) == ((), "")
