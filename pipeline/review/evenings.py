"""The posterior of sides and evenings: what each evening with each partner tells, made one belief.

Expectation propagation (Minka 2001): what an evening tells of its two ways stands on a grid, exactly; what it adds to
the belief about all stations is the bell of the same moments. A station's evening is a bell too, or, rarely, a wild
one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# How much a station differs from evening to evening, dB: the widths that are weighed, and what is believed of them
# before (half a bell of 1 dB; judgement).
WIDTHS_DB = (0.25, 0.7, 1.3, 2.2)
WIDTH_BELIEVED_DB = 2.0
# One station's evening in thirty is quite another: snow in the dish, a loose feed (judgement).
WILD_EVENING_SHARE, WILD_EVENING_DB = 0.03, 5.0
SWEEPS, DAMPING, SETTLED = 40, 0.7, 1e-3
# Evenings told apart; of longer logs neighbouring ones are taken together.
MOST_EVENINGS = 60
LEAST = 1e-9
# Half of the least precision that two ways have before any log, 1 / (6 dB^2).
UNSURE = 1.0 / 12.0


@dataclass(frozen=True)
class Sites:
    """Evenings with one partner, s of them: the partner of each, whether home's evening is told from the partner's.

    `of_row` (n,) is the site of each attempt; `shared` (s,) the number of home's evening among those with several
    partners, -1 where both ends' evenings are one term; `ways` (s, 2, sides and evenings) what both ways are made of.
    """

    partner: IntArray
    of_row: IntArray
    shared: IntArray
    ways: FloatArray


def sites_of(partner: IntArray, evening: IntArray, stations: int, all_alike: bool) -> Sites:
    """One site for each partner and evening; for each partner where evenings are `all_alike`."""
    number = np.zeros_like(evening) if all_alike else np.unique(evening, return_inverse=True)[1].reshape(-1)
    different = int(number.max(initial=0)) + 1
    if different > MOST_EVENINGS:
        number = number * MOST_EVENINGS // different
    keys, of_row = np.unique(np.stack([partner, number], axis=1), axis=0, return_inverse=True)
    who, when = keys.reshape(-1, 2).T
    days, day, met = np.unique(when, return_inverse=True, return_counts=True)
    several = np.zeros(days.size, dtype=bool) if all_alike else met > 1
    numbered = np.where(several, np.cumsum(several) - 1, -1)
    shared = numbered[day] if days.size else day
    sides = 2 * stations
    ways = np.zeros((who.size, 2, sides + int(several.sum())))
    rows = np.arange(who.size)
    ways[rows, 0, 0] = ways[rows, 1, 1] = 1.0
    ways[rows, 0, 2 * who + 1] = 1.0
    ways[rows, 1, 2 * who] = 1.0
    together = rows[shared >= 0]
    ways[together, :, sides + shared[together]] = 1.0
    return Sites(who, of_row.reshape(-1), shared, ways)


@dataclass(frozen=True)
class Told:
    """What each site says of its two ways: likelihoods on the grid, (s, m m), the largest 1; `scale` (s,) the logs."""

    ways: FloatArray
    likely: FloatArray
    scale: FloatArray
    basis: FloatArray

    @classmethod
    def of(cls, ways: FloatArray, logarithm: FloatArray) -> Told:
        """From logarithms (s, m, m) over the ways (m,): to the partner along the first axis, to home along the next."""
        flat = logarithm.reshape(logarithm.shape[0], ways.size**2)
        scale = flat.max(axis=1, initial=-np.inf)
        x, y = (one.ravel() for one in np.meshgrid(ways, ways, indexing="ij"))
        basis = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)
        return cls(ways, np.exp(flat - scale[:, None]), scale, basis)


@dataclass(frozen=True)
class Belief:
    """Mean and covariance of sides and home's evenings; `evidence` the logarithm of the log's likelihood.

    `where` (s, m, m) says where each site's ways lay that evening; the rest starts the next round.
    """

    mean: FloatArray
    covariance: FloatArray
    evidence: float
    where: FloatArray
    precisions: FloatArray
    shifts: FloatArray
    evening_precisions: FloatArray
    evening_shifts: FloatArray


def width_shares(widths_db: Sequence[float], beliefs: Sequence[Belief]) -> FloatArray:
    """How much each width is believed after the log, summing to 1."""
    width = np.asarray(widths_db, dtype=float)
    # A value stands for the stretch about it.
    edges = np.concatenate([[0.0], (width[1:] + width[:-1]) / 2.0, [1.5 * width[-1]]])
    before = -0.5 * (width / WIDTH_BELIEVED_DB) ** 2 + np.log(np.maximum(np.diff(edges), LEAST))
    log = before + np.array([one.evidence for one in beliefs])
    return np.asarray(np.exp(log - logsumexp(log)))


def believe(prior: FloatArray, sites: Sites, told: Told, width_db: float, start: Belief | None) -> Belief:
    """The belief after all sites, from that of `prior`, a precision (sides, sides), at one width of evenings."""
    count, size = sites.ways.shape[0], sites.ways.shape[2]
    sides = prior.shape[0]
    kinds, chances = _terms(width_db, sites.shared < 0)
    mixed = (1.0 - WILD_EVENING_SHARE) * width_db**2 + WILD_EVENING_SHARE * WILD_EVENING_DB**2
    precisions = np.zeros((count, 2, 2)) if start is None else start.precisions
    shifts = np.zeros((count, 2)) if start is None else start.shifts
    own = np.full(size - sides, 1.0 / mixed) if start is None else start.evening_precisions
    own_shift = np.zeros(size - sides) if start is None else start.evening_shifts
    base = np.zeros((size, size))
    base[:sides, :sides] = prior
    at = np.arange(sides, size)
    # Evenings all alike leave one bell for each partner, of which nothing swings.
    damping = 1.0 if width_db == 0.0 else DAMPING
    made_of = sites.ways.reshape(2 * count, size)
    for _ in range(SWEEPS):
        whole = base + made_of.T @ (precisions @ sites.ways).reshape(made_of.shape)
        whole[at, at] += own
        push = shifts.ravel() @ made_of
        push[at] += own_shift
        covariance = _inverse(whole)
        mean = covariance @ push
        now = _inverse(sites.ways @ covariance @ sites.ways.transpose(0, 2, 1))
        now_shift = np.einsum("sab,sb->sa", now, sites.ways @ mean)
        rest, rest_shift = now - precisions, now_shift - shifts
        log_z, to_mean, to_cov, share = _met(told, rest, rest_shift, kinds, chances)
        new = _no_less_sure(_inverse(to_cov) - rest)
        new_shift = np.einsum("sab,sb->sa", rest + new, to_mean) - rest_shift
        moved: FloatArray = damping * (new - precisions)
        evening = _evenings(1.0 / covariance[at, at], mean[at] / covariance[at, at], own, own_shift, width_db)
        moved_shift = damping * (new_shift - shifts)
        moves = (moved, moved_shift, evening.precision - own, evening.shift - own_shift)
        change = max(float(np.abs(one).max(initial=0.0)) for one in moves)
        if change < SETTLED:
            break
        precisions = precisions + moved
        shifts = shifts + moved_shift
        own = own + damping * (evening.precision - own)
        own_shift = own_shift + damping * (evening.shift - own_shift)
    site_terms = log_z + _log_mass(rest, rest_shift) - _log_mass(now, now_shift)
    evidence = float(_log_mass(whole[None], push[None])[0] + np.sum(site_terms + told.scale) + evening.evidence.sum())
    where = _where(told, rest, rest_shift, kinds, share).reshape(count, told.ways.size, told.ways.size)
    return Belief(mean, covariance, evidence, where, precisions, shifts, own, own_shift)


def _terms(width_db: float, alone: npt.NDArray[np.bool_]) -> tuple[FloatArray, FloatArray]:
    """Variances, (s, 2), that both ways of a site have in common beside home's shared evening, and their shares."""
    if width_db == 0.0:
        return np.zeros((alone.size, 1)), np.ones((alone.size, 1))
    ends = np.where(alone, 2.0, 1.0)
    wild = WILD_EVENING_SHARE * ends
    usual = ends * width_db**2
    return (
        np.stack([usual, usual - width_db**2 + WILD_EVENING_DB**2], axis=1),
        np.stack([1.0 - wild, wild], axis=1),
    )


def _met(
    told: Told, rest: FloatArray, rest_shift: FloatArray, kinds: FloatArray, chances: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Each site's grid met with what all others say: log of the whole, mean and covariance of its ways without its own
    evening, and the share of each kind of evening, (k, s).
    """
    spread = _inverse(rest)
    centre = np.einsum("sab,sb->sa", spread, rest_shift)
    masses, means, covariances = [], [], []
    for kind in range(kinds.shape[1]):
        tight = _inverse(spread + kinds[:, kind, None, None])
        sums = _weight(told, centre, tight) @ told.basis
        mass = np.maximum(sums[:, 0], 1e-290)
        first, second = sums[:, 1:3] / mass[:, None], sums[:, 3:] / mass[:, None]
        inner = second[:, [0, 1, 1, 2]].reshape(-1, 2, 2) - first[:, :, None] * first[:, None, :]
        gain = spread @ tight
        means.append(centre + np.einsum("sab,sb->sa", gain, first - centre))
        covariances.append(spread - gain @ spread + gain @ inner @ gain.transpose(0, 2, 1))
        density = mass * np.sqrt(np.linalg.det(tight)) * (told.ways[1] - told.ways[0]) ** 2 / (2.0 * np.pi)
        masses.append(chances[:, kind] * density)
    whole = np.sum(masses, axis=0)
    share = np.stack(masses, axis=0) / whole
    mean = np.einsum("ks,ksa->sa", share, np.stack(means))
    off = np.stack(means) - mean
    covariance = np.einsum("ks,ksab->sab", share, np.stack(covariances)) + np.einsum("ks,ksa,ksb->sab", share, off, off)
    return np.log(whole), mean, covariance, share


def _weight(told: Told, centre: FloatArray, tight: FloatArray) -> FloatArray:
    """What each site says times the bell about `centre` (s, 2), of precision `tight` (s, 2, 2): (s, m m)."""
    pull = np.einsum("sab,sb->sa", tight, centre)
    # The bell's exponent over the grid, as one product.
    constant = -0.5 * np.einsum("sa,sa->s", centre, pull)
    terms = np.stack(
        [constant, pull[:, 0], pull[:, 1], -0.5 * tight[:, 0, 0], -tight[:, 0, 1], -0.5 * tight[:, 1, 1]], axis=1
    )
    weight = terms @ told.basis.T
    np.exp(weight, out=weight)
    weight *= told.likely
    return weight


def _where(told: Told, rest: FloatArray, rest_shift: FloatArray, kinds: FloatArray, share: FloatArray) -> FloatArray:
    """Where each site's ways lie with its own evening, (s, m m), of which `share` (k, s) is of each kind."""
    spread = _inverse(rest)
    centre = np.einsum("sab,sb->sa", spread, rest_shift)
    total = np.zeros_like(told.likely)
    for kind in range(kinds.shape[1]):
        weight = _weight(told, centre, _inverse(spread + kinds[:, kind, None, None]))
        weight *= (share[kind] / np.maximum(weight.sum(axis=1), 1e-290))[:, None]
        total += weight
    return total


def _inverse(matrices: FloatArray) -> FloatArray:
    """Inverses of the last two axes, (..., k, k)."""
    return np.asarray(np.linalg.inv(matrices), dtype=np.float64)


def _no_less_sure(precision: FloatArray) -> FloatArray:
    """Precisions, (s, 2, 2), that make a belief hardly less sure: all together less than half of what is believed
    before, which keeps every bell a bell.
    """
    values, axes = np.linalg.eigh(precision)
    least = -UNSURE / max(precision.shape[0], 1)
    return np.asarray((axes * np.maximum(values, least)[:, None, :]) @ axes.transpose(0, 2, 1))


def _log_mass(precision: FloatArray, shift: FloatArray) -> FloatArray:
    """Logarithm of what exp(shift z - z precision z / 2) sums to over all z, (s,)."""
    solved = np.linalg.solve(precision, shift[:, :, None])[:, :, 0]
    size = shift.shape[1]
    return np.asarray(
        0.5 * np.einsum("si,si->s", shift, solved)
        - 0.5 * np.linalg.slogdet(precision)[1]
        + 0.5 * size * np.log(2.0 * np.pi)
    )


@dataclass(frozen=True)
class _Evening:
    """What home's evenings are believed to be before the log, as bells that meet what the log says of them."""

    precision: FloatArray
    shift: FloatArray
    evidence: FloatArray


def _evenings(
    now: FloatArray, now_shift: FloatArray, own: FloatArray, own_shift: FloatArray, width_db: float
) -> _Evening:
    """The usual bell and the wild one, met with what the log says of each evening."""
    rest, rest_shift = np.maximum(now - own, LEAST), now_shift - own_shift
    variance, centre = 1.0 / rest, rest_shift / rest
    kinds = np.array([[width_db**2], [WILD_EVENING_DB**2]])
    shares = np.array([[1.0 - WILD_EVENING_SHARE], [WILD_EVENING_SHARE]])
    both = variance + kinds
    log = np.log(shares) - 0.5 * centre**2 / both - 0.5 * np.log(2.0 * np.pi * both)
    log_z = np.logaddexp(log[0], log[1])
    share = np.exp(log - log_z)
    means, variances = centre * kinds / both, variance * kinds / both
    mean = np.sum(share * means, axis=0)
    spread = np.sum(share * (variances + (means - mean) ** 2), axis=0)
    # As `_log_mass`, of one number each.
    evidence = log_z + 0.5 * (rest_shift**2 / rest - now_shift**2 / now - np.log(rest / now))
    # Never flatter than the wild bell, for the same reason.
    precision = np.maximum(1.0 / spread - rest, 1.0 / WILD_EVENING_DB**2)
    return _Evening(precision, mean * (rest + precision) - rest_shift, evidence)
