"""A station's receiving figure and its beam's pointing, from readings of noise and echo, with what doubt they leave.

Gain, noise and power are unknown decibels about the file's figures, each source has an error common to its readings,
and the axis stands off by an unknown angle: given that angle all is linear but for the rises' saturation, so that the
posterior is a sum of normals over a grid of angles (Gauss-Newton at each).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.link.antenna import Beam, pointing_loss_db
from pipeline.link.constants import SUN_DISC_DEG
from pipeline.link.sun_noise import disc_mean_table
from pipeline.pairs.source_ratios import ratio_of_db, rise_of_db
from pipeline.record.model import DIAL, ECHO, GROUND, MOON, PEAK, SUN

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

# A rise is read to a tenth of a decibel, a large one to a fiftieth of it; an echo is taken from a few bursts that fade
# (common practice, no source).
RISE_READ_DB, RISE_READ_SHARE, ECHO_READ_DB = 0.1, 0.02, 1.5
# The highest noise is found to a tenth of the beamwidth; half the pointing error is new each evening (judgement).
PEAK_SHARE, EVENING_SHARE = 0.1, 0.5
# A beam of which no file tells an error is off by this share of its width at least.
LEAST_ERROR_SHARE = 0.02
# The axis is looked for up to four times the error that the file gives, in rings and directions.
REACH, RINGS, TURNS = 4.0, 61, 72
ROUNDS = 6
# What no doubt of the station explains is set aside, and what does not fit others of its kind.
MOST_SIGMAS, MOST_FROM_OTHERS_DB, FEW = 4.0, 1.5, 3
# The unknown decibels in their order, and how each source takes them: gain, noise, power.
TAKEN = {GROUND: (0.0, 1.0, 0.0), SUN: (1.0, 1.0, 0.0), MOON: (1.0, 1.0, 0.0), ECHO: (2.0, 1.0, 1.0)}
COMMON = (GROUND, SUN, MOON)
HEARING = np.array([1.0, 1.0, 0.0, 0.0, 0.0, 0.0])
SENDING = np.array([1.0, 0.0, 1.0, 0.0, 0.0, 0.0])


@dataclass(frozen=True)
class Readings:
    """n readings: kind and aim, what was read and what the file alone expects on the axis, dB, (n,).

    `day_doubt_db` is what each date's source may be off by itself, `common_doubt_db` by kind what all of it may be.
    Offsets of the peak are across and up, degrees, NaN where nobody looked.
    """

    what: tuple[str, ...]
    aim: tuple[str, ...]
    value_db: FloatArray
    expected_db: FloatArray
    day_doubt_db: FloatArray
    common_doubt_db: dict[str, float]
    across_deg: FloatArray
    up_deg: FloatArray

    def take(self, kept: BoolArray) -> Readings:
        """Those for which it holds, (n,)."""
        return Readings(
            tuple(one for one, keep in zip(self.what, kept, strict=True) if keep),
            tuple(one for one, keep in zip(self.aim, kept, strict=True) if keep),
            self.value_db[kept],
            self.expected_db[kept],
            self.day_doubt_db[kept],
            self.common_doubt_db,
            self.across_deg[kept],
            self.up_deg[kept],
        )


@dataclass(frozen=True)
class Before:
    """What is believed without readings: variances of gain, noise and power, dB squared; the pointing error."""

    gain_db2: float
    noise_db2: float
    power_db2: float
    pointing_error_deg: float
    dial_resolution_deg: float


@dataclass(frozen=True)
class Figures:
    """What the readings tell against the file, each with its standard deviation.

    `hears_db` is gain over temperature on the axis. `receive_db` and `transmit_db` are what the plan takes: with what
    the axis' offset costs in place of the file's pointing loss. `across_deg` and `up_deg` are None where no peak told.
    `ahead_db` is by kind and aim.
    """

    hears_db: tuple[float, float]
    receive_db: tuple[float, float]
    transmit_db: tuple[float, float]
    off_axis_deg: tuple[float, float]
    pointing_loss_db: tuple[float, float]
    across_deg: tuple[float, float] | None
    up_deg: tuple[float, float] | None
    ahead_db: dict[tuple[str, str], tuple[float, float]]

    def ahead(self, what: str, aim: str) -> tuple[float, float]:
        """How a reading to come should differ from what the file expects on the axis, dB of source against system.

        Mean and standard deviation, but for what the date's source is off by itself and the meter.
        """
        return self.ahead_db[what, aim]


def sound(readings: Readings, before: Before, beam: Beam) -> BoolArray:
    """Which readings can be what they say, (n,): level and peak within all doubts, near the others of their kind."""
    taken = _taken(readings)
    variance = (taken**2 @ _variances(before, readings)) + np.square(_loss_spread(readings, before, beam))
    slope = _slope(readings, readings.expected_db)
    residual = readings.value_db - readings.expected_db
    kept = np.abs(residual) <= MOST_SIGMAS * np.hypot(slope * np.sqrt(variance), _read_db(readings))
    error = _error_deg(before, beam)
    reach_deg = MOST_SIGMAS * np.hypot(error, _peak_found_deg(before, beam, error))
    # A peak that far out is no error of pointing: the dial is to be set, or was misread.
    kept &= ~((np.abs(readings.across_deg) > reach_deg) | (np.abs(readings.up_deg) > reach_deg))
    kinds = np.array(readings.what)
    for kind in dict.fromkeys(readings.what):
        mine = (kinds == kind) & kept
        if mine.sum() >= FEW:
            far = np.abs(residual - np.median(residual[mine])) > np.maximum(
                MOST_FROM_OTHERS_DB, 2.0 * MOST_SIGMAS * _read_db(readings)
            )
            kept &= ~(far & (kinds == kind))
    return np.asarray(kept)


def _error_deg(before: Before, beam: Beam) -> float:
    """What an axis may be off by: the file's figure, but no less than a beam allows to be known."""
    return max(before.pointing_error_deg, LEAST_ERROR_SHARE * beam.beamwidth_deg)


def _peak_found_deg(before: Before, beam: Beam, error_deg: float) -> float:
    """How well an evening's peak tells the lasting offset: its width, the dial, and what is new that evening."""
    evening = np.hypot(before.dial_resolution_deg, EVENING_SHARE * error_deg)
    return float(np.hypot(PEAK_SHARE * beam.beamwidth_deg, evening))


def figures_of(readings: Readings, before: Before, beam: Beam) -> Figures:
    """The figures by all readings given; by none, what is believed. Those that are not `sound` are left out before."""
    error = _error_deg(before, beam)
    off = np.linspace(0.0, REACH * error, RINGS)
    mean, covariance, evidence = _given_axis(readings, before, beam, off)
    weight, across, up = _axis_weights(readings, before, beam, off, evidence)
    ring = weight.sum(axis=1)
    lost = pointing_loss_db(off, beam.beamwidth_deg)
    usual = float(pointing_loss_db(before.pointing_error_deg, beam.beamwidth_deg))
    looked = np.isfinite(readings.across_deg).any(), np.isfinite(readings.up_deg).any()
    hears, sends = ((mean @ side, np.einsum("i,mij,j->m", side, covariance, side)) for side in (HEARING, SENDING))
    return Figures(
        hears_db=_moments(ring, *hears),
        receive_db=_moments(ring, hears[0] + usual - lost, hears[1]),
        transmit_db=_moments(ring, sends[0] + usual - lost, sends[1]),
        off_axis_deg=_moments(ring, off, np.zeros_like(off)),
        pointing_loss_db=_moments(ring, lost, np.zeros_like(off)),
        across_deg=_moments(weight, across, np.zeros_like(across)) if looked[0] else None,
        up_deg=_moments(weight, up, np.zeros_like(up)) if looked[1] else None,
        ahead_db=_ahead(beam, off, ring, mean, covariance),
    )


def _ahead(
    beam: Beam, off_deg: FloatArray, ring: FloatArray, mean: FloatArray, covariance: FloatArray
) -> dict[tuple[str, str], tuple[float, float]]:
    """Mean and deviation of what each kind and aim would differ by."""
    found = {}
    for what in TAKEN:
        side = _row(what)
        for aim in (DIAL, PEAK):
            middle = mean @ side - _lost(what, aim, beam, off_deg)
            found[what, aim] = _moments(ring, middle, np.einsum("i,mij,j->m", side, covariance, side))
    return found


def _moments(weight: FloatArray, mean: FloatArray, variance: FloatArray) -> tuple[float, float]:
    """Mean and standard deviation of a mixture."""
    whole = float((weight * mean).sum())
    return whole, float(np.sqrt(max((weight * (variance + mean**2)).sum() - whole**2, 0.0)))


def _row(what: str) -> FloatArray:
    """How a kind takes gain, noise, power and the errors of the sources, (6,)."""
    return np.array([*TAKEN[what], *(float(what == kind) for kind in COMMON)])


def _taken(readings: Readings) -> FloatArray:
    """The same of each reading, (n, 6)."""
    return np.array([_row(what) for what in readings.what], dtype=float).reshape(len(readings.what), 6)


def _variances(before: Before, readings: Readings) -> FloatArray:
    common = [max(readings.common_doubt_db.get(kind, 0.0), 1e-3) ** 2 for kind in COMMON]
    return np.array([before.gain_db2, before.noise_db2, before.power_db2, *common])


def _is_echo(readings: Readings) -> BoolArray:
    return np.array([what == ECHO for what in readings.what], dtype=bool)


def _slope(readings: Readings, at_db: FloatArray) -> FloatArray:
    """How far a reading moves with a decibel of source against system, at these values (..., n): 1 for an echo."""
    is_echo = _is_echo(readings)
    return np.where(is_echo, 1.0, -np.expm1(-np.maximum(at_db, 1e-3) * np.log(10.0) / 10.0))


def _read_db(readings: Readings) -> FloatArray:
    """Standard deviation of each reading, dB, (n,): the meter's, and what the date's source is off by itself."""
    is_echo = _is_echo(readings)
    read = np.where(is_echo, ECHO_READ_DB, np.hypot(RISE_READ_DB, RISE_READ_SHARE * readings.value_db))
    return np.asarray(np.hypot(read, _slope(readings, readings.expected_db) * readings.day_doubt_db))


def _lost(what: str, aim: str, beam: Beam, off_deg: FloatArray) -> FloatArray:
    """What the axis' offset takes of a kind, dB of source against system, (m,): nothing at the peak."""
    if aim != DIAL or what == GROUND:
        return np.zeros_like(off_deg)
    if what == ECHO:
        return 2.0 * pointing_loss_db(off_deg, beam.beamwidth_deg)
    nodes, mean_db = disc_mean_table(beam, SUN_DISC_DEG)
    return np.asarray(mean_db[0] - np.interp(off_deg, nodes, mean_db))


def _losses(readings: Readings, beam: Beam, off_deg: FloatArray) -> FloatArray:
    """The same of each reading, (m, n)."""
    by_kind = {key: _lost(*key, beam, off_deg) for key in set(zip(readings.what, readings.aim, strict=True))}
    columns = [by_kind[key] for key in zip(readings.what, readings.aim, strict=True)]
    return np.stack(columns, axis=1) if columns else np.zeros((off_deg.size, 0))


def _loss_spread(readings: Readings, before: Before, beam: Beam) -> FloatArray:
    """What twice the file's pointing error takes of each reading, dB, (n,)."""
    return np.asarray(_losses(readings, beam, np.array([2.0 * before.pointing_error_deg]))[0])


def _given_axis(
    readings: Readings, before: Before, beam: Beam, off_deg: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Means (m, 6), covariances (m, 6, 6) and log evidence (m,) at each angle off the axis."""
    taken, lost = _taken(readings), _losses(readings, beam, off_deg)
    known = np.diag(1.0 / _variances(before, readings))
    sure = 1.0 / _read_db(readings) ** 2
    is_echo = _is_echo(readings)
    ratio = np.where(is_echo, readings.expected_db, ratio_of_db(readings.expected_db))
    mean = np.zeros((off_deg.size, 6))
    for _ in range(ROUNDS):
        level = ratio + mean @ taken.T - lost
        told = np.where(is_echo, level, rise_of_db(level))
        slope = _slope(readings, told)[:, :, None] * taken
        precision = known + np.einsum("mni,n,mnj->mij", slope, sure, slope)
        wanted = readings.value_db - told + np.einsum("mni,mi->mn", slope, mean)
        mean = np.linalg.solve(precision, np.einsum("mni,n,mn->mi", slope, sure, wanted)[:, :, None])[:, :, 0]
    level = ratio + mean @ taken.T - lost
    left = readings.value_db - np.where(is_echo, level, rise_of_db(level))
    evidence = -0.5 * (left**2 @ sure + np.einsum("mi,ij,mj->m", mean, known, mean) + np.linalg.slogdet(precision)[1])
    return mean, np.linalg.inv(precision), evidence


def _axis_weights(
    readings: Readings, before: Before, beam: Beam, off_deg: FloatArray, evidence: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Weights of rings and directions (m, turns), summing to one, and across and up of each, degrees."""
    error = _error_deg(before, beam)
    turn = np.linspace(0.0, 2.0 * np.pi, TURNS, endpoint=False)
    across, up = off_deg[:, None] * np.sin(turn), off_deg[:, None] * np.cos(turn)
    # A normal of two axes with the file's root mean square; the innermost ring is a small disc.
    ring = np.maximum(off_deg, off_deg[1] / 8.0)
    log = (np.log(ring) - (off_deg / error) ** 2 + evidence)[:, None] + np.zeros_like(across)
    found = _peak_found_deg(before, beam, error)
    for place, told in ((across, readings.across_deg), (up, readings.up_deg)):
        for value in told[np.isfinite(told)]:
            log = log - 0.5 * ((place - value) / found) ** 2
    weight = np.exp(log - log.max())
    return weight / weight.sum(), across, up
