"""What no file may exceed: each reader says what is too large and by which bound, and nothing is written or worked out.

Figures without a bound ask for memory, dates at the calendar's end overflow when a clock moves them, and names that no
disk takes end in an error of the system: each stands here by name.
"""

from __future__ import annotations

import datetime as dt
import json
import smtplib
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from pipeline.inputs import bounds
from pipeline.inputs.faults import InputFaults
from pipeline.inputs.roster import checked_rows
from pipeline.inputs.station import read_station
from pipeline.inputs.what_if import read_changes
from pipeline.inputs.yaml_tree import load_tree
from pipeline.letters.delivery import NoSession, Session
from pipeline.letters.offered import AnswerFault, in_agenda_of_all
from pipeline.letters.outbox import OutboxFault, parcel_of, read_json
from pipeline.letters.reply_calendar import LARGEST_CHARACTERS
from pipeline.letters.reply_mail import read_file
from pipeline.letters.settings import MailSettings
from pipeline.link.antenna import dish_beam, gain_beam
from pipeline.link.sun_noise import disc_mean_table
from pipeline.record.attempts import COLUMNS, remembered
from pipeline.record.ledger import parse_ledger
from pipeline.record.measurements import measurements_in
from pipeline.record.replies_read import replies_read
from pipeline.reports.rendering import Document, note_rendered, render_documents
from pipeline.review.adif import MOST_RECORDS
from pipeline.review.adx import read_adx
from pipeline.review.reading_logs import read_logs
from pipeline.sheets.document import log_in
from tests.effort import counted
from tests.hostile import examples
from tests.hostile.desks import DESKS, demo

READ = {desk.name: desk.read for desk in DESKS}
Reader = Callable[[bytes, Path], object]


def written(folder: Path, name: str, raw: bytes) -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(raw)
    return path


# Every reader of a file, whom it belongs to by the size that it takes.
READERS: dict[str, tuple[bounds.Size, Reader]] = {
    "season": (bounds.TEXT, READ["season"]),
    "station": (bounds.TEXT, READ["station"]),
    "survey": (bounds.TEXT, READ["survey"]),
    "roster": (bounds.TEXT, READ["roster"]),
    "modes": (bounds.TEXT, READ["modes"]),
    "agenda of the record": (bounds.RECORD, READ["agenda"]),
    "corrections": (bounds.RECORD, READ["corrections"]),
    "ledger": (bounds.LEDGER, READ["ledger"]),
    "log ADI": (bounds.LOG, READ["log ADI"]),
    "log ADX": (bounds.LOG, READ["log ADX"]),
    "log CSV": (bounds.LOG, READ["log CSV"]),
    "log of a night": (bounds.LOG, lambda raw, folder: log_in(written(folder, "log.csv", raw).parent)),
    "mail": (bounds.REPLY, lambda raw, folder: _told(written(folder, "a.eml", raw))),
    "calendar": (bounds.REPLY, lambda raw, folder: _told(written(folder, "a.ics", raw))),
    "flux": (bounds.TEXT, READ["flux"]),
    "measurements": (bounds.TEXT, READ["measurements"]),
    "attempts": (bounds.RECORD, READ["attempts"]),
    "replies read": (
        bounds.REPLIES_READ,
        lambda raw, folder: replies_read(written(folder, "record/replies_read.txt", raw).parents[1]),
    ),
    "what-if": (bounds.TEXT, lambda raw, folder: read_changes([f"season.title={raw.decode()}"])),
    "letter": (bounds.LETTER, lambda raw, folder: parcel_of(written(folder, "l.eml", raw).parent, "l", {}, "QF4LUM")),
    "beside a letter": (bounds.OWN, lambda raw, folder: read_json(written(folder, "letter.json", raw))),
    "agenda of a plan": (bounds.OWN, lambda raw, folder: in_agenda_of_all(written(folder, "agenda.csv", raw))),
}


def _told(path: Path) -> None:
    """An answer that is not read is told by its file, like a refusal."""
    if fault := read_file(path).fault:
        raise OutboxFault(f"{path.name}: {fault}")


@pytest.mark.parametrize("name", READERS)
def test_every_reader_says_what_is_too_large_and_by_which_bound(name: str, tmp_path: Path) -> None:
    size, read = READERS[name]
    with pytest.raises((InputFaults, OutboxFault, AnswerFault)) as told, counted() as effort:
        read(b"x" * (size.largest_bytes + 1), tmp_path)
    assert f"is over {size.largest_bytes / 1e6:g} MB" in str(told.value)
    # The record's own files beside it are looked at too.
    assert effort.calls < 500_000


def test_no_size_is_read_without_such_a_reader() -> None:
    sizes = {name for name, value in vars(bounds).items() if isinstance(value, bounds.Size)}
    held = {name for name in sizes if any(getattr(bounds, name) is size for size, _ in READERS.values())}
    # The key has its own digits below; the mailbox is held beside its reader (tests/letters/test_reply_trust.py).
    assert sizes - held == {"UID_KEY", "MAILBOX"}


def test_the_key_of_identifiers_has_its_digits_and_no_more(tmp_path: Path) -> None:
    with pytest.raises(InputFaults, match="32 hexadecimal digits are meant"):
        READ["key of identifiers"](b"00112233445566778899aabbccddeeff" + b"\n" * 2_000, tmp_path)


MANY_EVENTS = b"BEGIN:VCALENDAR\r\n" + b"BEGIN:VEVENT\r\nEND:VEVENT\r\n" * 101 + b"END:VCALENDAR\r\n"
PARTS = (
    b"MIME-Version: 1.0\r\nContent-Type: multipart/mixed; boundary=b\r\n\r\n" + b"--b\r\n\r\nx\r\n" * 101 + b"--b--\r\n"
)


@pytest.mark.parametrize(
    ("name", "raw", "words"),
    [
        ("a.ics", MANY_EVENTS, "its calendar holds more than 100 events"),
        ("a.ics", b"x" * (LARGEST_CHARACTERS + 1), "its calendar has over 1,000,000 letters"),
        ("a.ics", b"BEGIN:VCALENDAR\r\n" * 50, "its calendar is nested more than"),
        ("a.eml", b"Content-Type: text/calendar\r\n\r\n" + MANY_EVENTS, "its calendar holds more than 100 events"),
        ("a.eml", PARTS, "it has more than 100 parts"),
        ("a.eml", b"X: " + b"y" * 200_001, "its head is over 200,000 bytes"),
        ("a.eml", b"\r\n\r\n" + b"Content-Type: multipart/mixed\r\n" * 13, "it holds more than 12 mails within mails"),
        ("a.eml", b"\r\n\r\n" + b"\n--" * 5_001, "it holds more than 5,000 parts"),
    ],
)
def test_an_answer_beyond_bounds_says_which(name: str, raw: bytes, words: str, tmp_path: Path) -> None:
    assert words in read_file(written(tmp_path, name, raw)).fault


class Talker:
    """A mail server that never comes to an end: each of its lines says that another follows."""

    def makefile(self, _: str) -> Talker:
        return self

    def readline(self, _: int) -> bytes:
        return b"250-and another thing\r\n"

    def close(self) -> None:
        """Nothing to close."""


def test_a_mail_server_that_never_ends_an_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    def connected(self: smtplib.SMTP, *_: object) -> tuple[int, bytes]:
        self.sock = Talker()  # type: ignore[assignment]
        return self.getreply()

    monkeypatch.setattr(smtplib.SMTP, "connect", connected)
    for security in ("tls", "starttls"):
        with pytest.raises(NoSession, match="port 465, answers with more than 200 lines \\(at the connection\\)"):
            Session(MailSettings("post.example", 465, security))


def test_a_log_with_too_many_records_says_so() -> None:
    record = "<RECORD><CALL>QT8NUI</CALL></RECORD>"
    for text in (f"<ADX>{record * (MOST_RECORDS + 1)}</ADX>", f"<ADX>{record * (MOST_RECORDS + 1)}"):
        records = read_adx(text)
        assert len(records) == MOST_RECORDS
        assert "the log has more than 20,000 records" in records[-1].oddities[-1][1]


# --- much of a file that is small -------------------------------------------------------------------------------------


def station_with(more: bytes, folder: Path) -> list[str]:
    return [
        str(one)
        for one in read_station(load_tree(b"call: QF4LUM\nposition: {locator: KP10}\n" + more, "a.yaml", folder)).faults
    ]


@pytest.mark.parametrize(
    ("survey", "words"),
    [
        (b"1,2\n" * 240_000, "the survey has 240000 rows; at most 4000 are taken."),
        (b"1," * 240_000, "the row has 240001 cells; azimuth_deg,elevation_deg are meant."),
        (b"1,2,3\n" * 160_000, "the survey has 160000 rows; at most 4000 are taken."),
    ],
)
def test_a_survey_is_bounded_before_anything_is_made_of_it(survey: bytes, words: str, tmp_path: Path) -> None:
    written(tmp_path, "survey.csv", b"azimuth_deg,elevation_deg\n" + survey)
    with counted() as effort:
        told = station_with(b"horizon: {file: survey.csv}\n", tmp_path)
    assert words in told[0]
    assert len(told) == 1
    assert effort.calls < 10_000


def test_keys_and_columns_without_end(tmp_path: Path) -> None:
    keys = b"".join(b"key%d: 1\n" % number for number in range(20_000))
    with pytest.raises(InputFaults, match="more than 500 keys stand together"), counted() as effort:
        station_with(keys, tmp_path)
    roster = b"call," + b",".join(b"x%d" % number for number in range(100_000)) + b"\nQF4LUM\n"
    with pytest.raises(InputFaults, match="line 1: the row has 100001 cells; at most 500 are taken"):
        checked_rows(written(tmp_path, "roster.csv", roster), tmp_path)
    # Each line is looked at once for slips.
    assert effort.calls < 300 * 20_000


def test_a_row_of_a_survey_with_a_cell_too_many(tmp_path: Path) -> None:
    written(tmp_path, "survey.csv", b"azimuth_deg,elevation_deg\n0,1\n10,2,\n")
    assert station_with(b"horizon: {file: survey.csv}\n", tmp_path) == [
        "survey.csv, line 3: the row has 3 cells; azimuth_deg,elevation_deg are meant."
    ]


# --- figures ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", ["1e-9", "0.001", "0.00999"])
def test_a_beam_narrower_than_any_antennas(width: str, tmp_path: Path) -> None:
    bands = b"bands: {3cm: {antenna: {gain_dbi: 40, beamwidth_deg: %s}}}\n" % width.encode()
    assert station_with(bands, tmp_path) == [
        f"a.yaml, line 3: bands.3cm.antenna.beamwidth_deg is {width}; a beamwidth between half-power points in degrees "
        "is meant, 0.01 to 90."
    ]


def test_the_suns_disc_asks_no_more_of_a_narrow_beam() -> None:
    """A disc over the beam of the largest dish takes no more memory than one over a usual beam."""
    peaks = []
    for beam in (dish_beam(3.0, 0.6, 10368), dish_beam(100.0, 0.6, 241_000), gain_beam(80.0, 10368, 1e-9)):
        tracemalloc.start()
        _, mean_db = disc_mean_table(beam)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert np.isfinite(mean_db).all()
    assert max(peaks) < 20_000_000
    assert max(peaks) < 1.5 * peaks[0]


@pytest.mark.parametrize("figure", ["inf", "-inf", "nan", "1e999", "1e40", "0x10", "1_0"])
def test_a_figure_of_the_attempts_is_an_ordinary_number(figure: str, tmp_path: Path) -> None:
    row = dict.fromkeys(COLUMNS, "") | {"call": "QF4LUM", "time_utc": "2027-03-13T19:20:00Z", "completed": "yes"}
    for name in ("frequency_mhz", "report_sent_db", "report_received_db", "periods_tried_at_home"):
        text = "\n".join(",".join(cells) for cells in (COLUMNS, [*(row | {name: figure}).values()])) + "\n"
        written(tmp_path, "record/attempts.csv", text.encode())
        with pytest.raises(
            InputFaults, match=f"{name} is '{figure}', which this program does not write; delete the line"
        ):
            remembered(tmp_path)


@pytest.mark.parametrize("figure", ["inf", "nan", "1e999", "1e40"])
def test_a_figure_of_a_log_or_a_reading_is_an_ordinary_number(figure: str, tmp_path: Path) -> None:
    with pytest.raises(InputFaults, match="a number from -1 to 40 is meant"):
        measurements_in(f"time_utc,call,band,what,measured_db\n2027-03-13T19:20Z,QF4LUM,3cm,sun,{figure}\n")
    assert station_with(b"horizon: [{azimuth_deg: %s, elevation_deg: 1}]\n" % figure.encode(), tmp_path)
    log = examples.LOG_CSV.replace(b"10368.1", figure.encode()).replace(b"-12,-14", f"{figure},{figure}".encode())
    entries, _ = read_logs([written(tmp_path, "log.csv", log)], demo())
    numbers = [
        one for entry in entries for one in (entry.frequency_mhz, entry.report_sent_db, entry.report_received_db)
    ]
    assert all(one is None or abs(one) < bounds.HIGHEST_MHZ for one in numbers)


@pytest.mark.parametrize("number", [10**9, 10**40, 10**400])
def test_a_count_of_the_ledger_is_one_that_mail_programs_take(number: int) -> None:
    with pytest.raises(InputFaults, match="line 1: the line is no entry of this program"):
        parse_ledger(examples.LEDGER.replace(b'"sequence": 0', b'"sequence": %d' % number))


def test_a_frequency_of_the_ledger_is_an_ordinary_number() -> None:
    told = b'"told": {"home_mhz": %s, "partner_mhz": 1, "mode": "", "opener": "", "meet": "", "listen_hz": [], '
    told += b'"send_hz": []}'
    good = parse_ledger(examples.LEDGER.replace(b'"sequence"', told % b"10368.1" + b', "sequence"'))
    assert good.messages[0].slots[0].told is not None
    for figure in (b"1" + b"0" * 400, b"Infinity", b"NaN", b"1e300"):
        with pytest.raises(InputFaults, match="line 1"):
            parse_ledger(examples.LEDGER.replace(b'"sequence"', told % figure + b', "sequence"'))


# --- the calendar's end -----------------------------------------------------------------------------------------------

EDGES = ("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "1899-12-31T23:59:59Z", "2100-01-01T00:00:00Z")


@pytest.mark.parametrize("edge", EDGES)
def test_dates_at_the_calendars_end_are_refused_by_every_reader(edge: str, tmp_path: Path) -> None:
    for old in (b"2027-03-13T19:00:00Z", b"2027-02-01T10:00:00+00:00"):
        with pytest.raises(InputFaults, match="the line is no entry of this program"):
            parse_ledger(examples.LEDGER.replace(old, edge.encode(), 1))
    for name in ("time_utc", "slot_start_utc", "slot_end_utc"):
        row = dict.fromkeys(COLUMNS, "") | {"call": "QF4LUM", "time_utc": "2027-03-13T19:20:00Z", "completed": "yes"}
        text = "\n".join(",".join(cells) for cells in (COLUMNS, [*(row | {name: edge}).values()])) + "\n"
        written(tmp_path, "record/attempts.csv", text.encode())
        with pytest.raises(InputFaults, match=f"{name} is '"):
            remembered(tmp_path)
    with pytest.raises(InputFaults, match="the year is meant to be 1900 to 2099"):
        measurements_in(f"time_utc,call,band,what,measured_db\n{edge},QF4LUM,3cm,sun,3\n")
    with pytest.raises(InputFaults, match="the year is meant to be 1900 to 2099"):
        READ["agenda"](examples.AGENDA.replace(b"2027-03-13T19:00Z", edge.encode()), tmp_path)
    READ["log CSV"](examples.LOG_CSV.replace(b"2027-03-13T19:00:00Z", edge.encode()), tmp_path)
    basic = edge[:19].replace("-", "").replace(":", "")
    for calendar in examples.CALENDARS:
        READ["calendar"](calendar.replace(b"20270313T190000Z", f"{basic}Z".encode()), tmp_path)


@pytest.mark.parametrize("length", [b"P1D", b"P99W"])
def test_a_slot_of_an_answer_that_ends_beyond_the_calendar(length: bytes, tmp_path: Path) -> None:
    calendar = examples.REPLY.replace(b"20270313T190000Z", b"99991231T235959Z")
    calendar = calendar.replace(b"DTEND:20270313T200000Z", b"DURATION:" + length)
    mail = read_file(written(tmp_path, "a.ics", calendar))
    assert mail.fault == ""
    assert mail.events[0].start_utc == dt.datetime(9999, 12, 31, 23, 59, 59, tzinfo=dt.UTC)
    assert mail.events[0].end_utc is None


# --- names ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["x" * 300 + ".pdf", "a\0b.pdf", "/".join(["deep"] * 2000), "../" * 3000])
def test_a_name_among_the_rendered_that_no_disk_takes(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Such an entry is dropped, and all is rendered anew."""
    monkeypatch.setattr("pipeline.reports.pdf.render", lambda *_: b"%PDF new")
    written(tmp_path, "rendered.json", json.dumps({name: {"made_from": "a", "sha256": "b"}}).encode())
    documents = {"a.pdf": Document("<p>", dt.date(2027, 3, 13), "a", 1, "")}
    made = render_documents(documents, tmp_path)
    assert made == {"a.pdf": b"%PDF new"}
    note_rendered(documents, made, tmp_path)
    assert list(json.loads((tmp_path / "rendered.json").read_bytes())) == ["a.pdf"]


def test_what_was_rendered_is_no_matter_where_its_list_is_too_large(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pipeline.reports.pdf.render", lambda *_: b"%PDF new")
    written(tmp_path, "rendered.json", b"[" * (bounds.OWN.largest_bytes + 1))
    documents = {"a.pdf": Document("<p>", dt.date(2027, 3, 13), "a", 1, "")}
    assert render_documents(documents, tmp_path) == {"a.pdf": b"%PDF new"}
