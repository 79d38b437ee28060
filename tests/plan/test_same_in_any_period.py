"""A window has the same figures in whatever period it is planned: air and mode are the window's and the pair's own.

No outside source: plans of two months against plans of one of them, and what else tells of the same instants.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from functools import lru_cache

import numpy as np
import pandas as pd
import pytest

from pipeline.explain.explain import explain
from pipeline.inputs.model import DateRange
from pipeline.inputs.modes import Mode
from pipeline.link.spread import half_power_share
from pipeline.outlook.home_nights import home_nights
from pipeline.outlook.year import make_year
from pipeline.pairs.mode_choice import usual_width_hz
from pipeline.pairs.survey import Survey
from pipeline.plan.plan import Plan, make_plan
from pipeline.record.inputs import Inputs
from pipeline.review.compare import compare
from tests.plan.months import TODAY, demo_inputs, month_plan, survey_of, with_equipment, with_policy
from tests.review.test_comparison import entry

# Edges of windows are found to 0.1 s between nodes that lie elsewhere; in that time a grazing Moon gains 0.003 dB
# and a graze behind a skyline 0.01 dB.
same_but_for_the_edge = 5e-3
same_edge = pd.Timedelta("0.2s")
# Tones a hertz apart whose need rises so that each is best at some spread: the choice follows the spread closely.
MODES = (
    *(Mode("Q65", 60.0, float(tones), -27.0 + tones / 40.0, 4) for tones in range(5, 120)),
    *(Mode("CW", 60.0, float(width), -16.0 + width / 40.0, 4) for width in range(5, 120)),
)


def on_24_ghz(inputs: Inputs) -> Inputs:
    """The demo's stations with the same equipment on 1.25 cm, where air counts most."""
    home, *partners = (
        dataclasses.replace(one, bands={"1.25cm": with_equipment(one, frequency_mhz=None).bands["3cm"]})
        for one in (inputs.home, *inputs.partners)
    )
    season = dataclasses.replace(inputs.season, band="1.25cm", frequency_mhz=24_048.0)
    return dataclasses.replace(inputs, season=season, home=home, partners=tuple(partners))


def months(band: str, *names: str) -> Inputs:
    """The demo in these months on a band, with modes that the spread decides between."""
    inputs = with_policy(demo_inputs(), step_minutes=20)
    inputs = dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, months=names), modes=MODES)
    return on_24_ghz(inputs) if band == "1.25cm" else inputs


@lru_cache(maxsize=6)
def surveyed(band: str, *names: str) -> Survey:
    return survey_of(months(band, *names))


def assert_alike(one: pd.DataFrame, other: pd.DataFrame) -> None:
    assert list(one.columns) == list(other.columns)
    for name in one.columns:
        here, there = one[name].reset_index(drop=True), other[name].reset_index(drop=True)
        if name.endswith("_utc"):
            assert (here - there).abs().max() < same_edge, name
        elif here.dtype.kind == "f":
            apart = np.abs(here.to_numpy() - there.to_numpy())
            # Azimuths come round at north.
            apart = np.minimum(apart, 360.0 - apart) if name.endswith("azimuth_deg") else apart
            assert np.array_equal(np.isnan(here), np.isnan(there)), name
            apart = np.nan_to_num(apart / np.maximum(np.abs(there.to_numpy()), 1.0))
            assert apart.max(initial=0.0) < same_but_for_the_edge, name
        else:
            assert here.tolist() == there.tolist(), name


BANDS = pytest.mark.parametrize("band", ["1.25cm", "3cm"])


@BANDS
def test_april_is_the_same_beside_march_and_alone(band: str) -> None:
    both, alone = surveyed(band, "2027-03", "2027-04"), surveyed(band, "2027-04")
    april = both.windows[both.windows["window_start_utc"] >= alone.period.start]
    assert len(april) == len(alone.windows) > 100
    assert_alike(april, alone.windows)
    assert_alike(both.samples[both.samples["night"] >= alone.period.first_night], alone.samples)
    assert both.modes == alone.modes
    assert len(set(both.modes)) > 2


@BANDS
def test_air_is_that_of_the_month_in_which_the_window_begins(band: str) -> None:
    """May's plan gives the windows of its last night, that of the full Moon, that begin in June (UTC) June's air."""
    may, both = surveyed(band, "2026-05"), surveyed(band, "2026-05", "2026-06")
    night = may.period.dates[-1]
    last = both.windows[both.windows["night"] == night]
    assert (last["window_start_utc"] >= pd.Timestamp("2026-06-01", tz="UTC")).any()
    assert_alike(last, may.windows[may.windows["night"] == night])


@BANDS
def test_home_nights_and_year_are_those_of_any_period(band: str) -> None:
    inputs = months(band, "2027-03", "2027-04"), months(band, "2027-04")
    nights = [home_nights(one, surveyed(band, *one.season.months)) for one in inputs]
    nights[0] = nights[0][nights[0]["night"] >= nights[1]["night"].iloc[0]]
    assert_alike(nights[0], nights[1])
    year, alone = make_year(inputs[0], 2, TODAY), make_year(inputs[1], 1, TODAY)
    names = [name for name in alone.nights if name.startswith("home_degradation")]
    names += ["partners_usable", "partners_heard", "contacts_expected", "degradation_db"]
    assert_alike(year.nights[year.nights["night"] >= alone.period.first_night][names], alone.nights[names])


def test_explain_and_review_tell_the_same_in_any_season() -> None:
    """Instants in windows of the last night of March, of April, and in none; inside a window also the plan's own."""
    seasons = [months("1.25cm", *names) for names in (("2027-03", "2027-04"), ("2027-04",), ("2027-03",), ("2027-11",))]
    windows = surveyed("1.25cm", "2027-03", "2027-04").windows
    windows = windows[
        (windows["window_start_utc"] >= pd.Timestamp("2027-04-01", tz="UTC")) & (windows["duration_min"] > 60)
    ]
    inside = [(row.partner, row.window_start_utc + pd.Timedelta("31min")) for row in windows[:60:12].itertuples()]
    before = [(row.partner, row.window_start_utc - pd.Timedelta("1min")) for row in windows[1:30:9].itertuples()]
    instants = [(call, f"{moment:%Y-%m-%dT%H:%M:%S}") for call, moment in (*inside, *before)]
    entries = [entry(call, instant, band="1.25cm") for call, instant in instants]
    tables = [compare(entries, one) for one in seasons]
    for table in tables[1:]:
        assert_alike(table.select_dtypes(float), tables[0].select_dtypes(float))
    up = []
    for call, instant in instants:
        at = dt.datetime.fromisoformat(instant + "+00:00")
        rows = [explain(one, call, at).columns for one in seasons]
        for row in rows[1:]:
            assert row.keys() == rows[0].keys()
            for name, value in row.items():
                assert value == (
                    pytest.approx(rows[0][name], rel=1e-4, abs=1e-4) if isinstance(value, float) else rows[0][name]
                )
        up.append(rows[0]["snr_at_home_db"] is not None)
    assert sum(up) >= len(inside) + 1
    samples = surveyed("1.25cm", "2027-03", "2027-04").samples
    row = samples[(samples["partner"] == "QN1PIK") & (samples["time_utc"] >= pd.Timestamp("2027-04-01 12:00Z"))].iloc[1]
    told = explain(seasons[3], "QN1PIK", row["time_utc"].to_pydatetime()).columns
    for name in ("margin_at_home_db", "margin_at_partner_db", "degradation_air_db", "spread_loss_db"):
        assert told[name] == pytest.approx(row[name], abs=1e-4), name


def test_usual_spread_is_near_the_mean_of_a_months_windows() -> None:
    """The figure that chooses the mode against the ephemeris: the mean over each pair's samples, within a fifth."""
    plan = month_plan()
    means = plan.samples.groupby("partner")["doppler_spread_hz"].mean() * float(half_power_share(plan.frequency_mhz))
    assert len(means) == 8
    for station, band in zip(plan.inputs.partners, plan.inputs.bands, strict=True):
        if station.call in means:
            assert usual_width_hz(plan.inputs, station, band) == pytest.approx(means[station.call], rel=0.2)


def test_a_plan_for_letters_lacks_what_the_calendar_shows_and_nothing_else() -> None:
    inputs = demo_inputs()
    dates = DateRange(dt.date(2027, 3, 12), dt.date(2027, 3, 14))
    inputs = dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, months=(), dates=dates))
    whole, less = (make_plan(inputs, TODAY, calendar=calendar) for calendar in (True, False))
    for field in dataclasses.fields(Plan):
        one, other = getattr(whole, field.name), getattr(less, field.name)
        if field.name in ("carpets", "trips", "boards"):
            assert one, field.name
            assert other == (), field.name
        elif isinstance(one, pd.DataFrame):
            pd.testing.assert_frame_equal(one, other)
        else:
            assert repr(one) == repr(other), field.name
