"""What the log teaches of each station: how much better or worse it sends and receives than its file says.

A small Bayesian model from reports and from attempts without any: the error of the way A to B is A's transmit side plus
B's receive side. Laplace's approximation (MacKay 2003, chapter 27) gives the corrections and their uncertainties.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.planning.corrections import SIDE_VARIANCE_DB2
from pipeline.review.likelihood import REPORT_SCATTER_DB, Attempts, log_course, log_likelihood, trust

FloatArray = npt.NDArray[np.float64]

# The chance takes 2 dB for each way and half of that variance in common. One station's two sides of half the variance
# each, alike by a half (its dish serves both), give just that for every pair.
SIDES_ALIKE = 0.5
# Reports that the usual scatter counts for when the log's own scatter is looked at.
SCATTER_COUNTS_FOR = 20.0
# Steps of the derivatives: the likelihood bends over a decibel.
STEP_DB = 0.01
MOST_STEPS = 60
CLOSE_DB = 1e-4
# Where attempts keep going otherwise than predicted a station may be far off, with level ground between: jumps, dB.
JUMPS_DB = (-7.5, -5.0, -2.5, 2.5, 5.0, 7.5)
SURPRISING = 0.25
SCATTER_ROUNDS = 8
CORNERS = np.array([[0, 1, -1, 0, 0, 1, -1, 1, -1], [0, 0, 0, 1, -1, 1, -1, -1, 1]], dtype=float)


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
    ways = _ways(attempts, stations)
    mean = np.zeros(2 * stations)
    mean = _jumped(attempts, ways, mean, known)
    for _ in range(SCATTER_ROUNDS):
        mean, precision = _summit(attempts, ways, prior_precision(stations), mean, known)
        covariance = np.asarray(np.linalg.inv(precision), dtype=np.float64)
        if scatter_db is not None:
            break
        before, known = known, _scatter(attempts, ways, mean, covariance, known)
        if abs(known - before) < 0.005:
            break
    return Learnt(mean, covariance, known)


def _ways(attempts: Attempts, stations: int) -> FloatArray:
    """Which sides each way takes: (2, n, 2 k), first to the partner (home sends), then to home."""
    rows = np.arange(attempts.partner.size)
    ways = np.zeros((2, rows.size, 2 * stations))
    ways[0, :, 0] = ways[1, :, 1] = 1.0
    ways[0, rows, 2 * attempts.partner + 1] = 1.0
    ways[1, rows, 2 * attempts.partner] = 1.0
    return ways


def _height(attempts: Attempts, ways: FloatArray, prior: FloatArray, mean: FloatArray, scatter_db: float) -> float:
    """Logarithm of the posterior, up to a constant."""
    errors = ways @ mean
    return float(np.sum(log_likelihood(attempts, errors[0], errors[1], scatter_db)) - 0.5 * mean @ prior @ mean)


def _jumped(attempts: Attempts, ways: FloatArray, start: FloatArray, scatter_db: float) -> FloatArray:
    """A start from which the right summit is climbed: the best of some jumps for partners whose attempts surprise.

    A failure at a good margin slopes nowhere, since it may have any reason; many of them have one. So do contacts
    against all odds. Jumps are those of the partner's sides, one or both, and with home's as well.
    """
    prior = prior_precision(start.size // 2)
    mean = _summit(attempts, ways, prior, start, scatter_db)[0]
    surprising = log_course(attempts, *(ways @ mean)) < np.log(SURPRISING)
    for partner in np.unique(attempts.partner[surprising]):
        side = np.zeros((4, start.size))
        side[[0, 1, 2, 3], [2 * partner, 2 * partner + 1, 0, 1]] = 1.0
        sends, hears, home_sends, home_hears = side
        directions = (sends, hears, sends + hears, home_sends + hears, sends + home_hears, side.sum(axis=0))
        jumps = [mean + jump * direction for jump in JUMPS_DB for direction in directions]
        mean = max([mean, *jumps], key=lambda one: _height(attempts, ways, prior, one, scatter_db))
    return mean


def _summit(
    attempts: Attempts, ways: FloatArray, prior: FloatArray, start: FloatArray, scatter_db: float
) -> tuple[FloatArray, FloatArray]:
    """Where the posterior is highest, and its curvature there, by Newton's steps, halved until they climb.

    Where the likelihood of an attempt is hollow (a report doubted, a failure for reasons unknown) its curvature counts
    as none, which keeps every step a climb.
    """

    def height(mean: FloatArray) -> float:
        return _height(attempts, ways, prior, mean, scatter_db)

    mean, here = start, height(start)
    for _ in range(MOST_STEPS):
        slope, bend = _slopes(attempts, ways @ mean, scatter_db)
        gradient = np.einsum("wnk,wn->k", ways, slope) - prior @ mean
        precision = prior + _curvature(ways, bend)
        step = np.linalg.solve(precision, gradient)
        while height(mean + step) < here and np.abs(step).max() > CLOSE_DB:
            step = step / 2.0
        if np.abs(step).max() <= CLOSE_DB:
            break
        mean = mean + step
        here = height(mean)
    return mean, prior + _curvature(ways, _slopes(attempts, ways @ mean, scatter_db)[1])


def _curvature(ways: FloatArray, bend: FloatArray) -> FloatArray:
    """Curvature along the sides, (2 k, 2 k), of that along the ways, (2, 2, n)."""
    return np.asarray(sum(ways[w].T @ (bend[w, v][:, None] * ways[v]) for w in (0, 1) for v in (0, 1)))


def _slopes(attempts: Attempts, errors: FloatArray, scatter_db: float) -> tuple[FloatArray, FloatArray]:
    """Slope (2, n) and curvature downward (2, 2, n) of each attempt's log-likelihood; hollow directions flattened."""

    # All nine corners in one go.
    there, here = errors[0] + STEP_DB * CORNERS[0][:, None], errors[1] + STEP_DB * CORNERS[1][:, None]
    centre, east, west, north, south, plus, minus, upper, lower = log_likelihood(attempts, there, here, scatter_db)
    slope = np.stack([east - west, north - south]) / (2.0 * STEP_DB)
    cross = (plus + minus - upper - lower) / (4.0 * STEP_DB**2)
    bend = -np.array(
        [[(east - 2 * centre + west) / STEP_DB**2, cross], [cross, (north - 2 * centre + south) / STEP_DB**2]]
    )
    values, vectors = np.linalg.eigh(np.moveaxis(bend, -1, 0))
    flat = np.einsum("nij,nj,nkj->nik", vectors, np.maximum(values, 0.0), vectors)
    return slope, np.moveaxis(flat, 0, -1)


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
