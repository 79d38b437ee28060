"""The Moon's long course in a sentence; what is told of weekends is held against their figures in `outlook`."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np

from pipeline.outlook.facts import Fact, FactKind
from pipeline.outlook.lunar_course import Course, lunar_course
from pipeline.wording.year import (
    LONGEST,
    MOST_LETTERS,
    away_words,
    course_sentence,
    course_title,
    marks_title,
    named_nights,
    no_weekend_words,
    row_words,
    weekend_words,
    weekends_title,
    with_whom,
)


def test_course_sentences() -> None:
    course = lunar_course(2027)
    assert course_sentence(course, 2027) == (
        "The Moon comes to 27.7 degrees north and 27.7 degrees south in 2027, falling to 18.6 degrees in 2034."
    )
    assert "the most of its course of 18.6 years, falling to 18.6 degrees in 2034" in course_sentence(course, 2025)
    assert "the least of its course" in course_sentence(lunar_course(2034), 2034)
    assert "rising to 28.7 degrees in 2043" in course_sentence(lunar_course(2034), 2034)
    # DE421 ends in October 2053: no turning lies ahead, no year is half covered.
    last = lunar_course(2052)
    assert last.years[-1] == 2052
    assert course_sentence(last, 2052).endswith("in 2052.")
    assert course_sentence(Course(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0)), 2027) == ""


def test_a_weekend_tells_its_facts_in_order_as_far_as_they_fit() -> None:
    """What does not fit makes room for the next; a Moon that rises after midnight carries its weekday."""
    night = dt.date(2027, 3, 6)  # a Saturday
    rise = dt.datetime(2027, 3, 7, 4, 10, 20, tzinfo=dt.UTC)
    met = Fact(
        FactKind.CAN_BE_MET, calls=("QF4LUM", "QX6ICE"), of_partners=9, best_night=night,
        moon_up=(rise, rise + dt.timedelta(hours=9)),
    )  # fmt: skip
    noise = Fact(FactKind.NOISE, part="sky", loss_db=1.26)
    words = "QF4LUM and QX6ICE of 9 partners can be met, best on Saturday, Moon up Sun 01:11 to 10:10."
    zone = ZoneInfo("America/Montevideo")
    assert weekend_words((met,), zone) == words
    away = Fact(FactKind.HOME_AWAY, nights=tuple(night + dt.timedelta(days=n) for n in range(7)))
    told = weekend_words((met, away, noise), zone)
    assert told == f"{words} A noisy patch of sky behind the Moon costs home 1.3 dB."
    assert len(told) <= LONGEST


def test_a_weekend_that_brings_nothing_says_so() -> None:
    zone, night = ZoneInfo("UTC"), dt.date(2027, 3, 6)
    assert weekend_words((Fact(FactKind.NOBODY_FREE),), zone) == "Nobody can be met within everybody's hours."
    poor = Fact(FactKind.CAN_BE_MET, of_partners=9, best_night=night)
    assert weekend_words((poor,), zone) == "Nobody is worth a set-up, best on Saturday."
    assert no_weekend_words("") == (
        "None earns a set-up within everybody's hours. None would if you were free at any hour."
    )


def test_a_row_names_as_many_partners_as_it_has_room_for() -> None:
    calls = [f"QT{number}NUI" for number in range(1, 10)]
    assert with_whom(calls[:6]) == " ".join(calls[:6])
    assert with_whom(calls) == "QT1NUI QT2NUI QT3NUI QT4NUI and 5 more"
    assert all(len(with_whom(calls[:count])) <= MOST_LETTERS for count in range(10))
    assert with_whom(["QLONGCALL/QRP" * 4, "QA1AA"]).endswith(" and 1 more")
    assert with_whom([]) == ""


def test_away_nights_and_rows_in_words() -> None:
    friday = dt.date(2027, 3, 5)
    assert away_words([], 3) == ""
    assert away_words([friday], 3) == "away Fri"
    assert away_words([friday, friday + dt.timedelta(days=1)], 3) == "away 2 nights"
    assert away_words([friday], 1) == "away"
    assert row_words(("fri", "sat", "sun")) == "a row a weekend, Friday to Sunday night"
    assert row_words(("tue", "wed")) == "a row a week, the nights named Tuesday and Wednesday"
    assert named_nights(("fri", "sat", "sun")) == "a weekend night"
    assert named_nights(("tue", "wed")) == "a night named Tuesday or Wednesday"


def test_alternative_texts() -> None:
    assert weekends_title("March 2027", "4 weekends", [("5 March", 2.61), ("12 March", 0.04)], 2) == (
        "Contacts to expect, March 2027: most on 5 March (2.6) and 12 March (under 0.1); on 2 of 4 weekends nobody can "
        "be met. The figures stand in the table."
    )
    assert marks_title([("QA1AA", "strong"), ("QB1BB", "marginal")], "3.1") == (
        "QA1AA strong and QB1BB marginal; 3.1 if you were free"
    )
    assert marks_title([], "0") == "Nobody; 0 if you were free"
    assert course_title(lunar_course(2027), 2027) == (
        "The Moon's most northern declination of each year, 2018 to 2038: most in 2025 (28.7 degrees), least in 2034 "
        "(18.6 degrees), 27.7 degrees in 2027."
    )
