"""A slot by a clock on the wall and its fall-backs in words; zones by the IANA database."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from pipeline.agenda.fall_backs import FallBack
from pipeline.wording.slots import fall_back_words, local_span, night_title

HOME = ZoneInfo("America/Montevideo")  # UTC-3 all year
SLOT = dt.datetime(2027, 3, 13, 1, 15, tzinfo=dt.UTC)


def after(minutes: int, lasts: int) -> tuple[dt.datetime, dt.datetime]:
    start = SLOT + dt.timedelta(minutes=minutes)
    return start, start + dt.timedelta(minutes=lasts)


def test_the_end_of_a_night_is_the_next_morning() -> None:
    """From 22:15 to 02:15 is still tonight, to 10:00 is the next morning."""
    for minutes, lasts, words in (
        (240, 45, "02:15 to 03:00 tonight"),
        # It begins at six.
        (450, 30, "05:45 to 06:15 tonight"),
        (465, 30, "06:00 to 06:30 next morning"),
        (705, 45, "10:00 to 10:45 next morning"),
    ):
        assert fall_back_words(SLOT, FallBack(after(minutes, lasts), None), HOME) == f"if missed: {words}"


def test_a_slot_after_midnight_has_its_morning_on_the_same_date() -> None:
    """From 02:15 on; a long passage has its afternoon too."""
    early = SLOT + dt.timedelta(minutes=240)
    for minutes, lasts, words in (
        (450, 30, "05:45 to 06:15 tonight"),
        (465, 30, "06:00 to 06:30 the same morning"),
        (825, 30, "12:00 to 12:30 the same day"),
    ):
        assert fall_back_words(early, FallBack(after(minutes, lasts), None), HOME) == f"if missed: {words}"


def test_what_is_left_of_the_period() -> None:
    tonight, later = after(60, 30), after(24 * 60, 60)
    assert fall_back_words(SLOT, FallBack(None, None), HOME) == "if missed: no other time in this period"
    assert fall_back_words(SLOT, FallBack(None, later), HOME) == "if missed: Sat 13 Mar 22:15"
    assert fall_back_words(SLOT, FallBack(None, later, "B"), HOME) == "if missed: slot B, Sat 13 Mar 22:15"
    both = fall_back_words(SLOT, FallBack(tonight, later, "B"), HOME)
    assert both == "if missed: 23:15 to 23:45 tonight, else slot B, Sat 13 Mar 22:15"


def test_a_span_by_the_clock_of_an_end() -> None:
    assert local_span(*after(0, 60), HOME) == "2027-03-12 22:15 to 23:15 -03:00"
    # Past midnight the end has its date; half an hour off the full hours the offset says so.
    assert local_span(*after(120, 60), HOME) == "2027-03-13 00:15 to 01:15 -03:00"
    assert local_span(*after(60, 60), HOME) == "2027-03-12 23:15 to 2027-03-13 00:15 -03:00"
    assert local_span(*after(0, 60), ZoneInfo("Australia/Adelaide")) == "2027-03-13 11:45 to 12:45 +10:30"


def test_a_span_across_a_change_of_the_clocks_has_both_offsets() -> None:
    """At Denver clocks go forward on 14 March 2027 at 02:00."""
    start = dt.datetime(2027, 3, 14, 8, 30, tzinfo=dt.UTC)
    span = local_span(start, start + dt.timedelta(hours=1), ZoneInfo("America/Denver"))
    assert span == "2027-03-14 01:30 -07:00 to 03:30 -06:00"


def test_a_night_whose_slots_all_fall_on_the_next_date_says_so() -> None:
    """A night goes from noon to noon: in New Zealand the Moon over Europe is that of the small hours."""
    zone = ZoneInfo("Pacific/Auckland")
    night = dt.date(2027, 5, 24)
    morning, evening = (dt.datetime(2027, 5, 24, hour, 45, tzinfo=dt.UTC) for hour in (20, 11))
    assert night_title(night, [morning], zone) == "Monday 24 May 2027, its slots on Tuesday 25 May local time"
    assert night_title(night, [evening, morning], zone) == "Monday 24 May 2027"
    assert night_title(night, [], zone) == "Monday 24 May 2027"
