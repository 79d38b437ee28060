"""The weather of a season's stations, and how it takes part in the ranks of a year from 24 GHz on."""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path

import numpy as np
import pytest

from pipeline.outlook.nights import ranks
from pipeline.outlook.weather import TELLING, dry_shares, make_weather, stations_weather, telling_weather
from pipeline.outlook.year import make_year
from pipeline.pairs.survey import make_survey
from pipeline.plan.plan import make_plan
from pipeline.record.inputs import Inputs
from pipeline.reports.partner_view import partners_view
from pipeline.reports.views import PAPERS
from pipeline.reports.weather_pages import weather_table, weather_text, weather_view
from pipeline.windows.span import span_of
from pipeline.wording.weather import pair_words, shares_words
from tests.agenda.slot_grids import answer, with_record
from tests.plan.months import TODAY, demo_inputs, month_plan, only_partners, with_policy


def inputs() -> Inputs:
    return with_policy(only_partners(demo_inputs(), "QF4LUM", "QJ2KAW", "QI9TEA"), step_minutes=30)


def on_24_ghz() -> Inputs:
    """The same stations with their equipment on the band of 24 GHz."""
    here = inputs()

    def moved(station):  # type: ignore[no-untyped-def]
        return dataclasses.replace(station, bands={"1.25cm": station.bands["3cm"]})

    home = moved(here.home)
    home = dataclasses.replace(home, bands={"1.25cm": dataclasses.replace(home.bands["1.25cm"], frequency_mhz=24048.0)})
    season = dataclasses.replace(here.season, band="1.25cm", frequency_mhz=24048.0)
    partners = tuple(map(moved, here.partners))
    wishes = tuple(dataclasses.replace(one, band=None) for one in here.wishes)
    return dataclasses.replace(here, home=home, season=season, partners=partners, wishes=wishes)


def test_stations_with_a_window_have_odds_and_others_are_named() -> None:
    year = make_weather(inputs(), span_of(inputs(), TODAY), lambda _: None)
    assert [one.call for one in year.stations] == ["QM7TOR", "QF4LUM", "QJ2KAW"]
    assert year.without_window == ("QI9TEA",)
    table = weather_table(year)
    assert len(table) == 36
    shares = [name for name in table if name.endswith("_share")]
    assert ((table[shares] >= 0.0) & (table[shares] <= 1.0)).all().all()
    view = weather_view(year)
    assert [month for month, inside in zip(view.months, view.in_span, strict=True) if inside] == ["Mar"]
    text = weather_text(year, [Path("out/weather.pdf")])
    assert "rain over 1 dB" in text
    assert "No mutual window, so not told: QI9TEA." in text


def test_it_bears_the_number_of_the_plan_also_once_nights_are_over() -> None:
    over = answer("QF4LUM", dt.datetime(2027, 3, 13, 20, tzinfo=dt.UTC), "confirmed", "A")
    later = with_record(inputs(), (dataclasses.replace(over, outcome="made"),))
    numbers = [make_weather(one, span_of(one, TODAY), lambda _: None).number for one in (inputs(), later)]
    assert numbers == [make_plan(one, TODAY, calendar=False).number for one in (inputs(), later)]
    assert numbers[0] != numbers[1]


def test_below_24_ghz_weather_takes_no_part() -> None:
    year = make_year(inputs(), 1, TODAY)
    assert "contacts_in_weather" not in year.weekends


def test_on_24_ghz_a_year_ranks_by_what_weather_leaves() -> None:
    year = make_year(on_24_ghz(), 2, TODAY)
    weekends = year.weekends
    assert (weekends["contacts_in_weather"] <= weekends["contacts_expected"] + 1e-12).all()
    assert weekends["contacts_expected"].max() > 0.0
    again = ranks(weekends["contacts_in_weather"], weekends["degradation_db"], weekends["weekend_start"])
    assert again == weekends["rank"].tolist() == sorted(again)
    found = make_weather(on_24_ghz(), span_of(on_24_ghz(), TODAY), lambda _: None)
    lost = {one.call: one.odds.lost(3) for one in found.stations}
    first = weekends.iloc[0]
    assert first["contacts_in_weather"] == pytest.approx(
        sum(one.contacts * (1.0 - lost["QM7TOR"]) * (1.0 - lost[one.call]) for one in year.weekend_partners[0]),
        rel=0.05,
    )  # the Moon's usual height is that of two months there, of one here


def test_beside_a_partner_stands_what_says_something() -> None:
    """A Moon on the horizon of QJ2KAW: each of its hours has a thick cloud in the way one time in three."""
    plan = month_plan()
    odds = {one.call: one.odds for one in stations_weather(plan.inputs, plan.samples)}
    home, kawara = odds["QM7TOR"], odds["QJ2KAW"]
    (told,) = plan.weather
    assert (told.call, told.cost_db) == ("QJ2KAW", 1.0)
    assert told.home == pytest.approx(home.rain[2, 0] + home.cloud[0])
    assert told.partner == pytest.approx(kawara.rain[2, 0] + kawara.cloud[0])
    assert told.home < TELLING < 0.2 < told.partner
    (two,) = telling_weather(plan.inputs, plan.samples, dt.date(2027, 3, 31), dt.date(2027, 4, 1))
    assert two.partner == pytest.approx(np.mean(kawara.rain[2:4, 0]) + kawara.cloud[0])
    assert pair_words(told) == f"rain or cloud: {100 * told.home:.0f} % here, {100 * told.partner:.0f} % there"
    # Where weather takes part in the ranks it is told of everybody.
    here = on_24_ghz()
    samples = make_survey(here, span_of(here, TODAY), lambda _: None).samples
    every = telling_weather(here, samples, dt.date(2027, 3, 1), dt.date(2027, 3, 31))
    assert [one.call for one in every] == ["QF4LUM", "QJ2KAW"]


def test_the_partners_page_tells_it_and_what_the_shares_are() -> None:
    view = partners_view(month_plan(), PAPERS["A4"])
    told = {block.call: block.facts[-1] for block in view.blocks if "rain or cloud" in block.facts[-1]}
    assert list(told) == ["QJ2KAW"]
    assert shares_words(month_plan().weather) == view.weather != ""
    assert shares_words([]) == ""


def test_dry_shares_are_of_both_ends() -> None:
    here = on_24_ghz()
    samples = make_survey(here, span_of(here, TODAY), lambda _: None).samples
    shares = dry_shares(here, samples)
    assert shares is not None
    assert set(shares) == {"QF4LUM", "QJ2KAW"}
    assert all(((one > 0.0) & (one < 1.0)).all() for one in shares.values())
    assert np.isfinite(list(shares.values())).all()
