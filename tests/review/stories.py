"""Attempts by stations whose true sides are hidden, in numbers alone: the story of the chance, period by period."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.review.likelihood import Attempts

FloatArray = npt.NDArray[np.float64]

FADING_DB = 1.5
READING_DB = 1.0
TRIES, NEEDED = 30, 2


@dataclass(frozen=True)
class Story:
    """What is true of each station, (k,), home first, and what the log says of its attempts."""

    transmit_db: FloatArray
    receive_db: FloatArray
    attempts: Attempts

    @property
    def sides_db(self) -> FloatArray:
        """In the order of `Learnt.mean_db`."""
        return np.stack([self.transmit_db, self.receive_db], axis=1).ravel()


def play(
    seed: int,
    margins_db: tuple[float, float],
    partners: int = 5,
    each: int = 5,
    other_reasons: float = 0.1,
    wild: float = 0.0,
    evening_db: float = 0.0,
    bad_evening_db: float = 0.0,
    shift_db: float = 0.0,
) -> Story:
    """So many attempts with each partner, whose mean margins are drawn evenly between two bounds.

    A report is the level of one period that decoded, read with an error and rounded; wild ones are 8 to 25 dB off.
    Everybody is met once an evening; each station differs by `evening_db` from one to the next, both its sides alike,
    and home by `bad_evening_db` besides in the last. All files promise too little by `shift_db` a way.
    """
    random = np.random.default_rng(seed)
    count = partners + 1
    # A dish serves both sides: 1 dB in common and 1 dB of each side's own are sides of 2 dB^2, alike by a half.
    dish, sends, hears = random.normal(0.0, 1.0, (3, count))
    transmit, receive = dish + sends + shift_db / 2.0, dish + hears + shift_db / 2.0
    partner = np.repeat(np.arange(1, count), each)
    mean = random.uniform(*margins_db, count)[partner] + random.normal(0.0, 0.5, partner.size)
    margins = {"partner": mean, "home": mean + random.normal(0.0, 1.0, partner.size)}
    errors = {"partner": transmit[0] + receive[partner], "home": transmit[partner] + receive[0]}
    evening = np.tile(np.arange(each), partners)
    if evening_db or bad_evening_db:
        differs = np.random.default_rng(1000 + seed).normal(0.0, evening_db, (each, count))
        differs[-1, 0] += bad_evening_db
        errors = {end: error + differs[evening, 0] + differs[evening, partner] for end, error in errors.items()}
    comes_about = random.random(partner.size) > other_reasons
    decodes, reports = {}, {}
    for end, error in errors.items():
        level = (margins[end] + error)[:, None] + random.normal(0.0, FADING_DB, (partner.size, TRIES))
        decodes[end] = np.where(comes_about, (level > 0.0).sum(axis=1), 0)
        told = np.argmax((level > 0.0) * random.random(level.shape), axis=1)
        read = level[np.arange(partner.size), told] - margins[end] + random.normal(0.0, READING_DB, partner.size)
        slip = random.choice([-1.0, 1.0], partner.size) * random.uniform(8.0, 25.0, partner.size)
        reports[end] = np.round(read + np.where(random.random(partner.size) < wild, slip, 0.0))
    completed = (decodes["partner"] >= NEEDED) & (decodes["home"] >= NEEDED)
    attempts = Attempts(
        partner=partner,
        residual_at_partner_db=np.where(completed, reports["partner"], np.nan),
        residual_at_home_db=np.where(completed, reports["home"], np.nan),
        margin_at_partner_db=margins["partner"],
        margin_at_home_db=margins["home"],
        completed=completed,
        heard=(decodes["home"] >= 1).astype(float),
        doubt_at_partner_db=np.zeros(partner.size),
        doubt_at_home_db=np.zeros(partner.size),
        tries=np.full(partner.size, TRIES),
        needed=np.full(partner.size, NEEDED),
        evening=evening,
        **_plainly(partner.size),
    )
    return Story(transmit, receive, attempts)


def _plainly(count: int) -> dict[str, npt.NDArray[np.bool_]]:
    """So many attempts that were made and told."""
    return {name: np.zeros(count, dtype=bool) for name in ("silent", "absent", "chosen")}


def only_reports(partner: npt.ArrayLike, at_partner_db: npt.ArrayLike, at_home_db: npt.ArrayLike) -> Attempts:
    """Attempts of which nothing but reports is known: no margins, so nothing follows from contacts."""
    index = np.asarray(partner, dtype=np.int64)
    unknown = np.full(index.size, np.nan)
    return Attempts(
        partner=index,
        residual_at_partner_db=np.broadcast_to(np.asarray(at_partner_db, float), index.shape),
        residual_at_home_db=np.broadcast_to(np.asarray(at_home_db, float), index.shape),
        margin_at_partner_db=unknown,
        margin_at_home_db=unknown,
        completed=np.ones(index.size, dtype=bool),
        heard=np.ones(index.size),
        doubt_at_partner_db=np.zeros(index.size),
        doubt_at_home_db=np.zeros(index.size),
        tries=np.full(index.size, TRIES),
        needed=np.full(index.size, NEEDED),
        evening=np.arange(index.size),
        **_plainly(index.size),
    )


def without_reports(
    partner: npt.ArrayLike, margin_db: npt.ArrayLike, completed: npt.ArrayLike, heard: npt.ArrayLike = np.nan
) -> Attempts:
    """Attempts of which no figure came, at the same margin both ways."""
    index = np.asarray(partner, dtype=np.int64)
    margin = np.broadcast_to(np.asarray(margin_db, float), index.shape)
    nothing = np.full(index.size, np.nan)
    return Attempts(
        partner=index,
        residual_at_partner_db=nothing,
        residual_at_home_db=nothing,
        margin_at_partner_db=margin,
        margin_at_home_db=margin,
        completed=np.broadcast_to(np.asarray(completed, bool), index.shape),
        heard=np.broadcast_to(np.asarray(heard, float), index.shape),
        doubt_at_partner_db=np.zeros(index.size),
        doubt_at_home_db=np.zeros(index.size),
        tries=np.full(index.size, TRIES),
        needed=np.full(index.size, NEEDED),
        evening=np.arange(index.size),
        **_plainly(index.size),
    )
