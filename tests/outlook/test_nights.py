"""What nights are worth, traced back from the usable slots and from plans of single nights; facts by their figures."""

from __future__ import annotations

import dataclasses
import datetime as dt
from functools import lru_cache

import numpy as np
import pandas as pd
import pytest

from pipeline.agenda.candidates import find_slots, with_chances
from pipeline.inputs.model import WEEKDAYS, DateRange
from pipeline.outlook.facts import Fact, FactKind
from pipeline.outlook.year import make_year
from pipeline.pairs.assumed import RECEIVE, TRANSMIT
from pipeline.plan.plan import make_plan
from pipeline.record.inputs import Inputs
from tests.outlook.usable import best_slots, in_the_middle, random_season, usable_slots
from tests.plan.months import (
    TODAY,
    Outlook,
    demo_inputs,
    month_plan,
    only_partners,
    outlook,
    with_equipment,
    with_policy,
)

SEASONS = ["demo", "fixed feeds", 1, 2, 6, 12]
WORDS = ("strong", "workable", "marginal")
PARTS = ("sky", "moon", "sun", "ground", "air")
# The same slots, by way of tables of other lengths: what is left is the order of sums.
same_contacts = 1e-6


@lru_cache(maxsize=6)
def season(name: str | int) -> Outlook:
    if isinstance(name, int):
        return outlook(random_season(name))
    inputs = with_policy(demo_inputs(), step_minutes=15)
    if name == "demo":
        return outlook(inputs)
    # Where nobody can turn a feed, some nights lose more to polarization than others.
    stands = {inputs.home.call: "vertical"}
    fixed = [
        with_equipment(one, polarization=stands.get(one.call, "horizontal")) for one in (inputs.home, *inputs.partners)
    ]
    return outlook(dataclasses.replace(inputs, home=fixed[0], partners=tuple(fixed[1:])))


@pytest.mark.parametrize("name", SEASONS)
def test_rank_can_be_retraced(name: str | int) -> None:
    """Contacts to expect, then the least degradation, then the date: nothing else is needed."""
    nights = season(name).nights
    order = sorted(
        nights.itertuples(),
        key=lambda row: (
            -round(row.contacts_expected, 9),
            np.inf if np.isnan(row.degradation_db) else row.degradation_db,
            row.night,
        ),
    )
    assert [row.rank for row in order] == list(range(1, len(nights) + 1))


def _word(inputs: Inputs, call: str, chance: float) -> str:
    """The word of one chance by the thresholds; what a file does not state of a link is never strong."""
    limits = inputs.season.policy.outcome_thresholds
    word = next((w for w in WORDS if chance >= getattr(limits, w)), "unlikely")
    band = inputs.bands[[one.call for one in inputs.partners].index(call)]
    figures = {"horizon", f"bands.{band}", *(f"bands.{band}.{figure}" for figure in (*TRANSMIT, *RECEIVE))}
    doubtful = figures & {*inputs.home.assumed, *inputs.partner(call).assumed}
    return "workable" if word == "strong" and doubtful else word


@pytest.mark.parametrize("name", SEASONS)
def test_words_and_figures_follow_from_the_usable_slots(name: str | int) -> None:
    plan = season(name)
    best = best_slots(plan)
    for row in plan.nights.itertuples():
        mine = best[best["night"] == row.night]
        assert sorted(row.partners_usable.split()) == sorted(mine["partner"])
        assert set(row.partners_usable.split()) <= set(row.partners_heard.split())
        assert row.partners_in_reach == plan.windows.loc[plan.windows["night"] == row.night, "partner"].nunique()
        if mine.empty:
            assert row.outcome == ("nobody free" if row.partners_in_reach else "no window")
            assert row.contacts_expected == 0.0
            assert row.best_partner is None or pd.isna(row.best_partner)
            assert np.isnan(row.degradation_db)
            continue
        words = [_word(plan.inputs, one.partner, one.chance) for one in mine.itertuples()]
        assert row.outcome == min(words, key=(*WORDS, "unlikely").index)
        assert mine.set_index("partner")["chance"][row.best_partner] == mine["chance"].max()
        middle = [in_the_middle(plan, one, "degradation_db")[0] for _, one in mine.iterrows()]
        assert row.degradation_db == pytest.approx(np.median(middle), abs=1e-6)


@pytest.mark.parametrize("seed", [1, 12])
def test_heard_is_who_could_be_met_if_both_ends_were_always_there(seed: int) -> None:
    """Against the same stations without hours, dates or nights left out; the place of best mean margin speaks."""
    plan = season(seed)
    free = [
        dataclasses.replace(one, available="always", unavailable_dates=())
        for one in (plan.inputs.home, *plan.inputs.partners)
    ]
    inputs = with_policy(plan.inputs, nights=WEEKDAYS, latest_hour_on_work_nights=None)
    always = outlook(dataclasses.replace(inputs, home=free[0], partners=tuple(free[1:])))
    pairs = list(zip(plan.nights["partners_heard"], always.nights["partners_usable"], strict=True))
    grid = plan.worth.grid
    places = with_chances(
        grid.inputs,
        grid.modes,
        grid.track,
        find_slots(grid.minutes, grid.minutes.sun, grid.inputs.season.policy.slot_minutes, grid.least),
    )
    calls = [one.call for one in grid.inputs.partners]
    for night, (heard, usable) in enumerate(pairs):
        for call in set(heard.split()) - set(usable.split()):
            mine = (places.night == night) & (places.pair == calls.index(call))
            # A slot is shortened while that costs at most 0.02: so far may a place stand above its threshold.
            assert places.chance[mine].max() < grid.least_chance + 0.02
    apart = sum(len(set(usable.split()) - set(heard.split())) for heard, usable in pairs)
    assert apart <= 0.02 * sum(len(usable.split()) for _, usable in pairs)


def one_night(inputs: Inputs, night: dt.date) -> Inputs:
    dates = DateRange(night, night)
    return dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, months=(), dates=dates))


@pytest.mark.parametrize("name", ["demo", 1, 2])
def test_a_night_planned_by_itself_brings_what_it_promises(name: str | int) -> None:
    """The two best, one in the middle and one without: `dates` of that night alone, its whole agenda."""
    plan = season(name)
    by_rank = plan.nights.sort_values("rank")
    for row in by_rank.iloc[[0, 1, len(by_rank) // 3, -1]].itertuples():
        alone = make_plan(one_night(plan.inputs, row.night), TODAY, calendar=False)
        each = alone.agenda.drop_duplicates(["partner", "operator"])
        assert each["joint_chance_met"].sum() == pytest.approx(row.contacts_expected, abs=same_contacts)
    assert by_rank["contacts_expected"].iloc[0] > 0.5


def test_what_the_agenda_would_lose_and_gain() -> None:
    """Without a night's slots, by the agenda's table; a night that is not in use adds what fits beside the others."""
    plan = month_plan()
    nights = plan.nights.set_index("night")
    presence = plan.inputs.season.policy.presence
    for night in plan.nights["night"]:
        mine = plan.agenda[plan.agenda["night"] == night]
        lost, added = nights.loc[night, "contacts_in_agenda"], nights.loc[night, "contacts_if_added"]
        assert (lost > 0.0) == (len(mine) > 0)
        assert lost == 0.0 or added == 0.0
        assert 0.0 <= added <= nights.loc[night, "contacts_expected"] + 0.5
        for row in mine.itertuples():
            others = plan.agenda[(plan.agenda["partner"] == row.partner) & (plan.agenda["night"] != night)]
            if len(mine) == 1 and others.empty:
                assert lost == pytest.approx(row.chance_met, abs=same_contacts)
        gone = mine.drop_duplicates("partner")
        elsewhere = plan.agenda[plan.agenda["night"] != night]
        # Whoever has one slot elsewhere keeps its chance there.
        left = sum(
            float(elsewhere.loc[elsewhere["partner"] == row.partner, "chance_met"].sum()) for row in gone.itertuples()
        )
        assert lost == pytest.approx(sum(row.joint_chance_met for row in gone.itertuples()) - left, abs=same_contacts)
    assert presence == 0.9
    assert (nights["contacts_in_agenda"] > 0.0).sum() == plan.agenda["night"].nunique()


def test_nights_and_weekends_keep_no_sentence() -> None:
    """Facts go along as values; in the tables stand figures, calls, dates and outcomes of a word or two."""
    plan, year = month_plan(), make_year(only_partners(demo_inputs(), "QF4LUM", "QX6ICE"), 1, TODAY)
    assert len(plan.night_facts) == len(plan.nights)
    assert len(year.weekend_facts) == len(year.weekends)
    for table in (plan.nights, year.nights, year.weekends):
        # What why-not tells of a night is its own affair.
        for name in table.columns.drop("no_slot_reason", errors="ignore"):
            assert not [value for value in table[name] if isinstance(value, str) and value.endswith(".")], name
        assert "reason" not in table.columns


# Facts


@pytest.mark.parametrize("name", SEASONS)
def test_facts_of_the_night_itself(name: str | int) -> None:
    """The weightiest first, each once; away, the Sun and its limit, the distance by Meeus' limit for perigees."""
    plan = season(name)
    policy, away = plan.inputs.season.policy, plan.inputs.home.unavailable_dates
    for row, facts in zip(plan.nights.itertuples(), plan.night_facts, strict=True):
        weights = [fact.weight for fact in facts]
        kinds = {fact.kind: fact for fact in facts}
        assert weights == sorted(weights, reverse=True)
        assert len(kinds) == len(facts) > 0
        is_away = any(row.night in stretch for stretch in away)
        is_taken = WEEKDAYS[row.night.weekday()] in policy.nights
        assert row.possible == (is_taken and not is_away)
        assert (FactKind.HOME_AWAY in kinds) == is_away
        assert (FactKind.NOT_YOUR_NIGHT in kinds) == (not is_taken and not is_away)
        met = bool(row.partners_usable)
        assert (FactKind.NEAR_PERIGEE in kinds) == (met and row.distance_km < 370_400.0)
        assert (FactKind.NEAR_APOGEE in kinds) == (met and row.distance_km > 402_000.0)
        limit = policy.minimum_sun_separation_deg
        assert (FactKind.SUN_INSIDE_LIMIT in kinds) == (row.sun_separation_deg < min(limit, 12.0))
        assert (FactKind.SUN_NEAR in kinds) == (limit <= row.sun_separation_deg < 12.0)
        for kind in (FactKind.NEAR_PERIGEE, FactKind.NEAR_APOGEE, FactKind.MOON_DISTANCE):
            if kind in kinds:
                assert (kinds[kind].distance_km, kinds[kind].loss_db) == (row.distance_km, row.degradation_db)


@pytest.mark.parametrize("name", SEASONS)
def test_facts_of_who_can_be_met(name: str | int) -> None:
    plan = season(name)
    best = best_slots(plan)
    nights_of = best.groupby("partner")["night"].agg(set).to_dict()
    for row, facts in zip(plan.nights.itertuples(), plan.night_facts, strict=True):
        kinds = {fact.kind: fact for fact in facts}
        usable, heard = set(row.partners_usable.split()), set(row.partners_heard.split())
        assert (FactKind.CAN_BE_MET in kinds) == bool(usable)
        if usable:
            met = kinds[FactKind.CAN_BE_MET]
            assert (set(met.calls), met.of_partners) == (usable, len(plan.inputs.partners))
        alone = {call for call in usable if nights_of[call] == {row.night}}
        assert set(kinds.get(FactKind.ONLY_NOW, Fact(FactKind.ONLY_NOW)).calls) == alone
        lost = len(heard - usable) if usable else 0
        assert kinds.get(FactKind.HOURS_LOST, Fact(FactKind.HOURS_LOST)).partners == lost
        assert (FactKind.NOBODY_IN_REACH in kinds) == (row.partners_in_reach == 0)
        assert (FactKind.NOBODY_FREE in kinds) == (not usable and bool(heard))
        assert (FactKind.NOBODY_STRONG_ENOUGH in kinds) == (not heard and row.partners_in_reach > 0)
        if FactKind.NOBODY_FREE in kinds:
            assert kinds[FactKind.NOBODY_FREE].partners == len(heard)
        if FactKind.NOBODY_STRONG_ENOUGH in kinds:
            assert kinds[FactKind.NOBODY_STRONG_ENOUGH].partners == row.partners_in_reach


@pytest.mark.parametrize("name", SEASONS)
def test_the_best_chance_passes_that_of_every_other_night(name: str | int) -> None:
    """By 0.05 at least, that partner's most of all here; a partner sure on another night is no news."""
    plan = season(name)
    best = best_slots(plan).set_index(["night", "partner"])["chance"]
    strong = plan.inputs.season.policy.outcome_thresholds.strong
    for row, facts in zip(plan.nights.itertuples(), plan.night_facts, strict=True):
        gains = {}
        for call in row.partners_usable.split():
            mine = best[:, call]
            other = mine.drop(row.night).max()
            if not np.isnan(other) and other < strong and mine[row.night] - other >= 0.05:
                gains[call] = (mine[row.night], other)
        told = [fact for fact in facts if fact.kind is FactKind.BEST_CHANCE]
        assert len(told) == bool(gains)
        for fact in told:
            assert (fact.chance, fact.next_chance) == pytest.approx(gains[fact.calls[0]], abs=1e-12)
            assert fact.chance - fact.next_chance == pytest.approx(max(one - two for one, two in gains.values()))


@pytest.mark.parametrize("name", SEASONS)
def test_what_costs_is_read_in_the_middle_of_the_best_slots(name: str | int) -> None:
    """Noise part, polarization, spread and the lowest Moon at a partner, found again from the samples."""
    plan = season(name)
    best = best_slots(plan)
    names = [*(f"degradation_{part}_db" for part in PARTS), "polarization_loss_db", "spread_loss_db"]
    names += ["partner_elevation_deg"]
    figures = pd.DataFrame(
        [in_the_middle(plan, row, *names) for _, row in best.iterrows()], index=best.index, columns=names
    )
    usual = figures.median()
    for row, facts in zip(plan.nights.itertuples(), plan.night_facts, strict=True):
        kinds = {fact.kind: fact for fact in facts}
        mine = best[best["night"] == row.night]
        here = figures.loc[mine.index]
        calls = mine["partner"]
        if mine.empty:
            costs = {FactKind.NOISE, FactKind.POLARIZATION_LOSS, FactKind.SPREAD_LOSS, FactKind.LOW_MOON}
            assert not costs & set(kinds)
            continue
        now = here.median()
        above = {part: now[f"degradation_{part}_db"] - usual[f"degradation_{part}_db"] for part in PARTS}
        part = max(above, key=lambda one: above[one])
        stands_out = now[f"degradation_{part}_db"] >= 0.3 and above[part] >= 0.2
        assert (FactKind.NOISE in kinds) == stands_out
        if stands_out:
            assert kinds[FactKind.NOISE].part == part
            assert kinds[FactKind.NOISE].loss_db == pytest.approx(now[f"degradation_{part}_db"], abs=1e-6)
        for kind, column in (
            (FactKind.POLARIZATION_LOSS, "polarization_loss_db"),
            (FactKind.SPREAD_LOSS, "spread_loss_db"),
        ):
            most = np.nan_to_num(here[column]).max()
            # Just over the 3.01 dB that linear pays with circular on every night.
            assert (kind in kinds) == (most > 3.02)
            if kind in kinds:
                assert kinds[kind].loss_db == pytest.approx(most, abs=1e-6)
                assert here[column][calls == kinds[kind].calls[0]].iloc[0] == pytest.approx(most, abs=1e-6)
        lowest = here["partner_elevation_deg"].min()
        assert (FactKind.LOW_MOON in kinds) == (lowest < 10.0)
        if FactKind.LOW_MOON in kinds:
            low = kinds[FactKind.LOW_MOON]
            assert low.angle_deg == pytest.approx(lowest, abs=1e-6)
            assert here["partner_elevation_deg"][calls == low.calls[0]].iloc[0] == pytest.approx(lowest, abs=1e-6)


def test_every_kind_of_fact_is_seen() -> None:
    """Over these seasons, so that none of the checks above is idle."""
    seen = {fact.kind for name in SEASONS for facts in season(name).night_facts for fact in facts}
    assert {
        FactKind.HOME_AWAY, FactKind.SUN_NEAR, FactKind.SUN_INSIDE_LIMIT, FactKind.NOBODY_FREE, FactKind.CAN_BE_MET,
        FactKind.ONLY_NOW, FactKind.HOURS_LOST, FactKind.BEST_CHANCE, FactKind.NEAR_PERIGEE, FactKind.NEAR_APOGEE,
        FactKind.MOON_DISTANCE, FactKind.NOISE, FactKind.SPREAD_LOSS, FactKind.LOW_MOON, FactKind.NOT_YOUR_NIGHT,
        FactKind.POLARIZATION_LOSS, FactKind.NOBODY_STRONG_ENOUGH,
    } <= seen  # fmt: skip


def test_nights_that_home_does_not_take() -> None:
    """Dates away and weekdays outside the policy bring nothing and come behind every night that does."""
    inputs = with_policy(demo_inputs(), nights=("fri", "sat", "sun"), step_minutes=30)
    nights = outlook(inputs).nights
    away = [dt.date(2027, 3, 12), dt.date(2027, 3, 20), dt.date(2027, 3, 21), dt.date(2027, 3, 22)]
    for row in nights.itertuples():
        assert row.possible == (WEEKDAYS[row.night.weekday()] in ("fri", "sat", "sun") and row.night not in away)
    assert (nights.loc[~nights["possible"], "contacts_expected"] == 0.0).all()
    earning = nights["contacts_expected"] > 0.0
    assert nights.loc[earning, "rank"].max() < nights.loc[~nights["possible"], "rank"].min()


def test_a_month_without_windows() -> None:
    """The demo's own partner behind a ridge: every night is there, none has a word but "no window"."""
    plan = outlook(with_policy(only_partners(demo_inputs(), "QI9TEA"), step_minutes=60))
    assert len(plan.windows) == 0
    assert plan.nights["outcome"].unique().tolist() == ["no window"]
    assert sorted(plan.nights["rank"]) == list(range(1, len(plan.nights) + 1))
    assert len(plan.nights) == 30  # the Moon carries no night on the 28th
    assert (plan.nights["contacts_expected"] == 0.0).all()
    assert usable_slots(plan).empty
