"""Chance of completing a contact within a slot: messages alternate, each period decodes or not, station figures err.

A Markov chain over the number of messages decoded, averaged over the error of both directions on an even grid. The
story is ours (DEVELOPERS.md); spreads are judgement: 1.5 dB of fading, 2 dB of station error a direction.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

FloatArray = npt.NDArray[np.float64]

FADING_SPREAD_DB = 1.5
STATION_SPREAD_DB = 2.0
# The chance is a steep step in the error, where a Gauss rule rings; an even grid this fine is good to 0.001.
NODES = 41
REACH = 5.0
# Weights below this share of the total change no printed digit.
NEGLIGIBLE = 1e-7


def chance_of_contact(
    margin_at_responder_db: npt.ArrayLike,
    margin_at_opener_db: npt.ArrayLike,
    messages: int,
    station_spread_db: float = STATION_SPREAD_DB,
    fading_spread_db: float = FADING_SPREAD_DB,
) -> FloatArray:
    """Probability, (n,), that message `messages` is decoded within the slot.

    Margins are (n, periods): in period 1, 3, 5, ... (columns 0, 2, 4, ...) the opener sends and the responder's margin
    counts, in the others the opener's. NaN where a slot has fewer periods: nothing decodes there.
    """
    opener_error, responder_error, weight = _error_grid(station_spread_db)
    at_responder, at_opener = np.asarray(margin_at_responder_db, float), np.asarray(margin_at_opener_db, float)
    slots, periods = at_responder.shape
    # Ends at the error they share: one row a slot, one column a node.
    decoded = np.zeros((messages + 1, slots, weight.size))
    decoded[0] = 1.0
    for period in range(periods):
        opener_sends = period % 2 == 0
        margin = (at_responder if opener_sends else at_opener)[:, period]
        error = responder_error if opener_sends else opener_error
        chance = ndtr((margin[:, None] + error) / fading_spread_db)
        chance = np.where(np.isnan(chance), 0.0, chance)
        # From the last message down, so that nothing moves two steps in one period.
        for done in range(messages - 1, -1, -1):
            if (done % 2 == 0) == opener_sends:
                moved = decoded[done] * chance
                decoded[done] -= moved
                decoded[done + 1] += moved
    return np.asarray(decoded[messages] @ weight)


def _error_grid(station_spread_db: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Errors of the opener's and the responder's reception with their weights, (nodes,): correlation one half."""
    axis = np.linspace(-REACH, REACH, NODES)
    first, second = np.meshgrid(axis, axis, indexing="ij")
    weight = np.exp(-(first**2 + second**2) / 2).ravel()
    weight /= weight.sum()
    keep = weight > NEGLIGIBLE
    # Two independent normals mixed to unit variance and correlation 1/2: a shared part and one of each end.
    mixed = 0.5 * first + np.sqrt(0.75) * second
    return (
        station_spread_db * first.ravel()[keep],
        station_spread_db * mixed.ravel()[keep],
        weight[keep] / weight[keep].sum(),
    )
