"""How likely an attempt came out as the log says, if each way were better by so many decibels than predicted.

The story of `link.chance` told backwards: periods decode above a threshold, and only what decodes is reported.
Reports may be wild (a mixture of two normals), failures may have reasons that no link budget knows; how many have, the
log tells (`presence`). A slot of which the log is silent may have failed, or never been tried.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.interpolate import RectBivariateSpline
from scipy.special import betainc, gammaln, log_ndtr, logsumexp, ndtr

from pipeline.link.chance import FADING_SPREAD_DB
from pipeline.review.periods import Periods, log_periods, none_told

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

# One report about the mean of its hour: 1.5 dB of fading, the rest the figure itself (common practice, no source).
REPORT_SCATTER_DB = 2.0
LEAST_READING_DB = 0.5
# Slips of the pen, reports from another band or night: about one in twenty, anywhere within some 15 dB (judgement).
WILD_SHARE = 0.05
WILD_SCATTER_DB = 15.0
# Agreed slots in which the other end is there and nothing gross is wrong, where nobody says otherwise (judgement): the
# others fail although the signals would do. Nobody there, wrong frequency, a cable.
USUAL_PRESENCE = 0.85
# Of slots without a line in a log so many are taken never to have been tried, until somebody says so (judgement).
UNTRIED_SHARE = 0.05
# Contacts that came about otherwise than the log says: another mode, another night, a far better evening (judgement).
NOT_SO = 0.01
TINY = 1e-290
# Beyond these levels a contact is as good as impossible or certain.
TABLE_DB = (-12.0, 8.0)
TABLE_STEP_DB = 0.25


@dataclass(frozen=True)
class Attempts:
    """What the log says of n attempts on one band, against predictions without any correction; all arrays (n,).

    `partner` counts from 1 (home is 0). Residuals are reported minus predicted, dB, NaN where no figure was given;
    margins NaN where there is no prediction of them. `heard` says whether home heard the partner: 1, 0 or NaN.
    `doubt_at_..._db` is how far a prediction may be off because a log's times are minutes off; it widens the scatter.
    `tries` are periods that each end can decode, `needed` those that it has to for a contact. Attempts of one `evening`
    (any numbers) share what was amiss in it. `silent` are agreed slots of which the log says nothing, `absent` those in
    which nobody was there. `chosen` are contacts of a log that tells contacts only: that they came about says nothing.
    `periods` is what the log tells of those that were tried and heard.
    """

    partner: IntArray
    residual_at_partner_db: FloatArray
    residual_at_home_db: FloatArray
    margin_at_partner_db: FloatArray
    margin_at_home_db: FloatArray
    completed: BoolArray
    heard: FloatArray
    doubt_at_partner_db: FloatArray
    doubt_at_home_db: FloatArray
    tries: IntArray
    needed: IntArray
    evening: IntArray
    silent: BoolArray
    absent: BoolArray
    chosen: BoolArray
    periods: Periods | None = None

    @property
    def counted(self) -> Periods:
        """Periods tried and heard, nothing where the log tells none."""
        return self.periods or none_told(self.partner.size)


@dataclass(frozen=True)
class Course:
    """How likely attempts came out as they did at each pair of ways, (n, m, m): with all well, and otherwise.

    With presence p and u of `untried`, (n,): u + (1 - u) (p `well` + (1 - p) `amiss`). `counts` are those that say
    anything of presence, (n,).
    """

    well: FloatArray
    amiss: FloatArray
    untried: FloatArray
    counts: BoolArray

    def log(self, presence: FloatArray) -> FloatArray:
        """Natural logarithm at each attempt's presence, (n,)."""
        there, untried = presence[:, None, None], self.untried[:, None, None]
        tried = there * self.well + (1.0 - there) * self.amiss
        return np.asarray(np.log(np.maximum(untried + (1.0 - untried) * tried, TINY)))


def log_reports(attempts: Attempts, errors_db: FloatArray, scatter_db: float) -> FloatArray:
    """Natural logarithm of what the figures say, (2, n, m): of the way to the partner and of that to home, at each of
    `errors_db` (m,).
    """
    ways = (
        (attempts.residual_at_partner_db, attempts.margin_at_partner_db, attempts.doubt_at_partner_db),
        (attempts.residual_at_home_db, attempts.margin_at_home_db, attempts.doubt_at_home_db),
    )
    found = np.stack(
        [
            _report(residual[:, None], margin[:, None], errors_db, np.hypot(scatter_db, doubt)[:, None])
            for residual, margin, doubt in ways
        ]
    )
    return found * attempts.counted.weight[:, :, None]


def log_counts(attempts: Attempts, errors_db: FloatArray) -> FloatArray:
    """The same of periods tried and heard by those who were there, (2, n, m)."""
    margins = np.stack([attempts.margin_at_partner_db, attempts.margin_at_home_db])
    doubts = np.stack([attempts.doubt_at_partner_db, attempts.doubt_at_home_db])
    return log_periods(attempts.counted, margins, doubts, errors_db)


def trust(
    residual_db: FloatArray, margin_db: FloatArray, error_db: FloatArray, scatter_db: npt.ArrayLike
) -> FloatArray:
    """Probability that a report this far off is no wild one."""
    good = np.log1p(-WILD_SHARE) + _log_report(residual_db, margin_db, error_db, scatter_db)
    wild = np.log(WILD_SHARE) + _log_normal(residual_db - error_db, WILD_SCATTER_DB)
    return np.asarray(np.exp(good - np.logaddexp(good, wild)))


def _log_normal(left_db: FloatArray, scatter_db: npt.ArrayLike) -> FloatArray:
    scatter = np.asarray(scatter_db, dtype=float)
    return np.asarray(-0.5 * (left_db / scatter) ** 2 - np.log(scatter) - 0.5 * np.log(2.0 * np.pi))


def _report(
    residual_db: FloatArray, margin_db: FloatArray, error_db: FloatArray, scatter_db: npt.ArrayLike
) -> FloatArray:
    """Of the figure itself, sound or wild; 0 where none was given."""
    figure = np.logaddexp(
        np.log1p(-WILD_SHARE) + _log_report(np.nan_to_num(residual_db), margin_db, error_db, scatter_db),
        np.log(WILD_SHARE) + _log_normal(np.nan_to_num(residual_db) - error_db, WILD_SCATTER_DB),
    )
    return np.where(np.isfinite(residual_db), figure, 0.0)


def _log_report(
    residual_db: FloatArray, margin_db: FloatArray, error_db: FloatArray, scatter_db: npt.ArrayLike
) -> FloatArray:
    """Of a sound figure, given that its period decoded: reports of weak signals come from the lucky periods.

    The figure is the period's level (fading about the mean) and a reading of it; the level had to pass the threshold.
    """
    reading = np.sqrt(np.maximum(np.square(scatter_db) - FADING_SPREAD_DB**2, LEAST_READING_DB**2))
    whole = np.hypot(FADING_SPREAD_DB, reading)
    left = residual_db - error_db
    # Fading as the figure tells it, and what the figure leaves unknown of it.
    told, unknown = (FADING_SPREAD_DB / whole) ** 2 * left, FADING_SPREAD_DB * reading / whole
    level = np.nan_to_num(margin_db) + error_db
    lucky = log_ndtr((level + told) / unknown) - log_ndtr(level / FADING_SPREAD_DB)
    return np.asarray(_log_normal(left, whole) + np.where(np.isfinite(margin_db), lucky, 0.0))


def luck_db(margin_db: FloatArray, error_db: FloatArray) -> FloatArray:
    """How far above its hour's mean a level lies on average, given that its period decoded; 0 where nothing is known.

    The mean of a normal cut off below (Mills' ratio).
    """
    level = (np.nan_to_num(margin_db) + error_db) / FADING_SPREAD_DB
    above = FADING_SPREAD_DB * np.exp(_log_normal(level, 1.0) - log_ndtr(level))
    return np.where(np.isfinite(margin_db), above, 0.0)


def course_of(attempts: Attempts, errors_db: FloatArray) -> Course:
    """Of whether each contact was completed, and of what was heard where it was not, at each of `errors_db` (m,) of the
    way to the partner (first axis) and of the way to home. Where nothing is predicted all is 1 and counts nothing.
    """
    count, size = attempts.partner.size, errors_db.size
    well, amiss = np.ones((2, count, size, size))
    counts = np.zeros(count, dtype=bool)
    to_partner, to_home = log_counts(attempts, errors_db)
    told = attempts.counted.told
    for row in range(count):
        if attempts.absent[row]:
            well[row], counts[row] = 0.0, True
            continue
        if told[:, row].any():
            # The periods tell more of it than whether it came about, which would be counted twice.
            likely = np.exp(to_partner[row][:, None] + to_home[row])
            well[row], amiss[row], counts[row] = likely, *_amiss_where_counted(attempts, row, likely)
            continue
        there = float(attempts.margin_at_partner_db[row]) + errors_db
        here = float(attempts.margin_at_home_db[row]) + errors_db
        if attempts.chosen[row] or not (np.isfinite(there).all() and np.isfinite(here).all()):
            continue
        well[row], amiss[row] = _one_course(attempts, row, there, here)
        # Who was heard, or heard us, was there: that no contact came about says nothing of presence.
        counts[row] = attempts.completed[row] or not _is_somebody_there(attempts, row)
    # As a chance of every slot, so that of the silent ones that share was never tried.
    untried = UNTRIED_SHARE * attempts.silent.sum() / max(count, 1)
    return Course(well, amiss, np.where(attempts.silent, untried, 0.0), counts)


def _amiss_where_counted(attempts: Attempts, row: int, likely: FloatArray) -> tuple[FloatArray | float, bool]:
    """`Course.amiss` and `Course.counts` of an attempt whose periods are told, `likely` as they are if all was well.

    Where nothing was heard either way the other end may not have been there; where something was, it was.
    """
    if attempts.completed[row]:
        return (likely, False) if attempts.chosen[row] else (NOT_SO * likely, True)
    somebody = attempts.counted.anything[row] or _is_somebody_there(attempts, row)
    return (likely, False) if somebody else (1.0, True)


def _is_somebody_there(attempts: Attempts, row: int) -> bool:
    """Whether something of the partner was heard, or it gave a report."""
    figures = (attempts.residual_at_partner_db[row], attempts.residual_at_home_db[row])
    return bool(attempts.heard[row] == 1.0 or np.isfinite(figures).any())


def _one_course(
    attempts: Attempts, row: int, there: FloatArray, here: FloatArray
) -> tuple[FloatArray, FloatArray | float]:
    """`Course.well` and `Course.amiss` of one attempt at these levels over the needed one."""
    tries, needed = int(attempts.tries[row]), int(attempts.needed[row])
    whole = _contact(there, here, tries, needed)
    if attempts.completed[row]:
        return (1.0 - NOT_SO) * whole + NOT_SO, NOT_SO
    if attempts.silent[row]:
        return 1.0 - whole, 1.0
    heard = float(attempts.heard[row])
    heard_here = bool(np.isfinite(attempts.residual_at_home_db[row])) or heard == 1.0
    one_there, one_here = (np.exp(np.minimum(_log_decodes(level, tries, 1), 0.0)) for level in (there, here))
    if heard == 0.0 and not heard_here:
        return np.broadcast_to(1.0 - one_here, whole.shape), 1.0
    # What is known to have decoded; of the rest, the contact did not come about, or could not for other reasons.
    known = np.ones_like(whole)
    if heard_here:
        known = known * one_here
    if np.isfinite(attempts.residual_at_partner_db[row]):
        known = known * one_there[:, None]
    return np.maximum(known - whole, 0.0), known


def _contact(there_db: FloatArray, here_db: FloatArray, tries: int, needed: int) -> FloatArray:
    """Probability over rising levels of both ends that messages sent in turn, `needed` at each end, all decode."""
    levels = [np.clip(one, *TABLE_DB) for one in (there_db, here_db)]
    return np.asarray(np.exp(np.minimum(_contact_table(tries, needed)(*levels), 0.0)))


@lru_cache(maxsize=32)
def _contact_table(rounds: int, needed: int) -> RectBivariateSpline:
    """Its logarithm over the levels of both ends, smooth in between."""
    axis = np.arange(TABLE_DB[0], TABLE_DB[1] + TABLE_STEP_DB / 2.0, TABLE_STEP_DB)
    return RectBivariateSpline(axis, axis, log_contact(axis[:, None], axis[None, :], rounds, needed))


def log_contact(there_db: FloatArray, here_db: FloatArray, rounds: int, needed: int) -> FloatArray:
    """Logarithm of the probability of a contact at constant levels over the needed one, by the story of the chance.

    A round is one try each way. Two messages can pass in one round, the opener's first, so that the tries of both ends
    together may be as many as the rounds and `needed` more (each end's tries are distributed after Pascal).
    """
    taken = np.arange(needed, rounds + 1)
    there = there_db[..., None] / FADING_SPREAD_DB
    ways = gammaln(taken) - gammaln(needed) - gammaln(taken - needed + 1.0)
    first = ways + needed * log_ndtr(there) + (taken - needed) * log_ndtr(-there)
    left = np.minimum(rounds + needed - taken, rounds)
    other = _log_decodes(here_db[..., None], left, needed)
    return np.asarray(np.minimum(logsumexp(first + other, axis=-1), 0.0))


def _log_decodes(level_db: FloatArray, tries: IntArray | int, count: IntArray | int) -> FloatArray:
    """Logarithm of the probability of at least `count` decodes in so many tries (binomial tail by the beta integral).

    As a distribution of an order statistic of normals it is concave in the level.
    """
    level = np.nan_to_num(level_db) / FADING_SPREAD_DB
    exact = betainc(count, np.maximum(tries - count + 1, 1), ndtr(level))
    # Far below the threshold the first term of the tail is all of it, and does not underflow.
    choose = gammaln(tries + 1.0) - gammaln(count + 1.0) - gammaln(np.maximum(tries - count, 0) + 1.0)
    far = choose + count * log_ndtr(level)
    return np.where(exact > TINY, np.log(np.maximum(exact, TINY)), far)
