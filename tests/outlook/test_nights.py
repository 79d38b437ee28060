"""The nights' ranking, traced back from the columns of the nights table alone; its figures from the windows."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from pipeline.inputs.model import WEEKDAYS
from pipeline.outlook.facts import FactKind
from pipeline.outlook.year import make_year
from pipeline.pairs.outcomes import outcome_words
from tests.plan.months import TODAY, demo_inputs, month_plan, only_partners, outlook, with_policy

MONTHS = ["2027-03", "2026-12"]


@pytest.mark.parametrize("month", MONTHS)
def test_rank_can_be_retraced(month: str) -> None:
    """Possible nights first, then the score, then the least degradation, then the date: nothing else is needed."""
    nights = month_plan(month).nights
    order = sorted(
        nights.itertuples(),
        key=lambda row: (
            not row.possible,
            -round(row.score, 9),
            np.inf if np.isnan(row.degradation_db) else row.degradation_db,
            row.night,
        ),
    )
    assert [row.rank for row in order] == list(range(1, len(nights) + 1))


@pytest.mark.parametrize("month", MONTHS)
def test_word_follows_from_the_share(month: str) -> None:
    plan = month_plan(month)
    share = plan.nights["score_share"].to_numpy(float)
    expected = np.where(np.isnan(share), "no window", outcome_words(share, plan.inputs.season.policy))
    assert plan.nights["outcome"].tolist() == expected.tolist()
    assert (plan.nights["score_share"].isna() == (plan.nights["partners_in_reach"] == 0)).all()
    assert plan.nights["score_share"].dropna().between(0.0, 1.0).all()


def test_figures_follow_from_the_windows() -> None:
    """Score: priority times the chance of each partner's best window; share: of what all reachable partners weigh."""
    plan = month_plan()
    priority = {wish.call: wish.priority for wish in plan.inputs.wishes}
    whole = sum(priority[call] for call in set(plan.windows["partner"]))
    for row in plan.nights.itertuples():
        windows = plan.windows[plan.windows["night"] == row.night]
        best = windows.groupby("partner")["chance"].max()
        worth = {call: priority[call] * chance for call, chance in best.items()}
        assert row.partners_in_reach == len(best)
        assert row.expected_contacts == pytest.approx(best.sum())
        assert row.score == pytest.approx(sum(worth.values()))
        if worth:
            assert row.score_share == pytest.approx(sum(worth.values()) / whole)
            assert worth[row.best_partner] == pytest.approx(max(worth.values()))
            assert row.degradation_db == windows["degradation_slot_db"].min()
        else:
            assert row.best_partner is None


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


def test_facts_are_those_of_the_figures() -> None:
    """The weightiest first; near perigee by Meeus' limit, near the Sun inside and outside the policy's."""
    plan = month_plan()
    limit = plan.inputs.season.policy.minimum_sun_separation_deg
    for row, facts in zip(plan.nights.itertuples(), plan.night_facts, strict=True):
        weights = [fact.weight for fact in facts]
        kinds = {fact.kind: fact for fact in facts}
        assert weights == sorted(weights, reverse=True)
        assert len(kinds) == len(facts)
        assert (FactKind.HOME_AWAY in kinds) == (not row.possible)
        assert (FactKind.NEAR_PERIGEE in kinds) == (row.partners_in_reach > 0 and row.distance_km < 370_400.0)
        assert (FactKind.SUN_INSIDE_LIMIT in kinds) == (row.sun_separation_deg < limit)
        assert (FactKind.SUN_NEAR in kinds) == (limit <= row.sun_separation_deg < 12.0)


def test_nights_that_home_does_not_take() -> None:
    """Dates away and weekdays outside the policy come last, however good."""
    inputs = with_policy(demo_inputs(), nights=("fri", "sat", "sun"), step_minutes=30)
    nights = outlook(inputs).nights
    away = [dt.date(2027, 3, 12), dt.date(2027, 3, 20), dt.date(2027, 3, 21), dt.date(2027, 3, 22)]
    for row in nights.itertuples():
        assert row.possible == (WEEKDAYS[row.night.weekday()] in ("fri", "sat", "sun") and row.night not in away)
    assert nights.loc[nights["possible"], "rank"].max() < nights.loc[~nights["possible"], "rank"].min()


def test_a_month_without_windows() -> None:
    """The demo's own partner behind a ridge: every night is there, none has a word but "no window"."""
    plan = outlook(with_policy(only_partners(demo_inputs(), "QI9TEA"), step_minutes=60))
    assert len(plan.windows) == 0
    assert plan.nights["outcome"].unique().tolist() == ["no window"]
    assert sorted(plan.nights["rank"]) == list(range(1, len(plan.nights) + 1))
    assert len(plan.nights) == 30  # the Moon carries no night on the 28th
    assert (plan.nights["score"] == 0.0).all()
