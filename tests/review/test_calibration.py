"""Whether promises held: intervals and trends against statistics libraries, scores against values by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from pipeline.review.calibration import brier, honesty_of, trend_of, trends_of, wilson
from tests.conftest import Outside


def test_wilson_intervals_against_a_library(outside: Outside) -> None:
    """`statsmodels`, method wilson, for every count up to 30 and two levels."""
    worst = 0.0
    cases = [(done, tried, level) for tried in range(1, 31) for done in range(tried + 1) for level in (0.9, 0.95)]
    for done, tried, level in cases:
        expected = proportion_confint(done, tried, alpha=1.0 - level, method="wilson")
        worst = max(worst, float(np.abs(np.subtract(wilson(done, tried, level), expected)).max()))
    assert worst < 1e-12
    assert wilson(0, 0) == (0.0, 1.0)
    outside("statsmodels Wilson", len(cases), f"{worst:.1g} of a share", "intervals")


def test_brier_score_by_hand() -> None:
    """(0.1^2 + 0.8^2 + 0.4^2 + 0.7^2) / 4 = 0.325; a perfect oracle gets 0, one who is always wrong 1."""
    chance, done = np.array([0.9, 0.8, 0.6, 0.3]), np.array([True, False, True, True])
    assert brier(chance, done) == pytest.approx(0.325)
    assert brier(done.astype(float), done) == 0.0
    assert brier(1.0 - done, done) == 1.0


def test_steps_hold_every_attempt_with_a_chance() -> None:
    chance = np.array([0.0, 0.19, 0.2, 0.5, 0.95, 1.0, np.nan])
    done = np.array([False, True, False, True, True, True, True])
    found = honesty_of(chance, done)
    assert found is not None
    assert [(step.low, step.attempts, step.completed) for step in found.steps] == [
        (0.0, 2, 1), (0.2, 1, 0), (0.4, 1, 1), (0.8, 2, 2),
    ]  # fmt: skip
    assert (found.attempts, found.completed) == (6, 4)
    assert found.expected == pytest.approx(2.84)
    # Always saying 4 in 6 would get 2/3 x 1/3.
    assert found.base_rate_brier == pytest.approx(2.0 / 9.0)
    assert found.steps[0].mean_chance == pytest.approx(0.095)
    assert honesty_of([np.nan], [True]) is None


def test_honest_chances_hold_and_vain_ones_do_not() -> None:
    """2,000 attempts that come about as told: nine steps in ten hold. Chances told 25 % too high: most do not."""
    random = np.random.default_rng(1)
    chance = random.random(2000)
    done = random.random(2000) < chance
    honest, vain = honesty_of(chance, done), honesty_of(np.minimum(chance + 0.25, 1.0), done)
    assert honest is not None
    assert vain is not None
    assert sum(step.holds for step in honest.steps) >= 4
    assert sum(step.holds for step in vain.steps) <= 1
    assert honest.brier < vain.brier < honest.base_rate_brier + 0.1


def test_trends_against_a_library(outside: Outside) -> None:
    """`scipy.stats.linregress`: slope and standard error."""
    random = np.random.default_rng(2)
    x = random.uniform(0.0, 60.0, 40)
    y = -2.0 + 0.05 * x + random.normal(0.0, 1.0, 40)
    found, expected = trend_of("elevation", x, y), stats.linregress(x, y)
    assert found.slope == pytest.approx(expected.slope, rel=1e-12)
    assert found.error == pytest.approx(expected.stderr, rel=1e-12)
    assert found.told
    assert not trend_of("elevation", x, random.normal(0.0, 1.0, 40)).told
    outside("scipy linregress", 1, f"{abs(found.slope - expected.slope):.1g} dB a degree", "slopes")


@pytest.mark.parametrize("x", [[], [1.0], [1.0, 2.0], [3.0] * 12, [np.nan] * 12])
def test_too_little_makes_no_trend(x: list[float]) -> None:
    trend = trend_of("elevation", x, np.zeros(len(x)))
    assert np.isnan(trend.slope)
    assert not trend.told


def test_each_way_is_set_against_its_own_receiver() -> None:
    """What the partner reports of home goes with the partner's elevation, what home reports with home's; doubted
    reports are left out.
    """
    rows = pd.DataFrame(
        {
            "left_at_partner_db": [1.0, np.nan, 3.0],
            "left_at_home_db": [4.0, 5.0, np.nan],
            "doubted_at_partner": [False, False, False],
            "doubted_at_home": [False, True, False],
            "partner_elevation_deg": [10.0, 20.0, 30.0],
            "home_elevation_deg": [40.0, 50.0, 60.0],
        }
    )
    (trend,) = trends_of(rows)
    assert trend.x.tolist() == [10.0, 30.0, 40.0]
    assert trend.y.tolist() == [1.0, 3.0, 4.0]
