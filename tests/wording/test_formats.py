"""How figures are printed: rounding into windows, true minus signs, dates where they differ, clock changes."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from pipeline.wording import formats

UTC = dt.UTC


def at(*parts: int) -> dt.datetime:
    return dt.datetime(*parts, tzinfo=UTC)


def test_windows_are_rounded_inward() -> None:
    start, end = formats.inward(at(2027, 3, 12, 14, 30, 0, 1), at(2027, 3, 12, 21, 50, 59))
    assert (start, end) == (at(2027, 3, 12, 14, 31), at(2027, 3, 12, 21, 50))
    assert formats.inward(at(2027, 3, 12, 14, 30), at(2027, 3, 12, 21, 50)) == (
        at(2027, 3, 12, 14, 30),
        at(2027, 3, 12, 21, 50),
    )


def test_a_window_without_a_whole_minute_shows_its_seconds() -> None:
    start, end = formats.inward(at(2027, 3, 12, 14, 30, 10), at(2027, 3, 12, 14, 30, 50, 900))
    assert [formats.clock(start), formats.clock(end)] == ["14:30:10", "14:30:50"]


@pytest.mark.parametrize(
    ("value", "printed"), [(-12.34, "\u221212.3°"), (-0.04, "0.0°"), (0.0, "0.0°"), (7.25, "7.2°"), (89.96, "90.0°")]
)
def test_elevations(value: float, printed: str) -> None:
    assert formats.elevation(value) == printed


def test_an_azimuth_never_prints_as_360() -> None:
    assert formats.azimuth(359.97) == "0.0°"
    assert formats.azimuth(12.04) == "12.0°"


def test_declination_always_has_its_sign() -> None:
    assert [formats.declination(value) for value in (21.4, -5.6, 0.2)] == ["+21°", "\u22126°", "0°"]


def test_degradation_in_tables_and_in_words() -> None:
    assert formats.decibels(1.26) == "1.3"
    assert formats.decibels_in_words(1.26) == "1.5 dB"


# Offsets of the tz database (Montevideo, Kolkata, London in winter, Chatham in summer).
@pytest.mark.parametrize(
    ("zone", "printed"),
    [
        ("America/Montevideo", "UTC\u22123"),
        ("Asia/Kolkata", "UTC+5:30"),
        ("Europe/London", "UTC"),
        ("Pacific/Chatham", "UTC+13:45"),
    ],
)
def test_offsets(zone: str, printed: str) -> None:
    moment = at(2027, 1, 15, 12).astimezone(ZoneInfo(zone))
    assert formats.offset(moment.utcoffset()) == printed


def test_a_time_on_another_date_carries_it() -> None:
    night = dt.date(2027, 3, 12)
    zone = ZoneInfo("Asia/Tokyo")
    assert formats.local(at(2027, 3, 12, 14, 30), zone, night) == "23:30"
    assert formats.local(at(2027, 3, 12, 16, 30), zone, night) == "Sat 13 Mar 01:30"


def test_clock_changes_are_found_to_the_minute() -> None:
    # EU directive 2000/84/EC: the last Sunday of March at 01:00 UTC.
    found = formats.clock_changes(ZoneInfo("Europe/Helsinki"), at(2027, 3, 1, 12), at(2027, 4, 1, 12))
    assert found == ((at(2027, 3, 28, 1), "UTC+2", "UTC+3"),)
    assert formats.clock_changes(ZoneInfo("Asia/Kolkata"), at(2027, 3, 1, 12), at(2027, 4, 1, 12)) == ()


def test_names_of_periods() -> None:
    march = dt.date(2027, 3, 1), dt.date(2027, 3, 31)
    split = dt.date(2027, 3, 5), dt.date(2027, 4, 2)
    assert formats.period_title(*march) == "March 2027"
    assert formats.period_title(*split) == "5 March to 2 April 2027"
    assert formats.period_title(dt.date(2028, 2, 1), dt.date(2028, 2, 28)) == "1 to 28 February 2028"


def test_small_words() -> None:
    assert formats.duration(440.9) == "7 h 20 min"
    assert formats.duration(0.7) == "42 s"
    assert formats.band("3cm") == "3 cm"
    assert formats.frequency(10368.1) == "10368.1 MHz"
    assert formats.place(-34.50121, 23.404) == "34.50° S 23.40° E"
    assert formats.bearing(351.2) == "351° (north)"
    assert formats.thousands(12746.2) == "12,746"


@pytest.mark.parametrize(
    ("value", "printed"),
    [(0.0, "under 5 %"), (0.02, "under 5 %"), (0.06, "5 %"), (0.74, "75 %"), (0.96, "95 %"), (1.0, "over 95 %")],
)
def test_chances_claim_no_more_than_is_known(value: float, printed: str) -> None:
    assert formats.chance(value) == printed


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (0.01, "under 1 in 20"),
        (0.5, "1 in 2"),
        (0.55, "11 in 20"),
        (0.6, "3 in 5"),
        (0.88, "almost 9 in 10"),
        (0.95, "19 in 20"),
        (0.99, "over 19 in 20"),
    ],
)
def test_a_chance_in_words_is_the_one_in_per_cent(value: float, words: str) -> None:
    limits = (0.9, 0.6, 0.25)
    assert formats.odds(value, limits) == words
    part, whole = (int(number) for number in words.split(" ", words.count(" ") - 2)[-1].split(" in "))
    assert f"{100 * part // whole} %" in formats.chance(value, limits)


@pytest.mark.parametrize(("value", "words"), [(0.0, "0"), (0.01, "under 0.1"), (0.05, "0.1"), (1.96, "2.0")])
def test_contacts_to_a_tenth(value: float, words: str) -> None:
    assert formats.contacts(value) == words
