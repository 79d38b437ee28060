"""Times of a log outside the slots of their rows: by home's clock (IANA time zone database), or by a slip."""

from __future__ import annotations

import dataclasses
import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from pipeline.record.log_entry import LogEntry
from pipeline.review.slot_questions import slot_questions

ROME = ZoneInfo("Europe/Rome")


def entry(line: int, clock: str, date: str = "2027-02-13") -> LogEntry:
    """An attempt in a slot from 11:30 to 12:30 UTC."""
    start = dt.datetime(2027, 2, 13, 11, 30, tzinfo=dt.UTC)
    return LogEntry(
        "log.csv", line, "QF4LUM", "QM7TOR", dt.datetime.fromisoformat(f"{date}T{clock}:00+00:00"), "3cm", 10368.1,
        "Q65", "-17", "-18", -17.0, -18.0, True, True, True, "", start, start + dt.timedelta(hours=1),
    )  # fmt: skip


def told(entries: list[LogEntry], seen: set[tuple[str, int]] | None = None) -> list[str]:
    return [str(one) for one in slot_questions(entries, ROME, seen or set())[0]]


def test_a_whole_log_by_the_local_clock() -> None:
    assert told([entry(2, "12:50"), entry(3, "13:05")]) == [
        "log.csv, line 2: time_utc 12:50, 13:05 (to line 3) lie outside their slots, inside by home's clock "
        "(UTC+01:00); write UTC: 11:50, 12:05"
    ]


@pytest.mark.parametrize(("clock", "is_told"), [("12:36", True), ("12:35", False), ("11:25", False), ("11:30", False)])
def test_a_contact_just_beside_its_slot(clock: str, is_told: bool) -> None:
    assert bool(told([entry(2, clock), entry(3, "12:00")])) is is_told


def test_a_time_that_no_clock_explains() -> None:
    assert told([entry(2, "18:10"), entry(3, "12:00")]) == [
        "log.csv, line 2: time_utc 2027-02-13 18:10 lies outside the slot, 11:30 to 12:30; check date and time"
    ]
    assert told([entry(2, "18:10"), entry(3, "12:00")], {("log.csv", 2)}) == []


def test_a_clock_of_twelve_hours_and_another_date() -> None:
    assert told([entry(2, "23:50"), entry(3, "12:00")], {("log.csv", 2)})[0].endswith(
        "by a clock of twelve hours it is 11:50 UTC; write that if it is meant"
    )
    assert told([entry(2, "11:50", "2027-02-12"), entry(3, "12:00")])[0].endswith(
        "write 2027-02-13T11:50Z if the date is meant to be the slot's"
    )


AGREED = {
    "QF4LUM": [
        (dt.datetime(2027, 2, day, 11, 30, tzinfo=dt.UTC), dt.datetime(2027, 2, day, 12, 30, tzinfo=dt.UTC))
        for day in (13, 14)
    ]
}


def plain(line: int, clock: str, date: str = "2027-02-13") -> LogEntry:
    """An attempt of a log without slots."""
    return dataclasses.replace(entry(line, clock, date), file="log.adi", slot_start_utc=None, slot_end_utc=None)


def told_beside_agreed(*entries: LogEntry) -> list[tuple[str, bool]]:
    return [(str(one), one.asks) for one in slot_questions(entries, ROME, set(), AGREED)[0]]


def test_a_log_without_slots_by_the_local_clock() -> None:
    """Two contacts, each as far from its agreed slot as home's clock from UTC, are no chance."""
    assert told_beside_agreed(plain(2, "12:50"), plain(3, "13:05", "2027-02-14")) == [
        (
            "log.adi, line 2: time_utc 12:50, 13:05 (to line 3) lie outside their slots, inside by home's clock "
            "(UTC+01:00); write UTC: 11:50, 12:05",
            True,
        )
    ]


def test_one_contact_without_a_slot_may_be_another_one() -> None:
    """It is asked about, and counts."""
    asked = "by home's clock it is 11:50 UTC; write that if it is meant"
    what = "time_utc 2027-02-13 12:50 lies outside the slot agreed, 11:30 to 12:30"
    assert told_beside_agreed(plain(2, "12:50")) == [(f"log.adi, line 2: {what}; {asked}", False)]
    # Two contacts beside one slot are one evening's.
    assert [asks for _, asks in told_beside_agreed(plain(2, "12:50"), plain(3, "13:05"))] == [False, False]


@pytest.mark.parametrize(("clock", "date"), [("12:00", "2027-02-13"), ("18:10", "2027-02-13"), ("12:50", "2027-02-20")])
def test_contacts_that_nobody_had_agreed_are_let_be(clock: str, date: str) -> None:
    """Inside its slot, far from it without a clock that explains it, or on another day."""
    assert told_beside_agreed(plain(2, clock, date)) == []
