"""Words made from figures: chances that keep to their word, dates in runs."""

from __future__ import annotations

import datetime as dt

import pytest

from pipeline.wording import formats


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (0.01, "under 5 %"),
        (0.52, "50 %"),
        (0.59, "almost 60 %"),
        (0.61, "60 %"),
        (0.885, "almost 90 %"),
        (0.999, "over 95 %"),
    ],
)
def test_a_chance_never_seems_to_reach_a_limit_that_it_misses(value: float, words: str) -> None:
    assert formats.chance(value, (0.9, 0.6, 0.25)) == words


def test_runs_of_dates() -> None:
    days = [dt.date(2027, 3, day) for day in (5, 6, 7, 9, 30, 31)] + [dt.date(2027, 4, 1)]
    assert formats.date_runs(days) == "5 to 7 March, 9 March and 30 March to 1 April"
