"""What periods tried and heard say of a way: how likely so many of them decode, by the fading that the chance takes.

A period decodes where the level, 1.5 dB of fading about its hour's mean, passes the threshold; periods are independent
(the story of `link.chance`), so that their number is binomial. Decodes that were guessed with help count for less.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import gammaln, log_ndtr

from pipeline.link.chance import FADING_SPREAD_DB

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

# A program that knows what to expect reads weaker signals, and at times none: such a row counts for a third of one
# without help (judgement).
GUESSED_COUNTS_FOR = 1.0 / 3.0
# Where a prediction itself may be off, the likelihood is averaged over that: seven nodes of a normal.
NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(7)


@dataclass(frozen=True)
class Periods:
    """Periods tried and heard, and whether decodes were guessed: (2, n), the way to the partner first.

    NaN where the log does not tell.
    """

    tried: FloatArray
    heard: FloatArray
    guessed: BoolArray

    @property
    def told(self) -> BoolArray:
        """Whether a way's periods are told, (2, n)."""
        return np.isfinite(self.tried) & np.isfinite(self.heard) & (self.tried > 0)

    @property
    def weight(self) -> FloatArray:
        """What a row of a way counts for, (2, n)."""
        return np.where(self.guessed, GUESSED_COUNTS_FOR, 1.0)

    @property
    def anything(self) -> BoolArray:
        """Whether a period was heard either way, (n,)."""
        return np.asarray(np.nan_to_num(self.heard).max(axis=0) > 0.0)

    def take(self, rows: npt.NDArray[np.int64] | BoolArray) -> Periods:
        """The same at some of the attempts, by index or mask (m,)."""
        return Periods(self.tried[:, rows], self.heard[:, rows], self.guessed[:, rows])


def none_told(count: int) -> Periods:
    """Of so many attempts of which nothing is told."""
    nothing = np.full((2, count), np.nan)
    return Periods(nothing, nothing, np.zeros((2, count), dtype=bool))


def log_periods(periods: Periods, margin_db: FloatArray, doubt_db: FloatArray, errors_db: FloatArray) -> FloatArray:
    """Natural logarithm of what the counts say, (2, n, m), of each way at each of `errors_db` (m,); 0 where none do.

    `margin_db` and `doubt_db` are (2, n). The other end is taken to be there.
    """
    found = np.zeros((*margin_db.shape, errors_db.size))
    use = periods.told & np.isfinite(margin_db)
    for way, row in zip(*np.nonzero(use), strict=True):
        level = margin_db[way, row] + errors_db + doubt_db[way, row] * NODES[:, None]
        tried, heard = float(periods.tried[way, row]), float(periods.heard[way, row])
        likely = WEIGHTS @ np.exp(log_count(level, tried, heard)) / WEIGHTS.sum()
        found[way, row] = np.log(np.maximum(likely, 1e-290))
    return found * periods.weight[:, :, None]


def log_count(level_db: FloatArray, tried: float, heard: float) -> FloatArray:
    """Logarithm of the probability that so many periods of `tried` decode at levels over the threshold, any shape."""
    above = level_db / FADING_SPREAD_DB
    ways = gammaln(tried + 1.0) - gammaln(heard + 1.0) - gammaln(tried - heard + 1.0)
    return np.asarray(ways + heard * log_ndtr(above) + (tried - heard) * log_ndtr(-above))
