"""The year's outlook: the Moon of every night against another ephemeris, weekends recounted, words by their figures."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
from functools import lru_cache
from zoneinfo import ZoneInfo

import astronomy
import numpy as np
import pandas as pd
import pytest

from pipeline.ephemeris.timescale import EphemerisUnavailable
from pipeline.inputs.model import DateRange, Station
from pipeline.outlook.facts import FactKind
from pipeline.outlook.lunar_course import lunar_course
from pipeline.outlook.weekends import weekends_of
from pipeline.outlook.year import Year, make_year, year_period
from pipeline.plan.plan import Plan, make_plan
from pipeline.record.inputs import Inputs
from pipeline.wording.year import weekend_words
from tests.conftest import Outside
from tests.plan.months import TODAY, agenda_alone, demo_inputs, one_station, only_partners, small_inputs, with_policy

AU_KM = 149_597_870.7
DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
# Perigees, UTC and km: Skyfield's search for minima on DE440; light time included, so 36 km off at most.
PERIGEES = (
    ("2026-12-24 08:31", 356_650), ("2027-01-21 21:55", 357_288), ("2027-06-06 00:00", 361_717),
    ("2027-07-04 00:00", 358_289), ("2027-08-02 00:00", 357_359), ("2027-08-30 00:00", 359_196),
    ("2027-10-25 00:00", 368_620), ("2027-11-19 00:00", 369_327),
)  # fmt: skip
FARTHEST = ("2027-01-07 08:08", 406_607)
# The same source: greatest geocentric declination of the lunation, apparent place of date, degrees.
HIGHEST = (
    ("2027-01-19", 27.69), ("2027-02-16", 27.72), ("2027-03-15", 27.62), ("2027-06-05", 27.15), ("2027-08-26", 27.18),
    ("2027-12-13", 26.58),
)  # fmt: skip
LOWEST = (("2027-01-05", -27.64), ("2027-02-02", -27.71), ("2027-06-18", -27.14), ("2026-12-09", -27.61))


def pair(home: Station | None = None, first: dt.date = dt.date(2026, 12, 1), **policy: object) -> Inputs:
    """A flat home with one partner; the season's month is that of `first`."""
    home = home or one_station("QA1AA", 48.1, 11.6, 500.0)
    partner = one_station("QA2AA", 41.7, -72.7, 50.0)
    return small_inputs(home, partner, first=first, last=first, **policy)


@lru_cache(maxsize=1)
def thirteen_months() -> Year:
    """December 2026 to December 2027 between two stations."""
    return make_year(pair(), 13, TODAY)


@lru_cache(maxsize=1)
def demo_year() -> Year:
    """Four months of the demo's nine partners: with dates on which home is away and a partner never in reach."""
    return make_year(with_policy(demo_inputs(), night_cost=0.3), 4, TODAY)


def nearest(nights: pd.DataFrame, instant: str) -> pd.Series:
    """The night whose Moon stands highest nearest to an instant."""
    return nights.loc[(nights["moon_highest_utc"] - pd.Timestamp(instant, tz="UTC")).abs().idxmin()]


def test_every_night_has_a_row_in_order() -> None:
    year = thirteen_months()
    nights = year.nights["night"].tolist()
    assert nights == sorted(set(nights)) == list(year.period.dates)
    assert (nights[0], nights[-1]) == (dt.date(2026, 12, 1), dt.date(2027, 12, 31))
    # 396 dates hold 13 or 14 lunations of 29.53 days (synodic month, from memory), each a passage less than days.
    assert 396 - len(nights) in (13, 14)
    assert year.months[0] == (2026, 12)
    assert year.months[-1] == (2027, 12)
    assert sorted(year.nights["rank"]) == list(range(1, len(nights) + 1))


def test_declination_and_distance_against_astronomy_engine(outside: Outside) -> None:
    """Geocentric, true equator of date; light time counts for up to 36 km of distance."""
    nights = thirteen_months().nights.iloc[::3]
    worst_deg = worst_km = 0.0
    for row in nights.itertuples():
        stamp = row.moon_highest_utc
        time = astronomy.Time.Make(stamp.year, stamp.month, stamp.day, stamp.hour, stamp.minute, stamp.second)
        of_date = astronomy.RotateVector(astronomy.Rotation_EQJ_EQD(time), astronomy.GeoMoon(time))
        place = astronomy.EquatorFromVector(of_date)
        worst_deg = max(worst_deg, abs(place.dec - row.declination_deg))
        worst_km = max(worst_km, abs(place.dist * AU_KM - row.distance_km))
    assert worst_deg < 0.01
    assert worst_km < 40.0
    outside("astronomy-engine", len(nights), f"{worst_deg:.4f} degree", "declinations of a year")


@pytest.mark.parametrize(("instant", "distance_km"), PERIGEES)
def test_perigees(instant: str, distance_km: float) -> None:
    """A night's figure is at most 0.8 day from perigee: up to 400 km above it; light time and rounding 40 km below."""
    nights = thirteen_months().nights
    about = nights[(nights["moon_highest_utc"] - pd.Timestamp(instant, tz="UTC")).abs() < pd.Timedelta(days=3)]
    assert distance_km - 40 < about["distance_km"].min() < distance_km + 400


def test_farthest_apogee() -> None:
    assert FARTHEST[1] - 400 < nearest(thirteen_months().nights, FARTHEST[0])["distance_km"] < FARTHEST[1] + 40


@pytest.mark.parametrize(("date", "limit_deg"), HIGHEST + LOWEST)
def test_declination_extremes(date: str, limit_deg: float) -> None:
    """The Moon's declination falls by 0.2 degree within half a day of its extreme."""
    nights = thirteen_months().nights
    about = nights[(nights["moon_highest_utc"] - pd.Timestamp(f"{date} 12:00", tz="UTC")).abs() < pd.Timedelta(days=3)]
    reached = about["declination_deg"].abs().max()
    assert abs(limit_deg) - 0.35 < reached < abs(limit_deg) + 0.011


def test_course_has_the_extremes_of_its_years() -> None:
    """Skyfield on DE440: 28.43 on 2026-02-25, 27.72 on 2027-02-16, -28.42 on 2026-03-11, -27.71 on 2027-02-02."""
    course = lunar_course(2027)
    assert course.of(2026) == pytest.approx((28.43, -28.42), abs=0.015)
    assert course.of(2027) == pytest.approx((27.72, -27.71), abs=0.015)


def test_course_turns_when_the_node_does() -> None:
    """Major standstill 2025, minor 2034 (from memory: 18.6 years, about 18.3 to 28.7 degrees)."""
    course = lunar_course(2027)
    assert len(course.years) == 21
    assert course.years[np.argmax(course.north_deg)] == 2025
    assert course.years[np.argmin(course.north_deg)] == 2034
    assert course.north_deg.max() == pytest.approx(28.7, abs=0.05)
    assert 18.2 < course.north_deg.min() < 18.7
    again = lunar_course(2043)
    assert again.years[np.argmax(again.north_deg)] == 2043
    assert np.all(np.abs(course.north_deg + course.south_deg) < 0.12)


def test_one_month_agrees_with_its_plan() -> None:
    """The same windows; a coarser step moves a chance by a few per cent."""
    inputs = only_partners(demo_inputs(), "QF4LUM", "QX6ICE", "QI9TEA")
    plan, year = make_plan(inputs, TODAY, calendar=False), make_year(inputs, 1, TODAY)
    hours = dict(zip(plan.partners["partner"], plan.partners["hours"], strict=True))
    chance = dict(zip(plan.partners["partner"], plan.partners["chance"], strict=True))
    assert year.partner_months["windows"].sum() == len(plan.windows)
    for row in year.partner_months.itertuples():
        assert row.hours == pytest.approx(hours[row.partner], abs=1e-9)
        assert row.chance == pytest.approx(chance[row.partner], abs=1e-9, nan_ok=True)
    for name in ("outcome", "rank", "partners_usable", "partners_heard"):
        assert year.nights[name].tolist() == plan.nights[name].tolist(), name
    assert year.nights["contacts_expected"].to_numpy() == pytest.approx(plan.nights["contacts_expected"], abs=1e-6)
    assert year.nights[["contacts_in_agenda", "contacts_if_added"]].isna().all(axis=None)
    assert year.nights["partners_in_reach"].tolist() == plan.nights["partners_in_reach"].tolist()
    assert year.nights["night"].tolist() == plan.nights["night"].tolist() == list(plan.period.dates)
    assert len(year.nights) == 30
    assert re.fullmatch("[A-Z2-7]{4}", year.number)


def test_each_month_has_the_air_of_its_season() -> None:
    """At 24 GHz summer air costs more than winter air: July from a year equals July alone, not March's air."""
    station = one_station("QA1AA", 48.1, 11.6, 500.0)
    far = dataclasses.replace(station, bands={"1.25cm": station.bands["3cm"]})
    inputs = pair(far, dt.date(2027, 3, 1))
    inputs = dataclasses.replace(
        inputs,
        partners=tuple(dataclasses.replace(one, bands={"1.25cm": one.bands["3cm"]}) for one in inputs.partners),
        season=dataclasses.replace(inputs.season, band="1.25cm", frequency_mhz=24_048.0),
    )
    both = make_year(inputs, 5, TODAY).nights
    alone = make_year(
        dataclasses.replace(
            inputs,
            season=dataclasses.replace(inputs.season, dates=DateRange(dt.date(2027, 7, 1), dt.date(2027, 7, 1))),
        ),
        1,
        TODAY,
    ).nights
    july = both[[night.month == 7 for night in both["night"]]]
    march = both[[night.month == 3 for night in both["night"]]]
    assert july["home_degradation_db"].to_numpy() == pytest.approx(alone["home_degradation_db"].to_numpy(), abs=1e-9)
    assert july["home_degradation_air_db"].mean() > 1.2 * march["home_degradation_air_db"].mean()


def test_home_degradation_is_its_parts() -> None:
    nights = thirteen_months().nights
    parts = nights[[f"home_degradation_{part}_db" for part in ("distance", "sky", "moon", "sun", "ground", "air")]]
    assert np.allclose(parts.sum(axis=1), nights["home_degradation_db"], atol=1e-9)
    # Arithmetic: 40 log10(406,607 / 356,400) dB between the best case and the farthest Moon, own echo both ways.
    far = nearest(nights, FARTHEST[0])
    assert far["home_degradation_distance_db"] == pytest.approx(40 * np.log10(406_607 / 356_400), abs=0.12)


def of_dates(inputs: Inputs, first: dt.date, last: dt.date) -> Inputs:
    """The same season in a few dates alone."""
    dates = DateRange(first, last)
    return dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, months=(), dates=dates))


def by_itself(inputs: Inputs, first: dt.date, last: dt.date) -> Plan:
    """The plan of a few dates alone."""
    return make_plan(of_dates(inputs, first, last), TODAY, calendar=False)


def brought(agenda: pd.DataFrame) -> float:
    """Contacts to expect from an agenda, by its table."""
    return float(agenda.drop_duplicates(["partner", "operator"])["joint_chance_met"].sum())


def test_a_weekend_planned_by_itself_brings_what_the_year_promises() -> None:
    """`dates` of three weekends: the best, the fourth and one that brings nothing; partners and best night as well."""
    year = demo_year()
    weekends = year.weekends
    nothing = weekends[weekends["contacts_expected"] == 0.0].iloc[:1]
    for row in pd.concat([weekends.iloc[[0, 3]], nothing]).itertuples():
        alone = by_itself(year.inputs, row.weekend_start, row.weekend_end)
        assert brought(alone.agenda) == pytest.approx(row.contacts_expected, abs=0.01)
        # What the slow test below takes for all weekends.
        pd.testing.assert_frame_equal(
            agenda_alone(of_dates(year.inputs, row.weekend_start, row.weekend_end)), alone.agenda
        )
        assert row.partners.split() == list(dict.fromkeys(alone.agenda["partner"]))
        if len(alone.agenda):
            per_night = alone.nights.set_index("night")["contacts_in_agenda"]
            assert row.best_night in per_night.index[per_night > 0.0]
    assert len(nothing) == 1
    assert weekends["contacts_expected"].iloc[0] > 2.0


@pytest.mark.slow
def test_all_weekends_of_a_year_bring_what_is_promised() -> None:
    """Every weekend of twelve months of the demo by itself: the ten best to 0.01, all in the same order."""
    year = make_year(demo_inputs(), 12, TODAY)
    alone = [of_dates(year.inputs, row.weekend_start, row.weekend_end) for row in year.weekends.itertuples()]
    found = [brought(agenda_alone(inputs)) for inputs in alone]
    promised = year.weekends["contacts_expected"].to_numpy(float)
    assert found[:10] == pytest.approx(promised[:10], abs=0.01)
    assert np.corrcoef(found, promised)[0, 1] > 0.99
    assert len(found) > 50


def test_weekends_are_ranked_and_none_is_forgotten() -> None:
    year = demo_year()
    weekends = year.weekends
    assert weekends["rank"].tolist() == list(range(1, len(weekends) + 1))
    least, contacts = weekends["degradation_db"].fillna(np.inf), weekends["contacts_expected"].tolist()
    order = sorted(
        range(len(weekends)),
        key=lambda n: (
            -round(contacts[n], 9),
            least.iloc[n],
            weekends["weekend_start"].iloc[n],
        ),
    )
    assert order == list(range(len(weekends)))
    covered = [
        row.weekend_start + dt.timedelta(days=n)
        for row in weekends.itertuples()
        for n in range((row.weekend_end - row.weekend_start).days + 1)
    ]
    ends = {date for date in year.period.dates if date.weekday() in (4, 5, 6)}
    assert set(covered) & set(year.period.dates) == ends
    assert (weekends["contacts_if_free"] >= weekends["contacts_expected"]).all()
    for row in weekends.itertuples():
        mine = year.nights[year.nights["night"].between(row.weekend_start, row.weekend_end)]
        assert row.degradation_db == pytest.approx(mine["degradation_db"].min(), nan_ok=True)
        assert (year.nights["weekend"] == row.weekend_start).sum() == len(mine)


def test_contacts_if_free_are_those_of_a_home_that_is_always_there() -> None:
    """Home's hours, dates, latest hour and nights lifted, the partners' kept: the weekend planned so by itself."""
    year = demo_year()
    inputs = year.inputs
    free = with_policy(
        dataclasses.replace(inputs, home=dataclasses.replace(inputs.home, available="always", unavailable_dates=())),
        nights=("fri", "sat", "sun"), latest_hour_on_work_nights=None,
    )  # fmt: skip
    gains = (year.weekends["contacts_if_free"] - year.weekends["contacts_expected"]).sort_values(ascending=False)
    for place in gains.index[[0, 2]]:
        row = year.weekends.loc[place]
        alone = by_itself(free, row["weekend_start"], row["weekend_end"])
        assert brought(alone.agenda) == pytest.approx(row["contacts_if_free"], abs=0.01)
        assert gains[place] > 0.3


def test_slots_bound_the_contacts_of_a_weekend() -> None:
    inputs = with_policy(demo_inputs(), maximum_slots_per_night=1)
    year = make_year(inputs, 1, TODAY)
    nights = [(row.weekend_end - row.weekend_start).days + 1 for row in year.weekends.itertuples()]
    assert (year.weekends["contacts_expected"].to_numpy(float) <= nights).all()


def test_weekends_are_friday_to_sunday_or_what_the_policy_takes() -> None:
    dates = [dt.date(2027, 3, 1) + dt.timedelta(days=n) for n in range(14)]  # 1 March 2027 is a Monday
    usual = weekends_of(demo_inputs(), dates)
    assert [[date.day for date in one.dates] for one in usual] == [[5, 6, 7], [12, 13, 14]]
    # Home is away on the 12th: the night stays in its weekend and brings nothing.
    assert [date.day for date in usual[1].away] == [12]
    two = weekends_of(with_policy(demo_inputs(), nights=("fri", "sat")), dates)
    assert [[date.day for date in one.dates] for one in two] == [[5, 6, 7], [12, 13, 14]]
    assert [[date.day for date in one.away] for one in two] == [[7], [12, 14]]
    # None of the three nights: the week's nights of the policy stand together.
    week = weekends_of(with_policy(demo_inputs(), nights=("tue", "wed")), dates)
    assert [[date.day for date in one.dates] for one in week] == [[2, 3], [9, 10]]


def test_reasons_claim_what_the_figures_show() -> None:
    year, seen = demo_year(), set()
    zone = ZoneInfo("America/Montevideo")
    for row, facts in zip(year.weekends.itertuples(), year.weekend_facts, strict=True):
        text = weekend_words(facts, zone)
        nights = year.nights[year.nights["night"].between(row.weekend_start, row.weekend_end)]
        assert len(text) <= 165
        best = None if row.best_night is None else nights.set_index("night").loc[row.best_night]
        if found := re.search(r"((?:\d+|Q\w+(?:, Q\w+)*(?: and Q\w+)?))(?: of 9 partners)? can be met", text):
            named = re.findall(r"Q\w+", found[1])
            assert (set(named) == set(row.partners.split())) if named else int(found[1]) == len(row.partners.split())
            seen.add("met")
        if "Nobody" in text or "nobody" in text:
            assert not row.partners
            assert row.contacts_expected == 0.0
            seen.add("nobody")
        if found := re.search(r"best on (\w+)", text):
            assert found[1] == DAYS[row.best_night.weekday()]
        if found := re.search(r"Moon up (?:(\w{3}) )?(\d\d:\d\d) to (\d\d:\d\d)", text):
            start, end = (best[f"home_moon{edge}_utc"].tz_convert(zone) for edge in ("rise", "set"))
            printed = [dt.datetime.strptime(word, "%H:%M").time() for word in found.groups()[1:]]
            assert (
                dt.timedelta()
                <= dt.datetime.combine(start.date(), printed[0]) - start.to_pydatetime().replace(tzinfo=None)
                < dt.timedelta(minutes=1)
            )
            assert (
                dt.timedelta()
                <= end.to_pydatetime().replace(tzinfo=None) - dt.datetime.combine(end.date(), printed[1])
                < dt.timedelta(minutes=1)
            )
            assert (found[1] is not None) == (start.date() != row.best_night)
            seen.add("hours")
        if found := re.search(r"[Nn]ear perigee \(([\d,]+) km\)", text):
            assert abs(int(found[1].replace(",", "")) - nights["distance_km"].min()) <= 500
            assert nights["distance_km"].min() < 370_400
            seen.add("perigee")
        if found := re.search(r"[Nn]ear apogee \(([\d,]+) km\)", text):
            assert abs(int(found[1].replace(",", "")) - nights["distance_km"].max()) <= 500
            seen.add("apogee")
        if found := re.search(r"(\d+) degrees south to (\d+) north", text):
            assert -int(found[1]) == round(nights["declination_deg"].min())
            assert int(found[2]) == round(nights["declination_deg"].max())
            seen.add("across")
        if found := re.search(r"Sun comes within (\d+) degrees on (\w+)", text):
            least = nights.loc[nights["sun_separation_deg"].idxmin()]
            assert 0 <= int(found[1]) - least["sun_separation_deg"] < 1
            assert found[2] == DAYS[least["night"].weekday()]
            seen.add("sun")
        for noise in (fact for fact in facts if fact.kind is FactKind.NOISE):
            column = f"home_degradation_{noise.part}_db"
            assert noise.loss_db == best[column]
            assert best[column] - year.nights[column].mean() >= 0.2
            seen.add("noise")
        if "home is away" in text.lower():
            assert row.weekend_start in (dt.date(2027, 3, 12), dt.date(2027, 3, 19))
            seen.add("away")
    assert seen >= {"met", "nobody", "hours", "across", "sun", "away", "apogee", "noise"}


def test_moon_up_against_astronomy_engine(outside: Outside) -> None:
    """Rise of the Moon's centre at geometric elevation 0: no skyline, no refraction."""
    home = one_station("QA1AA", 48.1, 11.6, 0.0)
    nights = make_year(pair(home, dt.date(2027, 9, 1)), 1, TODAY).nights
    observer, worst = astronomy.Observer(48.1, 11.6, 0.0), 0.0
    for row in nights.iloc[::4].itertuples():
        start = row.home_moonrise_utc
        before = start - pd.Timedelta(hours=1)
        time = astronomy.Time.Make(before.year, before.month, before.day, before.hour, before.minute, before.second)
        rise = astronomy.SearchAltitude(astronomy.Body.Moon, observer, astronomy.Direction.Rise, time, 1.0, 0.0)
        worst = max(worst, abs((pd.Timestamp(str(rise)) - start).total_seconds()))
    assert worst < 5.0
    outside("astronomy-engine", 8, f"{worst:.1f} s", "moonrises of a month")


def test_polar_home_has_nights_without_the_moon() -> None:
    """At 84 degrees north the Moon stays up for days on end, then down for days on end."""
    year = make_year(pair(one_station("QA1AA", 84.0, 20.0, 0.0), dt.date(2027, 3, 1)), 2, TODAY)
    up = year.nights["moon_up_hours"]
    assert (up == 0).sum() > 15
    assert (up > 23.9).sum() > 15
    below = year.nights[up == 0]
    assert below["home_degradation_db"].isna().all()
    assert below["home_moonrise_utc"].isna().all()
    assert (below["declination_deg"] < 0).all()
    assert below["declination_deg"].notna().all()
    assert any("Moon up all day" in weekend_words(facts, year.period.zone) for facts in year.weekend_facts)
    assert len(year.nights) == len(year.period.dates)
    assert 61 - len(year.nights) in (2, 3)


def test_southern_home_sees_a_low_moon_in_the_north() -> None:
    """At 75 degrees south it is the other way round: a Moon far north never rises."""
    year = make_year(pair(one_station("QA1AA", -75.0, 20.0, 0.0), dt.date(2027, 3, 1)), 1, TODAY)
    nights = year.nights
    assert (nights.loc[nights["moon_up_hours"] == 0, "declination_deg"] > 0).all()
    assert (nights.loc[nights["moon_up_hours"] > 23.9, "declination_deg"] < 0).all()


def test_period_starts_with_the_season() -> None:
    inputs = demo_inputs()
    period = year_period(inputs, 12, TODAY)
    assert (period.first_night, period.last_night) == (dt.date(2027, 3, 1), dt.date(2028, 2, 29))
    bare = dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, months=()))
    assert year_period(bare, 1, dt.date(2026, 12, 31)).first_night == dt.date(2027, 1, 1)
    dated = DateRange(dt.date(2027, 3, 5), dt.date(2027, 4, 2))
    bare = dataclasses.replace(bare, season=dataclasses.replace(bare.season, dates=dated))
    assert year_period(bare, 2, TODAY).last_night == dt.date(2027, 4, 30)
    for count in (0, 25):
        with pytest.raises(ValueError, match="1 to 24"):
            year_period(inputs, count, TODAY)


def test_months_beyond_the_kernel_are_refused() -> None:
    with pytest.raises(EphemerisUnavailable, match="does not cover"):
        make_year(pair(first=dt.date(2053, 9, 1)), 3, TODAY)
