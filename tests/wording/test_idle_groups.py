"""Nights of one cause in one sentence, true of each of them; a night alone keeps the sentence of its own."""

import datetime as dt

import pytest

from pipeline.absence.causes import (
    Absence,
    AfterLatestHour,
    Cause,
    EarnsTooLittle,
    NoHomeHours,
    PartnersAway,
    PartnersOutsideHours,
    Rule,
    RulesTogether,
    Unlikely,
    WeekdayLeftOut,
)
from pipeline.wording.idle_groups import idle_groups
from pipeline.wording.idle_nights import idle_night_words

DATES = [dt.date(2027, 3, day) for day in range(1, 32)]


def grouped(*absences: Absence) -> list[str]:
    return [words for _, words in idle_groups(list(zip(DATES, absences, strict=False)))]


@pytest.mark.parametrize(
    ("absences", "words"),
    [
        (
            (PartnersOutsideHours(("home",), ("QN1PIK",)), PartnersOutsideHours(("home",), ("QT8NUI", "QN1PIK"))),
            "hours do not meet: one or another of QN1PIK and QT8NUI could be worked only outside your hours",
        ),
        (
            (EarnsTooLittle(0.27, 0.3), EarnsTooLittle(0.05, 0.3)),
            "by your priorities none could add more than 0.27 of a contact, and a set-up must earn 0.3",
        ),
        ((WeekdayLeftOut(6), WeekdayLeftOut(0)), "Mondays and Sundays are not among your nights"),
        (
            (NoHomeHours(6, ("QN1PIK",)), NoHomeHours(5, ("QN1PIK", "QF4LUM"))),
            "you give no hours for Saturday and Sunday nights; one or another of QN1PIK and QF4LUM could be worked",
        ),
        (
            (PartnersAway(("QN1PIK",)), PartnersAway(("QT8NUI",))),
            "one or another of QN1PIK and QT8NUI could be worked, but is away",
        ),
        (
            (
                AfterLatestHour(latest=dt.time(1), calls=("QN1PIK",)),
                AfterLatestHour(latest=dt.time(1), calls=("QT8NUI",)),
            ),
            "one or another of QN1PIK and QT8NUI could be worked only later than your latest hour before a working day"
            " (01:00)",
        ),
    ],
)
def test_one_sentence_a_cause(absences: tuple[Absence, ...], words: str) -> None:
    assert grouped(*absences) == [words]


def test_many_partners_are_told_by_the_first_few() -> None:
    calls = [f"QA{number}LAV" for number in range(6)]
    (words,) = grouped(*(PartnersOutsideHours(("home",), (call, calls[0])) for call in calls[1:]))
    assert "one or another of QA0LAV, QA1LAV, QA2LAV and others could" in words


def test_a_night_alone_keeps_its_own_sentence() -> None:
    alone = [
        PartnersOutsideHours(("partner",), ("QT8NUI",)),
        Unlikely(None),
        EarnsTooLittle(0.27, 0.3),
        RulesTogether(("QN1PIK",), (Rule.HOURS,)),
    ]
    assert grouped(*alone) == [idle_night_words(one) for one in alone]


def test_hours_of_different_ends_stand_apart() -> None:
    ends = [("home",), ("partner",), ("home", "partner")]
    assert len(grouped(*(PartnersOutsideHours(one, ("QT8NUI",)) for one in [*ends, ("home",)]))) == 3


def test_groups_stand_in_the_order_of_their_first_dates_and_lose_none() -> None:
    away, little = Absence(Cause.HOME_AWAY), EarnsTooLittle(0.1, 0.3)
    groups = idle_groups(list(zip(DATES[:5], (away, little, away, little, away), strict=True)))
    assert [dates for dates, _ in groups] == [(DATES[0], DATES[2], DATES[4]), (DATES[1], DATES[3])]
