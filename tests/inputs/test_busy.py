"""Calendars of people: RFC 5545's own forms, held against an independent library, and what may never be kept of them.

Public holidays against the statutes that name them.
"""

from __future__ import annotations

import datetime as dt
import re
import sys
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from pipeline.inputs.busy import BusyFile, busy_times, read_busy
from pipeline.inputs.faults import InputFaults
from pipeline.inputs.free_days import holiday_code, holidays_in
from pipeline.inputs.scalars import Refusal
from pipeline.record.inputs import read_inputs
from tests.inputs.helpers import HOME, SEASON, lay_out

MONTEVIDEO = ZoneInfo("America/Montevideo")
FIRST, LAST = dt.datetime(2027, 3, 1, tzinfo=dt.UTC), dt.datetime(2027, 5, 1, tzinfo=dt.UTC)

ZONE = """\
BEGIN:VTIMEZONE
TZID:Lumme time
BEGIN:STANDARD
DTSTART:19701025T040000
TZOFFSETFROM:+0300
TZOFFSETTO:+0200
RRULE:FREQ=YEARLY;BYMONTH=10;BYDAY=-1SU
END:STANDARD
BEGIN:DAYLIGHT
DTSTART:19700329T030000
TZOFFSETFROM:+0200
TZOFFSETTO:+0300
RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=-1SU
END:DAYLIGHT
END:VTIMEZONE
"""
# Every Thursday evening over the clock change of 28 March, one of them cancelled, one moved, one more.
CHOIR = """\
BEGIN:VEVENT
UID:choir
DTSTAMP:20260101T000000Z
DTSTART;TZID=Lumme time:20270107T190000
DTEND;TZID=Lumme time:20270107T210000
RRULE:FREQ=WEEKLY;BYDAY=TH
EXDATE;TZID=Lumme time:20270318T190000
RDATE;TZID=Lumme time:20270320T100000
SUMMARY:Choir at Aino's
LOCATION:Behind the church
DESCRIPTION:bring the cake
END:VEVENT
BEGIN:VEVENT
UID:choir
DTSTAMP:20260101T000000Z
RECURRENCE-ID;TZID=Lumme time:20270401T190000
DTSTART;TZID=Lumme time:20270402T180000
DTEND;TZID=Lumme time:20270402T200000
SUMMARY:Choir, Friday for once
END:VEVENT
"""


def calendar(*parts: str) -> bytes:
    text = "BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:-//invented//EN\n" + "".join(parts) + "END:VCALENDAR\n"
    return text.replace("\n", "\r\n").encode()


def event(*lines: str) -> str:
    body = "\n".join(lines)
    return f"BEGIN:VEVENT\nUID:one\nDTSTAMP:20260101T000000Z\n{body}\nSUMMARY:Secret\nEND:VEVENT\n"


def busy_in(tmp_path: Path, raw: bytes) -> BusyFile:
    (tmp_path / "family.ics").write_bytes(raw)
    (found,), hashes, faults = read_busy(tmp_path, ["family.ics"])
    assert (list(hashes), faults) == (["family.ics"], [])
    return found


def times_of(tmp_path: Path, raw: bytes) -> list[tuple[dt.datetime, dt.datetime]]:
    return list(busy_times(busy_in(tmp_path, raw), MONTEVIDEO, FIRST, LAST))


def test_repeats_exceptions_and_moves_are_those_of_an_independent_library(tmp_path: Path) -> None:
    """The package ical works out the same calendar by itself."""
    from ical.calendar_stream import IcsCalendarStream

    raw = calendar(ZONE, CHOIR)
    stream = IcsCalendarStream.calendar_from_ics(raw.decode())
    theirs = sorted(
        (one.dtstart.astimezone(dt.UTC), (one.dtend or one.dtstart).astimezone(dt.UTC))
        for one in stream.timeline.overlapping(FIRST, LAST)
    )
    ours = times_of(tmp_path, raw)
    assert ours == theirs
    assert (dt.datetime(2027, 3, 25, 17, tzinfo=dt.UTC), dt.datetime(2027, 3, 25, 19, tzinfo=dt.UTC)) in ours
    assert (dt.datetime(2027, 4, 8, 16, tzinfo=dt.UTC), dt.datetime(2027, 4, 8, 18, tzinfo=dt.UTC)) in ours
    starts = [start.date() for start, _ in ours]
    assert dt.date(2027, 3, 18) not in starts
    assert dt.date(2027, 4, 1) not in starts
    assert dt.date(2027, 4, 2) in starts
    assert dt.date(2027, 3, 20) in starts


def test_whole_days_and_times_without_a_zone_are_the_stations(tmp_path: Path) -> None:
    whole = event("DTSTART;VALUE=DATE:20270313", "DTEND;VALUE=DATE:20270315")
    assert times_of(tmp_path, calendar(whole)) == [
        (dt.datetime(2027, 3, 13, 3, tzinfo=dt.UTC), dt.datetime(2027, 3, 15, 3, tzinfo=dt.UTC))
    ]
    floating = event("DTSTART:20270313T200000", "DURATION:PT90M")
    assert times_of(tmp_path, calendar(floating)) == [
        (dt.datetime(2027, 3, 13, 23, tzinfo=dt.UTC), dt.datetime(2027, 3, 14, 0, 30, tzinfo=dt.UTC))
    ]


@pytest.mark.parametrize("line", ["TRANSP:TRANSPARENT", "STATUS:CANCELLED"])
def test_what_is_shown_as_free_or_cancelled_takes_nothing(tmp_path: Path, line: str) -> None:
    assert times_of(tmp_path, calendar(event("DTSTART:20270313T200000Z", "DTEND:20270313T210000Z", line))) == []


def test_free_busy_periods(tmp_path: Path) -> None:
    """The forms of section 3.8.2.6: an end, a duration, several in a line, and FBTYPE=FREE."""
    raw = calendar(
        "BEGIN:VFREEBUSY\nUID:f\nDTSTAMP:20260101T000000Z\n"
        "FREEBUSY;FBTYPE=BUSY-UNAVAILABLE:20270308T160000Z/PT8H30M\n"
        "FREEBUSY:20270310T160000Z/PT3H,20270310T200000Z/PT1H\n"
        "FREEBUSY;FBTYPE=FREE:20270311T160000Z/20270311T190000Z\n"
        "FREEBUSY;FBTYPE=BUSY:20270312T160000Z/20270312T190000Z\n"
        "END:VFREEBUSY\n"
    )
    found = [f"{start:%d %H:%M}-{end:%d %H:%M}" for start, end in times_of(tmp_path, raw)]
    assert found == ["08 16:00-09 00:30", "10 16:00-10 19:00", "10 20:00-10 21:00", "12 16:00-12 19:00"]


def test_no_word_of_an_entry_is_kept(tmp_path: Path) -> None:
    found = busy_in(tmp_path, calendar(ZONE, CHOIR))
    for word in (b"Choir", b"church", b"cake", b"Aino"):
        assert word not in found.times
    assert "times" not in repr(found)


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (b"hello\n", "the file is no iCalendar file (RFC 5545); export the calendar as .ics."),
        (
            calendar(event("DTSTART:20000101T000000Z", "DTEND:20000101T000100Z", "RRULE:FREQ=SECONDLY")),
            "an entry repeats more often than daily",
        ),
        (
            calendar(*(event("DTSTART:20270313T200000Z") for _ in range(5001))),
            "the calendar has 5001 entries, and 5000 at most are taken",
        ),
    ],
    ids=["no calendar", "too often", "too many"],
)
def test_what_is_refused(tmp_path: Path, raw: bytes, told: str) -> None:
    (tmp_path / "family.ics").write_bytes(raw)
    found, _, faults = read_busy(tmp_path, ["family.ics"])
    assert found == ()
    assert [place for place, _ in faults] == [0]
    assert told in faults[0][1]


def faults_of(tmp_path: Path, home: str = HOME, season: str = SEASON) -> str:
    tmp_path.mkdir(exist_ok=True)
    (tmp_path / "broken.ics").write_bytes(b"hello\n")
    with pytest.raises(InputFaults) as found:
        read_inputs(lay_out(tmp_path, qm7tor=home, season=season))
    return str(found.value)


def test_faults_name_file_line_and_key(tmp_path: Path) -> None:
    told = faults_of(tmp_path / "one", HOME.replace("time_zone:", "busy: [nowhere.ics, broken.ics]\ntime_zone:"))
    assert "qm7tor.yaml, line 6: busy names 'nowhere.ics'; there is no file" in told
    assert "qm7tor.yaml, line 6: busy names 'broken.ics'; the file is no iCalendar file" in told
    told = faults_of(tmp_path / "two", HOME.replace("time_zone:", "holidays: XX\ntime_zone:"))
    assert "holidays is 'XX'; a country's two letters are meant (ISO 3166), such as UY" in told
    season = re.sub("(?m)^operators:.*$", "operators: [{call: QA0NEW, busy: gone.ics}]", SEASON)
    assert "operators.1.busy names 'gone.ics'; there is no file" in faults_of(tmp_path / "three", season=season)


def test_without_the_packages_a_sentence_says_what_to_type(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "recurring_ical_events", None)
    monkeypatch.setitem(sys.modules, "holidays", None)
    (tmp_path / "family.ics").write_bytes(calendar(ZONE, CHOIR))
    _, _, faults = read_busy(tmp_path, ["family.ics"])
    assert faults[0][1].endswith("-m pip install recurring-ical-events")
    with pytest.raises(Refusal, match="-m pip install holidays"):
        holiday_code("UY")


def test_holidays_are_those_of_the_law() -> None:
    """Ley 12.590 of Uruguay: 1 January, 1 May, 18 July, 25 August and 25 December are paid and free (from memory)."""
    dates = {(date.month, date.day) for date in holidays_in("UY", 2027)}
    assert {(1, 1), (5, 1), (7, 18), (8, 25), (12, 25)} <= dates
    # Epiphany is free in Bavaria and not in all of Germany (Feiertagsgesetz, article 1; from memory).
    assert dt.date(2027, 1, 6) in holidays_in("DE-BY", 2027)
    assert dt.date(2027, 1, 6) not in holidays_in("DE", 2027)
    assert holiday_code(" uy ") == "UY"
    with pytest.raises(Refusal, match="write DE, such as DE-B"):
        holiday_code("DE-XX")
