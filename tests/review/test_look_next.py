"""After a review: the month that lies ahead, what to look at next, and which reading would settle it."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from pipeline.record.model import ECHO, GROUND, SUN
from pipeline.review.look_next import standing_out
from pipeline.review.review import period_ahead
from pipeline.wording.worse import BOTH, HEARS, SENDS, look_next
from tests.plan.months import demo_inputs

NONE: frozenset[str] = frozenset()


@pytest.mark.parametrize(
    ("last", "first", "end"),
    [
        ("2027-03-05T20:00", "2027-04-01", "2027-04-30"),
        ("2027-03-28T20:00", "2027-04-01", "2027-04-30"),
        # Home's zone is three hours behind: this is still December there.
        ("2028-01-01T01:00", "2028-01-01", "2028-01-31"),
        ("2027-04-01T06:00", "2027-04-01", "2027-04-30"),
        ("2027-12-31T20:00", "2028-01-01", "2028-01-31"),
    ],
)
def test_a_review_looks_at_the_month_after_the_last_attempt(last: str, first: str, end: str) -> None:
    inputs = demo_inputs()
    period = period_ahead(inputs, dt.datetime.fromisoformat(f"{last}:00+00:00"))
    assert (period.first_night.isoformat(), period.last_night.isoformat()) == (first, end)
    dated = dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, months=("2027-01",)))
    assert period_ahead(dated, dt.datetime.fromisoformat(f"{last}:00+00:00")) == period


def test_a_station_that_hears_worse_is_told_the_usual_causes_in_order() -> None:
    said = look_next("QF4LUM", None, -3.7, NONE, is_home=False)
    places = [said.index(cause) for cause in HEARS]
    assert places == sorted(places)
    assert said.startswith("QF4LUM hears worse than it sends. It may be, most usual first: a connector or relay")
    assert "ground against cold sky" in said
    assert "Ask QF4LUM kindly; a log cannot tell whose figure is wrong." in said


@pytest.mark.parametrize(
    ("sends", "hears", "causes", "reading"),
    [
        (-2.5, -3.0, BOTH, "the Sun's noise by the dial"),
        (-4.0, None, SENDS, "the own echo"),
        (-4.0, -2.0, SENDS, "the own echo"),
        (2.0, -3.0, HEARS, "ground against cold sky"),
    ],
)
def test_which_side_decides_where_to_look(
    sends: float | None, hears: float | None, causes: tuple[str, ...], reading: str
) -> None:
    said = look_next("QM7TOR", sends, hears, NONE, is_home=True)
    assert all(cause in said for cause in causes)
    assert f"One more reading would settle most: {reading}" in said
    assert "kindly" not in said


def test_a_reading_that_is_there_is_not_asked_for_again() -> None:
    assert "the Sun's noise" in look_next("QM7TOR", None, -3.7, frozenset({GROUND}), is_home=True)
    said = look_next("QM7TOR", None, -3.7, frozenset({GROUND, SUN, ECHO}), is_home=True)
    assert "Its own readings are in the record: check tells what they leave open." in said


def test_a_better_station_is_no_trouble() -> None:
    said = look_next("QM7TOR", 2.0, None, NONE, is_home=True)
    assert said == (
        "QM7TOR sends 2.0 dB better than its file says, which may be too cautious. See whether its power and its gain "
        "stand there as they are. One more reading would settle most: the own echo."
    )
    both = look_next("QF4LUM", 2.0, 1.6, frozenset({SUN}), is_home=False)
    assert "sends 2.0 dB and hears 1.6 dB better" in both
    assert "settle most: ground noise. Ask QF4LUM kindly" in both


@pytest.mark.parametrize(("value", "doubt", "stands"), [(-3.7, 0.8, True), (-1.4, 0.2, False), (-3.0, 1.6, False)])
def test_only_what_is_far_off_and_sure_is_worth_a_walk(value: float, doubt: float, stands: bool) -> None:
    assert (standing_out(value, doubt) is not None) == stands
