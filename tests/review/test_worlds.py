"""The benchmark's worlds in their quick form: what two months teach brings the third month nearer the truth."""

from __future__ import annotations

import numpy as np
import pytest

from tests.claims import asserted
from tests.conftest import Outside
from tests.review.stories import play
from tests.review.worlds import COVERED, WORLDS, coverage, season

SEASONS = 5


@pytest.mark.parametrize("world", WORLDS)
def test_the_third_month_is_predicted_better(world: str, outside: Outside) -> None:
    """Of five seasons four at least; on the average by a tenth; none is worse by more than chance explains."""
    found = [season(world, seed) for seed in range(SEASONS)]
    before, after = (float(np.mean([getattr(one, name) for one in found])) for name in ("before", "after"))
    assert sum(one.better for one in found) >= 4
    assert after < 0.9 * before
    assert not any(one.much_worse for one in found)
    said, true = (float(np.mean([getattr(one, name) for one in found])) for name in ("said", "true"))
    assert said == pytest.approx(true, abs=0.12)
    outside(f"third month, {world}", SEASONS, f"{after:.2f} of a chance, {before:.2f} unlearnt", "seasons")


@pytest.mark.parametrize("kind", COVERED)
def test_intervals_hold_where_evenings_differ(kind: str, outside: Outside) -> None:
    """Nominal 90 %: of a dozen worlds of twelve sides so many lie within."""
    within = coverage([play(seed, **COVERED[kind]) for seed in range(12)])
    outside(f"hidden sides, {kind}", 12, f"{abs(100.0 * within - 90.0):.0f} % of coverage", "seasons")
    bar = asserted("sides within intervals of 90 % where evenings differ")
    assert 100.0 * within == pytest.approx(90.0, abs=bar)
