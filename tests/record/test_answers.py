"""Which slot a line of the record is about: by its letter, and by its very start where it gives none."""

from __future__ import annotations

import datetime as dt

import pytest

from pipeline.record.model import Answer
from pipeline.record.writing import SlotState, answers_in, with_line, with_values

START = dt.datetime(2027, 3, 13, 1, 15, tzinfo=dt.UTC)
LATER = START + dt.timedelta(days=2)
NEXT_MONTH = START + dt.timedelta(days=30)
MONTH = (dt.datetime(2027, 3, 1, 12, tzinfo=dt.UTC), dt.datetime(2027, 4, 1, 12, tzinfo=dt.UTC))


@pytest.mark.parametrize(
    ("label", "start", "about"),
    [("A", START, True), ("A", LATER, True), ("B", START, False), ("", START, True), ("", LATER, False)],
)
def test_letter_first_then_the_start(label: str, start: dt.datetime, about: bool) -> None:
    answer = Answer("QF4LUM", label, start, None, "confirmed", "QM7TOR", 1)
    assert answer.is_about("QF4LUM", "A", START) is about
    assert not answer.is_about("QX6ICE", "A", START)


def test_a_letter_means_one_slot_within_the_period() -> None:
    slot = SlotState("QF4LUM", "A", START, START + dt.timedelta(hours=1), "confirmed", "QM7TOR", START)
    lines = [Answer("QF4LUM", "A", start, None, "confirmed", "QM7TOR", 1) for start in (LATER, NEXT_MONTH)]
    assert [slot.is_of(line, MONTH) for line in lines] == [True, False]


@pytest.mark.parametrize("site", ["", "Salt Beach", "Roof: west, no. 2", 'the "Eyrie"', "Höhe 7"])
def test_a_line_tells_the_site_where_home_moves(site: str) -> None:
    end = START + dt.timedelta(hours=1)
    slot = SlotState("QF4LUM", "A", START, end, "confirmed", "QM7TOR", START, site=site)
    text = with_line("", slot)
    assert ("site:" in text) == bool(site)
    (line,) = answers_in(text, "QM7TOR", 60)
    assert (line.site, line.start_utc, line.state) == (site, START, "confirmed")
    # An answer that tells no site leaves the one that stands there.
    later = SlotState("QF4LUM", "A", START, end, "tentative", "QM7TOR", START)
    (line,) = answers_in(with_values(text, 0, later), "QM7TOR", 60)
    assert (line.site, line.state) == (site, "tentative")
