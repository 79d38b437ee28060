"""Whether the plan's promises held: predicted chances against completed contacts, residuals against their causes.

Intervals after Wilson 1927, scores after Brier 1950; trends by ordinary least squares.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import ndtri

FloatArray = npt.NDArray[np.float64]

LEVEL = 0.9
# Fifths of the chance: with a season's few dozen attempts finer steps would hold nothing.
STEPS = 5
# A trend is told where its slope stands so many standard errors from none, on so many reports at least.
TOLD_FROM = 2.5
FEWEST = 8


def wilson(completed: int, attempts: int, level: float = LEVEL) -> tuple[float, float]:
    """Interval of the true share behind `completed` of `attempts` (Wilson 1927); 0 to 1 without any attempt."""
    if attempts == 0:
        return 0.0, 1.0
    z, share = float(ndtri(0.5 + level / 2.0)), completed / attempts
    middle = (share + z * z / (2 * attempts)) / (1 + z * z / attempts)
    reach = z * math.sqrt(share * (1 - share) / attempts + (z / (2 * attempts)) ** 2) / (1 + z * z / attempts)
    return max(middle - reach, 0.0), min(middle + reach, 1.0)


@dataclass(frozen=True)
class Step:
    """Attempts of like predicted chance: how many, their mean chance, and the share that was completed."""

    low: float
    high: float
    attempts: int
    completed: int
    mean_chance: float
    interval: tuple[float, float]

    @property
    def share(self) -> float:
        """Completed of attempted."""
        return self.completed / self.attempts

    @property
    def holds(self) -> bool:
        """Whether the mean chance lies within the interval of the share."""
        return self.interval[0] <= self.mean_chance <= self.interval[1]


@dataclass(frozen=True)
class Honesty:
    """The diagram's steps (empty ones left out), the score, and that of always saying the log's own share."""

    attempts: int
    completed: int
    expected: float
    brier: float
    base_rate_brier: float
    steps: tuple[Step, ...]


def honesty_of(chance: npt.ArrayLike, completed: npt.ArrayLike, steps: int = STEPS) -> Honesty | None:
    """How predicted chances, (n,), fared; rows without a chance do not count. None where there is no row."""
    said, done = np.asarray(chance, dtype=float), np.asarray(completed, dtype=bool)
    known = np.isfinite(said)
    said, done = said[known], done[known]
    if not said.size:
        return None
    place = np.minimum((said * steps).astype(int), steps - 1)
    found = []
    for index in range(steps):
        mine = place == index
        count, good = int(mine.sum()), int(done[mine].sum())
        if count:
            found.append(
                Step(index / steps, (index + 1) / steps, count, good, float(said[mine].mean()), wilson(good, count))
            )
    base = float(done.mean())
    return Honesty(
        attempts=int(said.size),
        completed=int(done.sum()),
        expected=float(said.sum()),
        brier=brier(said, done),
        base_rate_brier=base * (1.0 - base),
        steps=tuple(found),
    )


def brier(chance: FloatArray, completed: npt.NDArray[np.bool_]) -> float:
    """Mean square of chance minus outcome (Brier 1950): 0 is perfect, 0.25 is what always saying a half gets."""
    return float(np.mean((chance - completed) ** 2))


@dataclass(frozen=True)
class Trend:
    """Residuals against one quantity: points, slope a unit and its standard error, NaN where there is no slope."""

    name: str
    x: FloatArray
    y: FloatArray
    slope: float
    error: float
    middle: tuple[float, float]

    @property
    def told(self) -> bool:
        """Whether the slope is more than chance would give."""
        return self.x.size >= FEWEST and self.error > 0.0 and abs(self.slope) > TOLD_FROM * self.error


def trend_of(name: str, x: npt.ArrayLike, y: npt.ArrayLike) -> Trend:
    """A straight line through the points that have both, by least squares."""
    across, up = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    both = np.isfinite(across) & np.isfinite(up)
    across, up = across[both], up[both]
    if across.size < 3 or np.ptp(across) == 0.0:
        return Trend(name, across, up, math.nan, math.nan, (math.nan, math.nan))
    centre, level = float(across.mean()), float(up.mean())
    spread = float(np.sum((across - centre) ** 2))
    slope = float(np.sum((across - centre) * (up - level)) / spread)
    left = up - level - slope * (across - centre)
    error = math.sqrt(float(left @ left) / (across.size - 2) / spread)
    return Trend(name, across, up, slope, error, (centre, level))


# What might bend predictions: columns of the comparison at the receiving end, words, and the unit of a told slope.
AGAINST = (
    ("elevation", ("partner_elevation_deg", "home_elevation_deg"), 10.0, "10° of the receiver's elevation"),
    ("declination", ("declination_deg", "declination_deg"), 10.0, "10° of declination"),
    ("Doppler spread, Hz", ("doppler_spread_hz", "doppler_spread_hz"), 50.0, "50 Hz of Doppler spread"),
    ("Sun separation", ("home_sun_separation_deg", "home_sun_separation_deg"), 30.0, "30° of Sun separation"),
)


def trends_of(rows: pd.DataFrame) -> tuple[Trend, ...]:
    """What the corrections leave of the reports, both ways together, against each quantity of `AGAINST`.

    Doubted reports are left out: a slip of the pen is no trend.
    """
    ends = ("partner", "home")
    left = np.concatenate(
        [np.where(rows[f"doubted_at_{end}"], np.nan, rows[f"left_at_{end}_db"].to_numpy(float)) for end in ends]
    )
    trends = []
    for name, columns, _, _ in AGAINST:
        if all(column in rows.columns for column in columns):
            across = np.concatenate([rows[column].to_numpy(float) for column in columns])
            trends.append(trend_of(name, across, left))
    return tuple(trends)
