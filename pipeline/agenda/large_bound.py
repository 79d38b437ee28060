"""A bound on what any choice of slots of a large season is worth, from prices of the demands.

Lagrangian relaxation: each demand pays one price for being served, each item is worth what its columns bring beyond
that, and each night takes its best sequence. Any prices give a valid bound; a fixed number of subgradient steps lowers
it (Polyak 1969, USSR Computational Mathematics and Mathematical Physics 9, 14, from memory).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from pipeline.agenda.large_ground import Ground, whole
from pipeline.agenda.milp_model import NEVER, QUANTUM

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# Steps, those without a gain before they are halved, sequences of each night that are looked at (judged by gaps left).
STEPS, PATIENCE, SEQUENCES = 120, 8, 40
# Prices to begin with, as shares of what a demand is worth at most.
SHARES = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
# A bound so near is as good as none can be: the gap is told as nought.
ENOUGH = QUANTUM / 2.0


class Prices:
    """What prices of demands make of the items of a ground."""

    def __init__(self, ground: Ground) -> None:
        self.ground, self.problem = ground, ground.problem
        demands = self.problem.demands
        self.most = np.array([1 if one.pair_worth is not None else max(one.most, 0) for one in demands], dtype=float)
        # The best that an item and another of its demand are worth together.
        self.paired = np.full(ground.slot.size, NEVER)
        for part, demand in zip(ground.of, demands, strict=True):
            if demand.pair_worth is not None and part.stop > part.start:
                self.paired[part] = whole(demand.pair_worth.max(axis=1)[ground.place[part]])
        self.top = np.zeros(self.most.size)
        np.maximum.at(self.top, ground.owner, np.maximum(ground.worth, self.paired))
        self.same_night = {night: self._same_night(night) for night in ground.strips}

    def _same_night(self, night: int) -> dict[int, FloatArray]:
        """Of each demand what every two of its slots of a night are worth together, where any may go together."""
        found, strip = {}, self.ground.strips[night]
        for demand, part in strip.parts.items():
            pairs = self.problem.demands[demand].pair_worth
            if pairs is None:
                if self.problem.demands[demand].most > 1:
                    found[demand] = np.zeros((0, 0))
                continue
            places = self.ground.place[strip.items[part]]
            here = pairs[np.ix_(places, places)]
            if np.isfinite(here).any():
                found[demand] = whole(here)
        return found

    def of_items(self, demand_price: FloatArray) -> tuple[FloatArray, FloatArray]:
        """What each item earns its night (m,), and how much less that is for each unit of its demand's price (m,)."""
        price = demand_price[self.ground.owner]
        alone, half = self.ground.worth - price, (self.paired - price) / 2.0
        value = np.maximum(np.maximum(alone, half), 0.0)
        return value, np.where(value <= 0.0, 0.0, np.where(alone >= half, 1.0, 0.5))

    def bound(self, demand_price: FloatArray, sequences: int) -> tuple[float, FloatArray]:
        """The bound at these prices (demands,), contacts, and its slope (demands,), a number.

        Of each night so many sequences are looked at.
        """
        value, slope = self.of_items(demand_price)
        worth, rows = {}, {}
        for night, strip in self.ground.strips.items():
            gain = value[strip.items]
            twice = self._twice(night, gain, demand_price) if sequences > 1 else {}
            bound, found = strip.best(gain, twice, sequences) if sequences > 1 else strip.chain(gain)
            worth[night], rows[night] = bound - strip.cost, strip.items[found]
        used = [night for night in worth if self.problem.open_nights[night] and worth[night] > 0.0]
        others = [night for night in worth if not self.problem.open_nights[night] and worth[night] > 0.0]
        used += sorted(others, key=lambda night: -worth[night])[: self.problem.most_nights]
        total = float(self.most @ demand_price) + sum(worth[night] for night in used)
        taken = np.concatenate([np.zeros(0, dtype=np.int64), *(rows[night] for night in used)])
        less = np.bincount(self.ground.owner[taken], slope[taken], minlength=self.most.size)
        return total, self.most - less

    def _twice(self, night: int, gain: FloatArray, demand_price: FloatArray) -> dict[int, float]:
        strip, found = self.ground.strips[night], {}
        for demand, pairs in self.same_night[night].items():
            if not pairs.size:
                found[demand] = 0.0
                continue
            mine = gain[strip.parts[demand]]
            over = mine[:, None] + mine[None] + demand_price[demand] - pairs
            found[demand] = max(0.0, float(over.min()))
        return found


def least_bound(ground: Ground, known: float) -> float:
    """The least bound met, contacts; `known` is what some set is worth."""
    if not ground.slot.size:
        return 0.0
    prices = Prices(ground)
    best, at = np.inf, np.zeros(prices.most.size)
    for share in SHARES:
        start = share * prices.top
        value, _ = prices.bound(start, 1)
        best, at = (value, start) if value < best else (best, at)
    now, pace, idle = at, 1.0, 0
    for _ in range(STEPS):
        value, slope = prices.bound(now, SEQUENCES)
        idle = 0 if value < best else idle + 1
        best, at = (value, now) if value < best else (best, at)
        if best - known < ENOUGH:
            break
        if idle == PATIENCE:
            now, pace, idle = at, pace / 2.0, 0
            value, slope = prices.bound(now, SEQUENCES)
        length = float(slope @ slope)
        if not length:
            break
        now = np.maximum(now - pace * max(value - known, 0.0) / length * slope, 0.0)
    return best
