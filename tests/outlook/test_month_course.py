"""The month's course: home's own echo is a pair whose other end stands beside home, and the sky matters by the band."""

from __future__ import annotations

import dataclasses
import datetime as dt
from functools import lru_cache

import numpy as np
import pandas as pd
import pytest

from pipeline.link.noise import DEGRADATION_PARTS
from pipeline.outlook.month_course import NOTABLE_AIR_DB, NOTABLE_DB, MonthCourse, month_course
from pipeline.pairs.survey import Survey
from pipeline.record.inputs import Inputs
from tests.plan.months import one_station, small_inputs, survey_of

FIRST, LAST = dt.date(2027, 3, 1), dt.date(2027, 3, 31)


@lru_cache(maxsize=8)
def course_on(band: str, latitude_deg: float = 48.0) -> tuple[Inputs, Survey, MonthCourse]:
    """Home and a partner of the same equipment at the same place, a month on one band."""
    home = one_station("QH0ME", latitude_deg, 11.0, 300.0)
    home = dataclasses.replace(home, bands={band: home.bands["3cm"]})
    inputs = small_inputs(home, dataclasses.replace(home, call="QT0ME"), first=FIRST, last=LAST)
    frequency = {"3cm": 10_368.0, "1.25cm": 24_048.0, "70cm": 432.0}[band]
    season = dataclasses.replace(inputs.season, band=band, frequency_mhz=frequency)
    inputs = dataclasses.replace(inputs, season=season)
    found = survey_of(inputs)
    return inputs, found, month_course(inputs, found)


def test_a_nights_figures_are_those_of_a_pair_at_one_place() -> None:
    """The samples of the pair come from the windows' own way through the link; the steps are five minutes."""
    _, found, course = course_on("3cm")
    assert list(course.nights["night"]) == list(found.period.dates)
    for row, highest in zip(course.nights.to_dict("records"), found.period.highest, strict=True):
        mine = found.samples[found.samples["night"] == row["night"]]
        at = (pd.DatetimeIndex(mine["time_utc"]) - pd.Timestamp(highest)).total_seconds().to_numpy()
        for part in ("", *(f"{name}_" for name in DEGRADATION_PARTS)):
            name = f"degradation_{part}db"
            assert row[f"home_{name}"] == pytest.approx(np.interp(0.0, at, mine[name]), abs=0.01)
        spread = mine["doppler_spread_hz"]
        assert row["home_spread_most_hz"] == pytest.approx(spread.max(), rel=0.02)
        assert row["home_spread_least_hz"] == pytest.approx(spread.min(), rel=0.05, abs=5.0)


def test_the_parts_add_up_to_the_degradation() -> None:
    nights = course_on("70cm")[2].nights
    whole = sum(nights[f"home_degradation_{name}_db"] for name in DEGRADATION_PARTS)
    assert np.allclose(whole, nights["home_degradation_db"])


def test_the_sky_moves_on_70_cm_and_not_at_3_cm_and_the_air_at_1_25_cm() -> None:
    """ITU-R P.372: the galaxy's noise falls with frequency to the power 2.75; ITU-R P.676: water vapour near 22 GHz."""
    assert course_on("3cm")[2].sky_moves_db < 0.05
    assert course_on("70cm")[2].sky_moves_db > 3 * NOTABLE_DB
    assert course_on("1.25cm")[2].air_moves_db > NOTABLE_AIR_DB
    assert course_on("70cm")[2].air_moves_db < NOTABLE_AIR_DB


def test_the_hours_tell_the_moon_of_the_nights() -> None:
    _, found, course = course_on("3cm")
    hours = course.hours
    at = (pd.DatetimeIndex(hours["time_utc"]) - pd.Timestamp(found.period.start)).total_seconds().to_numpy()
    assert at[0] <= 0.0
    assert np.allclose(np.diff(at), 3600.0)
    assert hours["declination_deg"].abs().max() < 28.8
    # Distances of perigee and apogee: Meeus, Astronomical Algorithms, chapter 50.
    assert hours["distance_km"].between(356_300, 406_800).all()


def test_a_moon_that_never_rises_has_no_figures() -> None:
    """At 80 degrees north the Moon stays below the horizon while it is more than 10 degrees south."""
    _, found, course = course_on("3cm", 80.0)
    nights = course.nights
    missing = nights["home_degradation_db"].isna()
    assert 3 < missing.sum() < len(nights) - 3
    centre = np.interp(
        [instant.timestamp() for instant in found.period.highest],
        pd.DatetimeIndex(course.hours["time_utc"]).as_unit("s").asi8,
        course.hours["declination_deg"],
    )
    assert (centre[missing.to_numpy()] < -8.0).all()
    assert nights.loc[missing, "home_spread_least_hz"].isna().all()
