"""What the log teaches of each station: how much better or worse it sends and receives than its file says.

A small Bayesian model from reports and from attempts without any: the error of the way A to B is A's transmit side plus
B's receive side. Given home's two sides the partners know nothing of each other, so that means and covariance come from
sums over grids, by the trapezoid rule, without any approximation of the posterior's shape.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import fft

from pipeline.pairs.corrections import SIDE_VARIANCE_DB2
from pipeline.review.likelihood import REPORT_SCATTER_DB, Attempts, log_counts, log_course, log_reports, trust

FloatArray = npt.NDArray[np.float64]

# The chance takes 2 dB for each way and half of that variance in common. One station's two sides of half the variance
# each, alike by a half (its dish serves both), give just that for every pair.
SIDES_ALIKE = 0.5
# Reports that the usual scatter counts for when the log's own scatter is looked at.
SCATTER_COUNTS_FOR = 20.0
SCATTER_ROUNDS = 8
# Sides are looked for up to 8.5 standard deviations of what is believed before.
WIDEST_DB = 12.0
# Steps of the grids: the trapezoid rule errs by 2 exp(-2 (pi s / h)^2) for a bell of width s, and so many reports of
# 2 dB leave one of 0.8 steps at least.
FINE_DB, COARSE_DB, COARSE_UP_TO = 0.25, 0.5, 10
# So many attempts with one partner are as many as count: what they leave of the error is no error of the station.
MOST_COUNTED = 60.0


@dataclass(frozen=True)
class Learnt:
    """Sides of home (index 0) and its partners: means and covariance, order transmit 0, receive 0, transmit 1, ...

    `mean_db` is (2 k,), `covariance_db2` (2 k, 2 k); `scatter_db` is that of single reports about the model.
    """

    mean_db: FloatArray
    covariance_db2: FloatArray
    scatter_db: float

    def side(self, station: int, receive: bool) -> tuple[float, float]:
        """Correction of one side and its standard deviation, dB."""
        at = 2 * station + int(receive)
        return float(self.mean_db[at]), float(np.sqrt(self.covariance_db2[at, at]))

    def way(self, sender: int, receiver: int) -> tuple[float, float]:
        """Correction of one way and its standard deviation with all that is known of both sides together, dB."""
        at = [2 * sender, 2 * receiver + 1]
        return float(self.mean_db[at].sum()), float(np.sqrt(self.covariance_db2[np.ix_(at, at)].sum()))


def prior_precision(stations: int) -> FloatArray:
    """Inverse of what is believed before any log: zero, each side 1.4 dB, a station's two sides alike by a half."""
    one = SIDE_VARIANCE_DB2 * np.array([[1.0, SIDES_ALIKE], [SIDES_ALIKE, 1.0]])
    return np.kron(np.eye(stations), np.linalg.inv(one))


def learn(attempts: Attempts, stations: int, scatter_db: float | None = None) -> Learnt:
    """What the attempts teach of home and `stations` - 1 partners.

    Without `scatter_db` the reports' own scatter is weighed against the usual one; wild reports lose their weight.
    """
    known = scatter_db if scatter_db is not None else REPORT_SCATTER_DB
    counts = np.bincount(attempts.partner, minlength=stations)[1:]
    grid = _Grid.of(FINE_DB if counts.max(initial=0) > COARSE_UP_TO else COARSE_DB)
    courses = [
        sum((log_course(attempts, row, grid.ways) for row in _rows(attempts, partner)), np.zeros(grid.square))
        for partner in range(1, stations)
    ]
    share = np.minimum(1.0, MOST_COUNTED / np.maximum(counts, 1.0))
    ways, counts_told = _ways(attempts, stations), log_counts(attempts, grid.ways)
    for _ in range(SCATTER_ROUNDS):
        reports = log_reports(attempts, grid.ways, known) + counts_told
        told = []
        for partner, course in enumerate(courses, start=1):
            there, here = reports[:, _rows(attempts, partner)].sum(axis=1)
            told.append(share[partner - 1] * (course + there[:, None] + here))
        mean, covariance = _posterior(grid, told)
        if scatter_db is not None:
            break
        before, known = known, _scatter(attempts, ways, mean, covariance, known)
        if abs(known - before) < 0.005:
            break
    return Learnt(mean, covariance, known)


@dataclass(frozen=True)
class _Grid:
    """Values of a side, (m,), and of a way, (2 m - 1,), the sums of two sides; transforms of what is believed before.

    `before` is (m, m) over the transmit and the receive side of one station. `kernels` are the transforms of it, and of
    it times the partner's transmit and receive side and their products, laid out as a partner's sides meet home's: the
    receive side along the first axis.
    """

    sides: FloatArray
    ways: FloatArray
    before: FloatArray
    size: int
    kernels: npt.NDArray[np.complex128]

    @property
    def square(self) -> tuple[int, int]:
        return self.ways.size, self.ways.size

    @classmethod
    def of(cls, step_db: float) -> _Grid:
        """Grids of this step."""
        half = round(WIDEST_DB / step_db)
        sides = step_db * np.arange(-half, half + 1, dtype=np.float64)
        ways = step_db * np.arange(-2 * half, 2 * half + 1, dtype=np.float64)
        sends, hears = sides[:, None], sides
        one = prior_precision(1)
        before = np.exp(-0.5 * (one[0, 0] * sends**2 + 2.0 * one[0, 1] * sends * hears + one[1, 1] * hears**2))
        before /= before.sum()
        weighed = [before * factor for factor in (1.0, sends, hears, sends**2, sends * hears, hears**2)]
        size = fft.next_fast_len(ways.size, real=True)
        kernels = np.conj(fft.rfft2(np.stack([one.T for one in weighed]), (size, size)))
        return cls(sides, ways, before, size, kernels)

    def over_home(self, likely: FloatArray) -> FloatArray:
        """Sums over a partner's sides, (6, m, m) over home's: its likelihood, and with its sides and their products."""
        count = self.sides.size
        sums = fft.irfft2(fft.rfft2(likely, (self.size, self.size)) * self.kernels, (self.size, self.size))
        return np.asarray(sums[:, :count, :count])


def _posterior(grid: _Grid, told: list[FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Means and covariance of all sides, from each partner's log-likelihood over the two ways.

    Partners' moments at each value of home's sides, then those weighed over home's (law of total covariance).
    """
    weight = np.log(grid.before)
    values = [np.broadcast_to(grid.sides[:, None], grid.before.shape), np.broadcast_to(grid.sides, grid.before.shape)]
    seconds = []
    for one in told:
        sums = grid.over_home(np.exp(one - one.max()))
        # What lies below the rounding of the transforms counts for nothing.
        least = 1e-13 * sums[0].max()
        whole = np.maximum(sums[0], least)
        weight = weight + np.log(whole)
        sends, hears, *squares = np.where(sums[0] > least, sums[1:] / whole, 0.0)
        values += [sends, hears]
        seconds.append((squares[0] - sends**2, squares[1] - sends * hears, squares[2] - hears**2))
    share = np.exp(weight - weight.max())
    share = (share / share.sum()).ravel()
    by_home = np.stack(values).reshape(len(values), -1)
    mean = by_home @ share
    off = by_home - mean[:, None]
    covariance = (off * share) @ off.T
    for partner, (sends2, both, hears2) in enumerate(seconds, start=1):
        at = slice(2 * partner, 2 * partner + 2)
        inner = [float(one.ravel() @ share) for one in (sends2, both, hears2)]
        covariance[at, at] += np.array([[inner[0], inner[1]], [inner[1], inner[2]]])
    return mean, covariance


def _rows(attempts: Attempts, partner: int) -> npt.NDArray[np.int64]:
    return np.flatnonzero(attempts.partner == partner)


def _ways(attempts: Attempts, stations: int) -> FloatArray:
    """Which sides each way takes: (2, n, 2 k), first to the partner (home sends), then to home."""
    rows = np.arange(attempts.partner.size)
    ways = np.zeros((2, rows.size, 2 * stations))
    ways[0, :, 0] = ways[1, :, 1] = 1.0
    ways[0, rows, 2 * attempts.partner + 1] = 1.0
    ways[1, rows, 2 * attempts.partner] = 1.0
    return ways


def _scatter(
    attempts: Attempts, ways: FloatArray, mean: FloatArray, covariance: FloatArray, scatter_db: float
) -> float:
    """The scatter of reports that are not wild, with the usual scatter as so many reports more."""
    total, count = SCATTER_COUNTS_FOR * REPORT_SCATTER_DB**2, SCATTER_COUNTS_FOR
    residuals = (attempts.residual_at_partner_db, attempts.residual_at_home_db)
    margins = (attempts.margin_at_partner_db, attempts.margin_at_home_db)
    doubts = (attempts.doubt_at_partner_db, attempts.doubt_at_home_db)
    for way, residual, margin, doubt in zip(ways, residuals, margins, doubts, strict=True):
        # Reports whose minute is in doubt say nothing of the scatter.
        given = np.isfinite(residual) & (doubt < REPORT_SCATTER_DB / 2.0)
        rows, error = way[given], way[given] @ mean
        left = residual[given] - error
        weight = trust(residual[given], margin[given], error, scatter_db)
        total += float(weight @ (left**2 + np.einsum("nk,kl,nl->n", rows, covariance, rows)))
        count += float(weight.sum())
    return float(np.sqrt(total / count))
