"""Times as partners write them: forms of ISO 8601 and of everyday, whose clock is meant, and what is never guessed.

Clocks in the European Union go forward at 01:00 UTC on the last Sunday in March and back on the last in October
(directive 2000/84/EC, articles 2 and 3): 28 March and 31 October 2027.
"""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.letters.times_said import HOME, PARTNER, UTC, ClockMissing, Clocks, TimeFault, read_time

HELSINKI, MONTEVIDEO = ZoneInfo("Europe/Helsinki"), ZoneInfo("America/Montevideo")


def utc(month: int, day: int, hour: int, minute: int = 0) -> dt.datetime:
    return dt.datetime(2027, month, day, hour, minute, tzinfo=dt.UTC)


MARCH = Clocks(MONTEVIDEO, HELSINKI, "QF4LUM", utc(3, 1, 12), utc(4, 1, 12))
YEAR = Clocks(MONTEVIDEO, HELSINKI, "QF4LUM", utc(1, 1, 12), utc(12, 31, 12))


@pytest.mark.parametrize(
    ("text", "zone", "instant"),
    [
        ("2027-03-13T08:00Z", None, utc(3, 13, 8)),
        ("2027-03-13 08:00Z", None, utc(3, 13, 8)),
        ("2027-03-13t08:00:00z", UTC, utc(3, 13, 8)),
        ("2027-03-13 08:00 UTC", None, utc(3, 13, 8)),
        ("2027-03-13 0800Z", None, utc(3, 13, 8)),
        ("2027-03-13T08:00+05:30", None, utc(3, 13, 2, 30)),
        ("2027-03-13 08:00 UTC-3", None, utc(3, 13, 11)),
        ("2027-03-13 08:00", UTC, utc(3, 13, 8)),
        ("2027-03-13 08:00", HOME, utc(3, 13, 11)),
        ("2027-03-13 08:00", PARTNER, utc(3, 13, 6)),
        ("Sat 13 Mar 8:00", PARTNER, utc(3, 13, 6)),
        ("Saturday, March 13th, 08:00 utc", None, utc(3, 13, 8)),
        ("08:00 13 mar 2027", UTC, utc(3, 13, 8)),
        ("3\u670814\u65e5 9\u6642", PARTNER, utc(3, 14, 7)),
        ("2027\u5e743\u670814\u65e59\u664230\u5206", PARTNER, utc(3, 14, 7, 30)),
        ("\uff13\u6708\uff11\uff14\u65e5 9\u6642\u534a UTC", None, utc(3, 14, 9, 30)),
        ("3\uc6d4 14\uc77c 9\uc2dc5\ubd84", UTC, utc(3, 14, 9, 5)),
        ("14.3.2027 21:00", PARTNER, utc(3, 14, 19)),
        ("14 mars 21h30", PARTNER, utc(3, 14, 19, 30)),
        ("14-03-2027 9:15pm", UTC, utc(3, 14, 21, 15)),
        # A date with its year may lie outside the season: what is said then is not the reader's affair.
        ("2031-01-02 08:00Z", None, dt.datetime(2031, 1, 2, 8, tzinfo=dt.UTC)),
        # The hours before and after the partner's clocks go forward.
        ("2027-03-28 02:59", PARTNER, utc(3, 28, 0, 59)),
        ("2027-03-28 04:00", PARTNER, utc(3, 28, 1)),
    ],
)
def test_forms_and_clocks(text: str, zone: str | None, instant: dt.datetime) -> None:
    assert read_time(text, zone, MARCH) == instant


@pytest.mark.parametrize(
    ("text", "zone", "sentence"),
    [
        (
            "tomorrow 08:00",
            UTC,
            "tomorrow 08:00: 'tomorrow' is no part of a time; write for instance 2027-03-13T08:00Z",
        ),
        ("4/3/2027 08:00", UTC, "4/3/2027 is 2027-03-04 or 2027-04-03; write the one that is meant."),
        ("13/3 08:00", UTC, "'13/3' is no part of a time"),
        ("Sat Sun 08:00", UTC, "'Sun' is no part of a time"),
        ("2027-03-13", UTC, "the time of day is missing"),
        ("08:00", UTC, "the day is missing"),
        ("13 08:00", UTC, "the day is missing"),
        ("Sat 13 08:00", UTC, "the date is not clear"),
        ("2027-03-13 14 Mar 08:00", UTC, "the date is not clear"),
        ("25:00 Sat", UTC, "25:00: no time of day; 00:00 to 23:59 is meant."),
        ("2027-03-13T08:00:30Z", None, "08:00:30Z: whole minutes are meant, such as 08:00."),
        ("2027-02-30 08:00", UTC, "there is no such date"),
        ("30 Feb 08:00", UTC, "there is no such date"),
        ("Sun 13 Mar 08:00", UTC, "Sat 13 Mar 2027 is the day of that date; which is meant?"),
        ("Sat 08:00", UTC, "Sat 08:00 could be Sat 6 Mar, Sat 13 Mar, Sat 20 Mar or Sat 27 Mar; name the date."),
        (
            "13 May 08:00",
            UTC,
            "(2027-03-01 to 2027-04-01); for the next one write the date as 2027-05-13, and --month 2027-05.",
        ),
        ("2027-03-13 08:00Z", HOME, "names its clock itself; leave --zone out."),
        ("2027-03-13 08:00+15", None, "no zone is as far from UTC"),
        ("2027-03-13 08:00", "patner", "--zone patner: did you mean partner?"),
        ("2027-03-13 08:00", "mars", "--zone mars: home, utc or partner is meant."),
        ("2027-03-28 03:30", PARTNER, "the clocks go forward then and never show that time; say it in UTC."),
        (
            "2027-10-31 03:30",
            PARTNER,
            "the clocks go back then and show that time twice; 2027-10-31T00:30Z or 2027-10-31T01:30Z is meant.",
        ),
        ("", UTC, "the time of day is missing"),
    ],
)
def test_what_is_not_clear_gets_one_sentence(text: str, zone: str | None, sentence: str) -> None:
    with pytest.raises(TimeFault) as told:
        read_time(text, zone, MARCH)
    assert sentence in str(told.value)
    assert "\n" not in str(told.value)


def test_a_weekday_serves_where_there_is_one() -> None:
    week = Clocks(MONTEVIDEO, HELSINKI, "QF4LUM", utc(3, 10, 12), utc(3, 17, 12))
    assert read_time("08:00 Sat", PARTNER, week) == utc(3, 13, 6)
    # The season's edge is an instant: of two Wednesdays each serves on its side of noon.
    assert read_time("Wed 13:00", UTC, week) == utc(3, 10, 13)
    assert read_time("Wed 11:00", UTC, week) == utc(3, 17, 11)


def test_a_time_without_a_clock_is_asked_with_its_readings() -> None:
    with pytest.raises(ClockMissing, match="names no clock; end it with Z for UTC, or say --zone") as told:
        read_time("2027-03-13 08:00", None, MARCH)
    assert told.value.readings == {HOME: utc(3, 13, 11), UTC: utc(3, 13, 8), PARTNER: utc(3, 13, 6)}
    # One reading that the clocks never show is left out, and the others are still asked.
    with pytest.raises(ClockMissing) as told:
        read_time("2027-03-28 03:30", None, MARCH)
    assert set(told.value.readings) == {HOME, UTC}


def test_where_all_clocks_agree_nothing_is_asked() -> None:
    same = Clocks(ZoneInfo("UTC"), ZoneInfo("Africa/Abidjan"), "QF4LUM", MARCH.first, MARCH.last)
    assert read_time("2027-03-13 08:00", None, same) == utc(3, 13, 8)


def test_a_partner_without_a_zone_has_no_clock_to_mean() -> None:
    unknown = Clocks(MONTEVIDEO, None, "QT8NUI", MARCH.first, MARCH.last)
    with pytest.raises(TimeFault, match="the file of QT8NUI names no time_zone; say the time in UTC"):
        read_time("2027-03-13 08:00", PARTNER, unknown)
    with pytest.raises(ClockMissing) as told:
        read_time("2027-03-13 08:00", None, unknown)
    assert set(told.value.readings) == {HOME, UTC}


FORMS = (
    "{0:%Y-%m-%dT%H:%M}",
    "{0:%Y-%m-%d %H:%M}",
    "{0:%a} {0.day} {0:%b} {0.hour}:{0:%M}",
    "{0:%H:%M} {0:%A} {0.day}. {0:%B} {0.year}",
)


@given(
    minutes=st.integers(0, 363 * 1440),
    zone=st.sampled_from([HOME, UTC, PARTNER]),
    form=st.sampled_from(FORMS),
)
def test_any_instant_of_the_year_comes_back(minutes: int, zone: str, form: str) -> None:
    """Written by any clock in any form; but for the hour that a clock shows twice, which is refused."""
    instant = YEAR.first + dt.timedelta(minutes=minutes)
    local = instant.astimezone({HOME: MONTEVIDEO, UTC: dt.UTC, PARTNER: HELSINKI}[zone])
    text = form.format(local)
    twice = zone == PARTNER and utc(10, 31, 0) <= instant < utc(10, 31, 2)
    if twice:
        with pytest.raises(TimeFault, match="show that time twice"):
            read_time(text, zone, YEAR)
    else:
        assert read_time(text, zone, YEAR) == instant


WORDS = (
    "Sat", "sat.", "Mar", "13", "13th", "2027", "2027-03-13", "08:00", "8:00z", "0800Z", "utc", "+02", "-03:30", "Sun",
    "Feb", "29", "0001-01-01", "9999-12-31", "T",
)  # fmt: skip


@given(
    text=st.text(max_size=40) | st.lists(st.sampled_from(WORDS), max_size=6).map(" ".join),
    zone=st.sampled_from([None, HOME, UTC, PARTNER]),
)
def test_any_text_is_a_whole_minute_or_one_sentence(text: str, zone: str | None) -> None:
    told = ""
    try:
        instant = read_time(text, zone, MARCH)
    except TimeFault as fault:
        instant, told = MARCH.first, str(fault)
    assert instant.utcoffset() == dt.timedelta()
    assert (instant.second, instant.microsecond) == (0, 0)
    assert "\n" not in told
