"""Mutual windows: when the Moon clears home's rules and a partner's; each whole, and what opens and closes it.

From the passes of both stations. Every window lies in one night: home's passes are parted at the Moon's lowest points
(`moon_passes.split_at`), which only a Moon that does not set there passes in sight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.windows.moon_passes import LOWEST_POINT, MoonPasses, overlaps
from pipeline.windows.rules import RULES

FloatArray = npt.NDArray[np.float64]

CUT_AT_LOWEST = "lowest point"
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

    def take(self, rows: npt.NDArray[np.int64]) -> Windows:
        """Some of them, by row (k,)."""
        opens, closes = (tuple(words[row] for row in rows) for words in (self.opens_by, self.closes_by))
        return Windows(self.start_s[rows], self.end_s[rows], opens, closes)


def in_order(parts: Sequence[Windows]) -> Windows:
    """Windows of one pair from several lists as one, in order of time."""
    start = np.concatenate([one.start_s for one in parts])
    end = np.concatenate([one.end_s for one in parts])
    opens = tuple(word for one in parts for word in one.opens_by)
    closes = tuple(word for one in parts for word in one.closes_by)
    return Windows(start, end, opens, closes).take(np.argsort(start, kind="stable"))


def mutual_windows(home: MoonPasses, partner: MoonPasses, nights_s: tuple[float, float]) -> Windows:
    """Windows of a pair from the begin of the first night to the end of the last, s; home's passes are parted there."""
    shared = overlaps(home, [partner])
    home_pass, partner_pass, start, end = shared.first_pass, shared.other_pass, shared.start_s, shared.end_s
    opened_by_home = home.start_s[home_pass] >= partner.start_s[partner_pass]
    closed_by_home = home.end_s[home_pass] <= partner.end_s[partner_pass]
    opens = _words(opened_by_home, home.opened_by[home_pass], partner.opened_by[partner_pass])
    closes = _words(closed_by_home, home.closed_by[home_pass], partner.closed_by[partner_pass])
    mine = (start >= nights_s[0]) & (end <= nights_s[1]) & (end > start)
    return Windows(
        start[mine],
        end[mine],
        tuple(word for word, keep in zip(opens, mine, strict=True) if keep),
        tuple(word for word, keep in zip(closes, mine, strict=True) if keep),
    )


def _words(
    is_home: npt.NDArray[np.bool_], home_rule: npt.NDArray[np.int64], partner_rule: npt.NDArray[np.int64]
) -> list[str]:
    """`home horizon`, `partner minimum elevation`, ..., `lowest point`: the end and the rule."""
    rules = np.where(is_home, home_rule, partner_rule)
    return [
        CUT_AT_LOWEST if rule == LOWEST_POINT else f"{'home' if home else 'partner'} {RULES[rule]}"
        for home, rule in zip(is_home, rules, strict=True)
    ]
