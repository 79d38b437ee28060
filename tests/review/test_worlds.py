"""The benchmark's worlds in their quick form: what two months teach brings the third month nearer the truth."""

from __future__ import annotations

import numpy as np
import pytest

from tests.claims import asserted
from tests.conftest import Outside
from tests.review.stories import play
from tests.review.worlds import COVERED, UNANSWERED, WORLDS, Season, coverage, season

SEASONS = 4


@pytest.fixture(scope="module")
def played() -> dict[str, list[Season]]:
    """A few seasons of every world."""
    return {world: [season(world, seed) for seed in range(SEASONS)] for world in WORLDS}


@pytest.mark.parametrize("world", WORLDS)
def test_the_third_month_is_predicted_better(world: str, played: dict[str, list[Season]], outside: Outside) -> None:
    """By a fifth on the average of each world; no season is worse by more than chance explains."""
    found = played[world]
    before, after = (float(np.mean([getattr(one, name) for one in found])) for name in ("before", "after"))
    assert after < 0.8 * before
    assert not any(one.much_worse for one in found)
    said, true = (float(np.mean([getattr(one, name) for one in found])) for name in ("said", "true"))
    assert said == pytest.approx(true, abs=0.1)
    better = sum(one.better for one in found)
    words = f"{after:.2f} of a chance, {before:.2f} unlearnt, better in {better} of {SEASONS}"
    outside(f"third month, {world}", SEASONS, words, "seasons")


def test_nine_seasons_in_ten_are_predicted_better(played: dict[str, list[Season]]) -> None:
    """All worlds' seasons together; the benchmark asks it of each world."""
    better = [one.better for found in played.values() for one in found]
    assert np.mean(better) >= 0.9


def test_asking_for_silent_slots_is_worth_it(played: dict[str, list[Season]]) -> None:
    """Slots that nobody tried and nobody speaks of are taken for failures: chances become too low, not too high."""
    silent = [season(UNANSWERED, seed) for seed in range(SEASONS)]
    pairs = list(zip(silent, played["untried"], strict=True))
    assert all(one.said < told.said for one, told in pairs)
    assert np.mean([one.after for one in silent]) > np.mean([told.after for _, told in pairs]) + 0.02


@pytest.mark.parametrize("kind", COVERED)
def test_intervals_hold_where_evenings_differ(kind: str, outside: Outside) -> None:
    """Nominal 90 %: of a dozen worlds of twelve sides so many lie within."""
    within = coverage([play(seed, **COVERED[kind]) for seed in range(12)])
    outside(f"hidden sides, {kind}", 12, f"{abs(100.0 * within - 90.0):.0f} % of coverage", "seasons")
    bar = asserted("sides within intervals of 90 % where evenings differ")
    assert 100.0 * within == pytest.approx(90.0, abs=bar)
