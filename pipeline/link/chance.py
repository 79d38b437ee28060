"""Chance of completing a contact within a slot: messages alternate, each period decodes or not, station figures err.

A Markov chain over the number of messages decoded, averaged over the error of both directions on an even grid. The
story is ours (DEVELOPERS.md); spreads are judgement: 1.5 dB of fading, 2 dB of station error a direction.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

FADING_SPREAD_DB = 1.5
STATION_SPREAD_DB = 2.0
# The chance is a steep step in the error, where a Gauss rule rings; an even grid this fine is good to 0.001.
NODES = 41
REACH = 5.0
CORRELATION = 0.5
# Nodes below this weight together hold 0.03 % of the whole and change no printed digit.
NEGLIGIBLE = 3e-6


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
    at_responder, at_opener = np.asarray(margin_at_responder_db, float), np.asarray(margin_at_opener_db, float)
    error, opener_node, responder_node, weight = _error_grid(station_spread_db)
    slots, periods = at_responder.shape
    decoded = np.zeros((messages + 1, slots, weight.size))
    decoded[0] = 1.0
    for period in range(periods):
        opener_sends = period % 2 == 0
        margin = (at_responder if opener_sends else at_opener)[:, period]
        node = responder_node if opener_sends else opener_node
        decodes = np.nan_to_num(ndtr((margin[:, None] + error) / fading_spread_db), nan=0.0)[:, node]
        # From the last message down, so that nothing moves two steps in one period.
        for sent in range(messages - 1, -1, -1):
            if (sent % 2 == 0) == opener_sends:
                moved = decoded[sent] * decodes
                decoded[sent] -= moved
                decoded[sent + 1] += moved
    # Rounding alone would let a certain contact pass 1.
    return np.clip(decoded[messages] @ weight, 0.0, 1.0)


def _error_grid(station_spread_db: float) -> tuple[FloatArray, IntArray, IntArray, FloatArray]:
    """The error's axis, dB, (NODES,), and the nodes kept: indexes of the opener's and responder's error, weight."""
    axis = np.linspace(-REACH, REACH, NODES)
    opener, responder = np.meshgrid(np.arange(NODES), np.arange(NODES), indexing="ij")
    x, y = axis[opener], axis[responder]
    weight = np.exp(-(x**2 - 2 * CORRELATION * x * y + y**2) / (2 * (1 - CORRELATION**2)))
    weight /= weight.sum()
    keep = weight > NEGLIGIBLE
    return station_spread_db * axis, opener[keep], responder[keep], weight[keep] / weight[keep].sum()
