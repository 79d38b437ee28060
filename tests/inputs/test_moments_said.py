"""Moments as people of many countries say them: every reading that fits a season, and nothing made up.

Names of months and days: Unicode CLDR; offsets of zones: the IANA time zone database. The habits are common practice.
"""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.inputs.moments_said import CLOCK, DATE, Season, by_zone, said_in

MARCH = Season(dt.date(2027, 3, 1), dt.date(2027, 3, 31), dt.date(2027, 3, 10))
SPRING = Season(dt.date(2027, 3, 1), dt.date(2027, 4, 30), dt.date(2027, 3, 10))
NINE = [
    "14.3. 9 Uhr", "14.3. 09:00", "9:00 14.3.", "14/3 9h", "Sonntag 14. März 9 Uhr", "14.3.2027 9 Uhr", "14.3 9",
    "14.3.27 9 Uhr", "14. 3. 2027 9.00", "14.3. 0900", "dim. 14 mars à 9h", "14 de marzo a las 9:00",
    "dom 14 marzo ore 9", "14 marca godz. 9.00", "14. března v 9 hodin", "14 март 9 часов", "3月14日 午前9時",
    "3월 14일 오전 9시", "zondag 14 maart 9u00", "sön 14 mars kl. 9", "14. maaliskuuta klo 9", "2027/3/14 9am",
    "20270314 0900", "2027-03-14T09:00", "March 14th, 9 in the morning", "14mar2027 9:00", "14-03-2027-09:00",
    "Mart 14 saat 9:00", "３月１４日 9時", "١٤/٣ 9:00",
]  # fmt: skip


@pytest.mark.parametrize("text", NINE)
def test_nine_in_the_morning(text: str) -> None:
    said = said_in(text, (DATE, CLOCK), MARCH)
    assert [one.written for one in said.readings] == ["2027-03-14 09:00"]
    assert said.readings[0].zone == ""


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("14.3. 0900z", "2027-03-14T09:00Z"),
        ("Sun 14 Mar 9 pm UTC", "2027-03-14T21:00Z"),
        ("14 mars 21h TU", "2027-03-14T21:00Z"),
        ("14.3. 9 Uhr MEZ", "2027-03-14T08:00Z"),
        ("2027-03-14 09:00 UTC-3", "2027-03-14T12:00Z"),
        ("14 March 9 pm EST", "2027-03-15T01:00Z"),  # summer time there begins that night
        ("13 марта 21:00 мск", "2027-03-13T18:00Z"),
        ("14.3. 24:00 utc", "2027-03-15T00:00Z"),
        ("14 March at 9 in the evening, GMT", "2027-03-14T21:00Z"),
        ("14.3. half past 9 utc", "2027-03-14T09:30Z"),
        ("14.3. halb 9 utc", "2027-03-14T08:30Z"),
    ],
)
def test_a_clock_that_is_named(text: str, utc: str) -> None:
    (one,) = said_in(text, (DATE, CLOCK), MARCH).readings
    zone = by_zone(one.zone, one.written)
    assert zone is not None
    assert one.utc(zone) == utc


def test_what_can_be_two_is_two_where_the_season_holds_both() -> None:
    dates = [str(one.date) for one in said_in("3/4 9h", (DATE, CLOCK), SPRING).readings]
    assert sorted(dates) == ["2027-03-04", "2027-04-03"]
    march = said_in("3/4 9h", (DATE, CLOCK), MARCH)
    assert [str(one.date) for one in march.readings] == ["2027-03-04"]
    assert [str(one.date) for one in march.outside] == ["2027-04-03"]
    midnight = said_in("14.3. midnight", (DATE, CLOCK), MARCH)
    assert [one.written for one in midnight.readings] == ["2027-03-14 00:00", "2027-03-15 00:00"]
    assert [one.date and one.date.day for one in said_in("Sat 21:00", (DATE, CLOCK), MARCH).readings] == [6, 13, 20, 27]


def test_whose_clock_is_told() -> None:
    """A partner's own words: `your time` is home's, `my time` the partner's."""
    zones = {text: said_in(f"14.3. 9:00 {text}", (DATE, CLOCK), MARCH).readings[0].zone for text in (
        "your time", "my time", "local", "heure locale", "votre heure")}  # fmt: skip
    assert list(zones.values()) == ["home", "partner", "local", "local", "home"]


def test_what_is_not_known_is_told_and_nothing_made_up() -> None:
    assert said_in("foo 14.3. 9", (DATE, CLOCK), MARCH).unread == ("foo",)
    assert said_in("foo 14.3. 9", (DATE, CLOCK), MARCH).readings == ()
    assert [one.written for one in said_in("foo 14.3. 9", (DATE, CLOCK), MARCH, is_strict=False).readings]
    assert said_in("31.2. 9 Uhr", (DATE, CLOCK), MARCH).readings == ()
    wrong = said_in("Monday 14 March", (DATE,), MARCH).readings
    assert [one.is_its_day for one in wrong] == [False]
    assert [str(one.date) for one in said_in("tomorrow 9:00", (DATE, CLOCK), MARCH).readings] == ["2027-03-11"]


@given(st.text(max_size=30) | st.lists(st.sampled_from(["14.3.", "9", "Uhr", "März", "3/4", "21:00", "z", "2027", "-3", ".", "31", "at"])).map(" ".join))  # fmt: skip # noqa: E501
def test_any_text_is_read_or_not(text: str) -> None:
    for one in said_in(text, (DATE, CLOCK), MARCH).readings:
        assert one.date is None or not one.time or len(one.written) == len("2027-03-14 09:00")
