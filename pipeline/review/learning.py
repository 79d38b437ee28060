"""What the log teaches of each station: how much better or worse it sends and receives than its file says.

A small Bayesian model from reports and from attempts without any: the error of the way A to B is A's transmit side plus
B's receive side, plus what is amiss with either station on that evening. How much evenings differ, how reports scatter
and how often the other end is there are learnt along with it. The posterior's moments are those of `evenings`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.special import betaln, logsumexp

from pipeline.pairs.corrections import SIDE_VARIANCE_DB2
from pipeline.review.evenings import WIDTHS_DB, Belief, Sites, Told, believe, sites_of, width_shares
from pipeline.review.likelihood import (
    REPORT_SCATTER_DB,
    USUAL_PRESENCE,
    Attempts,
    Course,
    course_of,
    log_reports,
    trust,
)

FloatArray = npt.NDArray[np.float64]

# The chance takes 2 dB for each way and half of that variance in common. One station's two sides of half the variance
# each, alike by a half (its dish serves both), give just that for every pair.
SIDES_ALIKE = 0.5
# Reports that the usual scatter counts for when the log's own scatter is looked at.
SCATTER_COUNTS_FOR = 20.0
ROUNDS = 6
# Ways are looked for up to seven standard deviations of what is believed before.
WIDEST_DB = 14.0
# Steps of the grids: the trapezoid rule errs by 2 exp(-2 (pi s / h)^2) for a bell of width s, and so many reports of
# 2 dB leave one of 0.8 steps at least.
FINE_DB, COARSE_DB, COARSE_UP_TO = 0.25, 0.5, 24
# So many attempts with one partner are as many as count: what they leave of the error is no error of the station.
MOST_COUNTED = 60.0
# The share believed before counts for so many slots: a season's log of thirty outweighs it, three slots do not. How
# many slots what all have shown counts for with each partner, the log tells: few where partners differ much. These are
# weighed against each other, all believed alike before (judgement).
ALL_COUNTS_FOR, STATION_COUNTS_FOR = 20.0, np.array([5.0, 15.0, 50.0, 150.0])


@dataclass(frozen=True)
class Learnt:
    """Sides of home (index 0) and its partners: means and covariance, order transmit 0, receive 0, transmit 1, ...

    `mean_db` is (2 k,), `covariance_db2` (2 k, 2 k); `scatter_db` is that of single reports about the model,
    `evening_db` the standard deviation of one station from evening to evening. `presence` (k,) are the shares of slots
    in which nothing gross was amiss, over all (index 0) and with each partner; `slots` (k,) those behind them.
    """

    mean_db: FloatArray
    covariance_db2: FloatArray
    scatter_db: float
    evening_db: float
    presence: FloatArray
    slots: FloatArray

    def side(self, station: int, receive: bool) -> tuple[float, float]:
        """Correction of one side and its standard deviation, dB."""
        at = 2 * station + int(receive)
        return float(self.mean_db[at]), float(np.sqrt(self.covariance_db2[at, at]))

    def way(self, sender: int, receiver: int) -> tuple[float, float]:
        """Correction of one way and its standard deviation with all that is known of both sides together, dB."""
        at = [2 * sender, 2 * receiver + 1]
        return float(self.mean_db[at].sum()), float(np.sqrt(self.covariance_db2[np.ix_(at, at)].sum()))


@dataclass(frozen=True)
class Before:
    """What is believed before the log: shares of presence over all (index 0) and of each partner, (k,) or one for all.

    A scatter or a width of evenings that is given is taken as known, and so is presence where `presence_known`.
    """

    presence: FloatArray | float = USUAL_PRESENCE
    presence_known: bool = False
    scatter_db: float | None = None
    evening_db: float | None = None


def prior_precision(stations: int) -> FloatArray:
    """Inverse of what is believed before any log: zero, each side 1.4 dB, a station's two sides alike by a half."""
    one = SIDE_VARIANCE_DB2 * np.array([[1.0, SIDES_ALIKE], [SIDES_ALIKE, 1.0]])
    return np.kron(np.eye(stations), np.linalg.inv(one))


@dataclass(frozen=True)
class _Assumed:
    """What the sides are learnt with in one round."""

    scatter_db: float
    presence: FloatArray


def learn(attempts: Attempts, stations: int, before: Before | None = None) -> Learnt:
    """What the attempts teach of home and `stations` - 1 partners.

    Scatter and presence are those that fit what is learnt (expectation and maximisation in turn); the widths of
    evenings are weighed against each other; wild reports and bad evenings lose their weight.
    """
    first = before or Before()
    prior = np.broadcast_to(np.asarray(first.presence, dtype=float), (stations,))
    counts = np.bincount(attempts.partner, minlength=stations)
    step = FINE_DB if counts.max(initial=0) > COARSE_UP_TO else COARSE_DB
    half = round(WIDEST_DB / step)
    ways = step * np.arange(-half, half + 1, dtype=np.float64)
    sites = sites_of(attempts.partner, attempts.evening, stations, first.evening_db == 0.0)
    course = course_of(attempts, ways)
    share = np.minimum(1.0, MOST_COUNTED / np.maximum(counts, 1.0))[attempts.partner]
    widths = WIDTHS_DB if first.evening_db is None else (first.evening_db,)
    known = _Assumed(first.scatter_db or REPORT_SCATTER_DB, prior.copy())
    beliefs: list[Belief | None] = [None] * len(widths)
    for _ in range(ROUNDS):
        told = _told(attempts, sites, course, share, ways, known)
        beliefs = [
            believe(prior_precision(stations), sites, told, width, start)
            for width, start in zip(widths, beliefs, strict=True)
        ]
        made = [one for one in beliefs if one is not None]
        shares = width_shares(widths, made)
        where = sum((part * one.where for part, one in zip(shares, made, strict=True)), np.zeros(()))[sites.of_row]
        found = known
        if first.scatter_db is None:
            found = replace(found, scatter_db=_scatter(attempts, ways, where, known.scatter_db))
        presence, slots = _presence(attempts, course, where, known.presence, prior)
        if not first.presence_known:
            found = replace(found, presence=presence)
        settled = abs(found.scatter_db - known.scatter_db) < 0.02
        settled &= bool(np.abs(found.presence - known.presence).max(initial=0.0) < 0.01)
        known = found
        if settled:
            break
    size = 2 * stations
    means = np.stack([one.mean[:size] for one in made])
    mean = shares @ means
    off = means - mean
    covariance = np.einsum("w,wij->ij", shares, np.stack([one.covariance[:size, :size] for one in made]))
    covariance = covariance + np.einsum("w,wi,wj->ij", shares, off, off)
    evening = float(np.sqrt(shares @ np.square(widths)))
    return Learnt(mean, covariance, known.scatter_db, evening, known.presence, slots)


def _told(
    attempts: Attempts, sites: Sites, course: Course, share: FloatArray, ways: FloatArray, known: _Assumed
) -> Told:
    """What each evening with each partner says of its two ways."""
    each = course.log(known.presence[attempts.partner])
    there, here = log_reports(attempts, ways, known.scatter_db)
    each = share[:, None, None] * (each + there[:, :, None] + here[:, None, :])
    total = np.zeros((sites.partner.size, ways.size, ways.size))
    np.add.at(total, sites.of_row, each)
    return Told.of(ways, total)


def _presence(
    attempts: Attempts, course: Course, where: FloatArray, now: FloatArray, prior: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Shares of slots with nothing amiss, (k,), and how many slots are behind them: of what was tried, how much went
    well, given `where` each attempt's ways lie, (n, m, m), and the shares `now`.
    """
    there, untried = now[attempts.partner][:, None, None], course.untried[:, None, None]
    well, amiss = there * course.well, (1.0 - there) * course.amiss
    whole = np.maximum(untried + (1.0 - untried) * (well + amiss), 1e-300)
    good, bad = (np.sum(where * (1.0 - untried) * part / whole, axis=(1, 2)) for part in (well, amiss))
    good, tried = np.where(course.counts, good, 0.0), np.where(course.counts, good + bad, 0.0)
    goods, slots = (
        np.bincount(attempts.partner, weights=one, minlength=prior.size).astype(np.float64) for one in (good, tried)
    )
    found = np.empty(prior.size)
    found[0] = (ALL_COUNTS_FOR * prior[0] + goods.sum()) / (ALL_COUNTS_FOR + slots.sum())
    # A station's own figure moves with what all have shown together.
    found[1:] = _each_share(prior[1:] + found[0] - prior[0], goods[1:], slots[1:])
    slots[0] = slots.sum()
    return found, np.asarray(slots, dtype=float)


def _each_share(usual: FloatArray, goods: FloatArray, slots: FloatArray) -> FloatArray:
    """Each partner's share, (k - 1,), from what is `usual`, how many of its `slots` went well and how much they differ.

    Beta laws about the usual share; what the counts say of their width is the beta-binomial's evidence.
    """
    held, usual = STATION_COUNTS_FOR[:, None], np.clip(usual, 0.01, 0.99)
    well, amiss = held * usual, held * (1.0 - usual)
    evidence = np.sum(betaln(well + goods, amiss + slots - goods) - betaln(well, amiss), axis=1)
    weight = np.exp(evidence - logsumexp(evidence))
    return np.asarray(weight @ ((well + goods) / (held + slots)))


def _scatter(attempts: Attempts, ways: FloatArray, where: FloatArray, scatter_db: float) -> float:
    """The scatter of reports that are not wild, with the usual scatter as so many reports more.

    A report of a guessed decode counts for as much as in the likelihood.
    """
    total, count = SCATTER_COUNTS_FOR * REPORT_SCATTER_DB**2, SCATTER_COUNTS_FOR
    to_partner, to_home = attempts.counted.weight
    for axis, counts, residual, margin, doubt in (
        (2, to_partner, attempts.residual_at_partner_db, attempts.margin_at_partner_db, attempts.doubt_at_partner_db),
        (1, to_home, attempts.residual_at_home_db, attempts.margin_at_home_db, attempts.doubt_at_home_db),
    ):
        # Reports whose minute is in doubt say nothing of the scatter.
        given = np.isfinite(residual) & (doubt < REPORT_SCATTER_DB / 2.0)
        left = residual[given][:, None] - ways
        sound = trust(residual[given][:, None], margin[given][:, None], ways, scatter_db)
        weight = counts[given][:, None] * where[given].sum(axis=axis) * sound
        total += float(np.sum(weight * left**2))
        count += float(weight.sum())
    return float(np.sqrt(total / count))
