"""Mutual windows: when the Moon clears home's rules and a partner's; each whole, and what opens and closes it.

From the passes of both stations. A window belongs to the night in which it starts and is not cut at noon; only one
that reaches more than a day across the period's edge (a Moon that never sets) is cut there, so that two
neighbouring months together hold every minute once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.windows.moon_passes import PERIOD_EDGE, MoonPasses, overlaps
from pipeline.windows.rules import RULES
from pipeline.windows.span import DAY_S

FloatArray = npt.NDArray[np.float64]

CUT_BY_PERIOD = "month"
SMALL_S = 1e-6


@dataclass(frozen=True)
class Windows:
    """Mutual windows of one pair in order of time: seconds from the sky's start, (n,), and the rules at the edges."""

    start_s: FloatArray
    end_s: FloatArray
    opens_by: tuple[str, ...]
    closes_by: tuple[str, ...]

    def holding(self, time_s: FloatArray) -> npt.NDArray[np.int64]:
        """Index of the window that holds each time (m,), edges included to a microsecond; -1 where none does."""
        if not self.start_s.size:
            return np.full(time_s.size, -1)
        held = (self.start_s <= time_s[:, None] + SMALL_S) & (self.end_s >= time_s[:, None] - SMALL_S)
        return np.where(held.any(axis=1), held.argmax(axis=1), -1)


def mutual_windows(home: MoonPasses, partner: MoonPasses, period_s: tuple[float, float]) -> Windows:
    """Windows of a pair that belong to the period; passes must reach a day beyond it on both sides."""
    shared = overlaps(home, [partner])
    home_pass, partner_pass, start, end = shared.first_pass, shared.other_pass, shared.start_s, shared.end_s
    opened_by_home = home.start_s[home_pass] >= partner.start_s[partner_pass]
    closed_by_home = home.end_s[home_pass] <= partner.end_s[partner_pass]
    opens = _words(opened_by_home, home.opened_by[home_pass], partner.opened_by[partner_pass])
    closes = _words(closed_by_home, home.closed_by[home_pass], partner.closed_by[partner_pass])
    # Both cuts look at the whole window: a start cut first would hide from the second how far back it reaches.
    at_start, at_end = (_spans(start, end, edge_s) for edge_s in period_s)
    start, opens = _cut(start, opens, at_start, period_s[0])
    end, closes = _cut(end, closes, at_end, period_s[1])
    mine = (start >= period_s[0]) & (start < period_s[1]) & (end > start)
    return Windows(
        start[mine],
        end[mine],
        tuple(word for word, keep in zip(opens, mine, strict=True) if keep),
        tuple(word for word, keep in zip(closes, mine, strict=True) if keep),
    )


def _spans(start: FloatArray, end: FloatArray, edge_s: float) -> npt.NDArray[np.bool_]:
    """Windows that cross an edge of the period and reach more than a day (to 0.5 s) beyond it on either side."""
    across = (start < edge_s) & (end > edge_s)
    return across & (np.maximum(edge_s - start, end - edge_s) > DAY_S - 0.5)


def _cut(edges: FloatArray, words: list[str], cut: npt.NDArray[np.bool_], at_s: float) -> tuple[FloatArray, list[str]]:
    """Starts or ends with their rules, moved to the period's edge where they are cut."""
    return np.where(cut, at_s, edges), [CUT_BY_PERIOD if c else w for c, w in zip(cut, words, strict=True)]


def _words(
    is_home: npt.NDArray[np.bool_], home_rule: npt.NDArray[np.int64], partner_rule: npt.NDArray[np.int64]
) -> list[str]:
    """`home horizon`, `partner minimum elevation`, ...: the end and the rule."""
    rules = np.where(is_home, home_rule, partner_rule)
    return [
        CUT_BY_PERIOD if rule == PERIOD_EDGE else f"{'home' if home else 'partner'} {RULES[rule]}"
        for home, rule in zip(is_home, rules, strict=True)
    ]
