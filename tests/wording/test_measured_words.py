"""Readings in words: the last ones, what they would be elsewhere, how old an observed flux is, what settles most."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from pipeline.pairs.measured import Ahead, Measured, Reading, measured_of
from pipeline.pairs.solar_activity import Activity
from pipeline.record.inputs import Inputs
from pipeline.record.model import DIAL, ECHO, GROUND, PEAK, SUN, Measurement
from pipeline.wording.measured import age_words, flux_words, history_words, meaning_words, settles_words
from tests.plan.months import demo_inputs


def reading(value_db: float, what: str = SUN, aim: str = DIAL) -> Reading:
    one = Measurement("QM7TOR", "3cm", dt.datetime(2027, 3, 13, 18, 20, tzinfo=dt.UTC), what, value_db, aim)
    return Reading(one, 12.0, 0.4, 0.5, 304.6, 43.4, Activity("average"))


def test_the_last_three_and_what_they_would_be_here() -> None:
    last = tuple(map(reading, (10.9, 11.3, 11.1)))
    assert history_words(last) == "your last three: 10.9, 11.3, 11.1 dB"
    assert history_words(last, [10.8, 11.2, 11.0]) == "your last three: 10.9, 11.3, 11.1 dB"
    assert history_words(last, [9.0, 9.4, 9.2]) == "your last three: 10.9, 11.3, 11.1 dB (here 9.0, 9.4, 9.2)"
    assert history_words(last[:1]) == "your last: 10.9 dB"
    assert history_words(()) == ""


@pytest.mark.parametrize(
    ("value", "begins"),
    [
        (11.0, "Inside the doubt"),
        (13.5, "Above the doubt. The Sun may be more active"),
        (8.0, "Below the doubt. All of"),
    ],
)
def test_a_difference_means_something_beyond_the_doubt_only(value: float, begins: str) -> None:
    assert meaning_words(reading(value), Ahead(11.5, 10.0, 13.0), 0.5, False).startswith(begins)


def test_at_the_peak_no_aim_is_blamed_for_degrees() -> None:
    assert "off." not in meaning_words(reading(8.0, aim=PEAK), Ahead(11.5, 10.0, 13.0), 0.5, False).split("Look")[0]


def test_the_age_of_an_observed_flux_is_told() -> None:
    day = dt.date(2027, 3, 13)
    assert age_words(day, day) == "on 2027-03-13, the same day"
    assert age_words(dt.date(2027, 3, 10), day) == "on 2027-03-10, 3 days before"
    observed = dataclasses.replace(reading(11.0), activity=Activity(142.0, dt.date(2027, 3, 12)))
    assert flux_words(observed) == "Sun taken by the 10.7 cm flux observed: 142 on 2027-03-12, 1 day before."
    assert flux_words(reading(11.0)) == "Sun taken by the season's policy: average."


@pytest.mark.parametrize(
    ("have", "wanted"),
    [
        (((SUN, DIAL),), "Ground against cold sky"),
        (((GROUND, DIAL),), "The Sun, with the highest noise"),
        (((GROUND, DIAL), (SUN, DIAL)), "The same with the highest noise"),
        (((GROUND, DIAL), (SUN, PEAK)), "The own echo"),
        (((GROUND, DIAL), (SUN, PEAK), (ECHO, DIAL)), ""),
    ],
)
def test_what_one_more_reading_would_settle(have: tuple[tuple[str, str], ...], wanted: str) -> None:
    values = {SUN: 12.0, GROUND: 5.8, ECHO: -13.0}
    made = tuple(reading(values[what], what, aim).measurement for what, aim in have)
    found = measured_of(_with(made), "QM7TOR", "3cm")
    assert isinstance(found, Measured)
    said = settles_words(found)
    assert said.startswith(wanted)
    assert bool(said) == bool(wanted)


def _with(made: tuple[Measurement, ...]) -> Inputs:
    """The demo with these readings; 18:20 UTC has the Sun up, and the Moon an hour after it."""
    inputs = demo_inputs()
    later = tuple(
        dataclasses.replace(one, time_utc=one.time_utc.replace(hour=22)) if one.what == ECHO else one for one in made
    )
    return dataclasses.replace(inputs, record=dataclasses.replace(inputs.record, measurements=later))
