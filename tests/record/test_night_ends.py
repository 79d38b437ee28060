"""How the slots of a night ended: the record first, else the log; what neither tells is asked for."""

from __future__ import annotations

import datetime as dt

import pytest

from pipeline.record.log_csv import Log, read_log
from pipeline.record.model import Answer
from pipeline.record.night_ends import SlotEnd, night_ends
from pipeline.record.outcomes import KnownSlot

START = dt.datetime(2027, 3, 13, 19, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
HEAD = "partner,operator,slot_start_utc,report_sent,report_received,completed,time_utc\n"
FIRST = KnownSlot("QF4LUM", "QM7TOR", "A", START, START + HOUR)
SECOND = KnownSlot("QF4LUM", "QM7TOR", "B", START + 3 * HOUR, START + 4 * HOUR)
OTHER = KnownSlot("QN1PIK", "QM7TOR", "A", START + 5 * HOUR, START + 6 * HOUR)


def log_of(*rows: str) -> Log:
    log = read_log(HEAD + "".join(f"{row}\n" for row in rows))
    assert log is not None
    return log


def ends(*rows: str, answers: tuple[Answer, ...] = ()) -> list[SlotEnd]:
    return list(night_ends((FIRST, SECOND, OTHER), answers, log_of(*rows))[0])


def noted(slot: KnownSlot, outcome: str) -> Answer:
    return Answer(slot.partner, slot.label, slot.start_utc, slot.end_utc, "confirmed", slot.operator, 1, None, outcome)


def test_the_log_tells_both_reports_as_they_were_written() -> None:
    (one,) = ends("qf4lum,QM7TOR,2027-03-13T19:00Z,-17,O,yes,19:23")
    assert (one.slot, one.outcome, one.sent, one.received) == (FIRST, "made", "-17", "O")
    assert one.time_utc == START + dt.timedelta(minutes=23)


def test_of_several_attempts_a_completed_one_decides() -> None:
    rows = (
        "QF4LUM,,2027-03-13T19:00Z,-20,,no,",
        "QF4LUM,,2027-03-13T19:00Z,-18,-19,yes,",
        "QF4LUM,,2027-03-13T19:00Z,,,no,",
    )
    (one,) = ends(*rows)
    assert (one.outcome, one.sent, one.received) == ("made", "-18", "-19")
    (failed,) = ends(rows[0])
    assert (failed.outcome, failed.sent, failed.time_utc) == ("failed", "-20", None)
    (silent,) = ends("QF4LUM,,2027-03-13T19:00Z,,,nil,")
    assert silent.nothing_heard


@pytest.mark.parametrize(
    ("row", "slot"),
    [
        ("QF4LUM,,2027-03-13T22:00Z,,,yes,", SECOND),
        # In a fall-back close to the second, and by the clock alone.
        ("QF4LUM,,2027-03-13T23:30Z,,,yes,", SECOND),
        ("QF4LUM,,,,,yes,2027-03-13T19:40Z", FIRST),
        ("QN1PIK,,,,,yes,", OTHER),
    ],
)
def test_a_row_belongs_to_the_nearest_slot_of_its_partner(row: str, slot: KnownSlot) -> None:
    assert [one.slot for one in ends(row)] == [slot]


def test_rows_of_nobody_and_rows_that_say_neither_yes_nor_no_tell_nothing() -> None:
    rows = ("QX1ABC,,2027-03-13T19:00Z,,,yes,", "QN1PIK,QM8ALT,,,,yes,", "QN1PIK,,,-17,,,", "QF4LUM,,,,,yes,")
    found, unknown = night_ends((FIRST, SECOND, OTHER), (), log_of(*rows))
    assert (found, unknown) == ((), (FIRST, SECOND, OTHER))
    assert night_ends((FIRST,), (), None) == ((), (FIRST,))


def test_the_record_is_believed_before_the_log() -> None:
    row = "QF4LUM,,2027-03-13T19:00Z,-17,-19,yes,19:23"
    assert [one.outcome for one in ends(row, answers=(noted(FIRST, "made"), noted(OTHER, "rained")))] == [
        "made",
        "rained",
    ]
    (absent,) = ends(row, answers=(noted(FIRST, "absent"),))
    assert (absent.outcome, absent.sent, absent.received, absent.time_utc) == ("absent", "", "", None)
