"""Chance of completing a contact within a slot: messages alternate, each period decodes or not, station figures err.

A Markov chain over the number of messages decoded, averaged over the error of both directions on an even grid. The
story is ours (DEVELOPERS.md); spreads are judgement: 1.5 dB of fading, 2 dB of station error a direction.
"""

from __future__ import annotations

from functools import lru_cache

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
# So much chance is no reason to stay on for longer (judgement).
LOSS_NOT_MISSED = 0.02
# Nodes below this weight together hold 0.03 % of the whole and change no printed digit.
NEGLIGIBLE = 3e-6
# Slots worked out together: what a chain touches then stays in the processor's own cache.
CHUNK = 32


def success_by_node(
    margin_at_responder_db: npt.ArrayLike,
    margin_at_opener_db: npt.ArrayLike,
    messages: int,
    spread_at_responder_db: npt.ArrayLike = STATION_SPREAD_DB,
    spread_at_opener_db: npt.ArrayLike = STATION_SPREAD_DB,
    fading_spread_db: float = FADING_SPREAD_DB,
) -> FloatArray:
    """Probability, (n, nodes), that message `messages` is decoded within the slot, given each node's station errors.

    Good to some millionths: the chain runs in single precision.

    Margins are (n, periods): in period 1, 3, 5, ... (columns 0, 2, 4, ...) the opener sends and the responder's margin
    counts, in the others the opener's. NaN where a slot has fewer periods: nothing decodes there. Spreads of the
    station error of each direction, dB, are numbers or (n,). The errors stay as they are from slot to slot with one
    partner: two slots are independent at a node only.
    """
    at_responder, at_opener = np.asarray(margin_at_responder_db, float), np.asarray(margin_at_opener_db, float)
    slots = at_responder.shape[0]
    spreads = [
        np.broadcast_to(np.asarray(spread, float), (slots,)) for spread in (spread_at_responder_db, spread_at_opener_db)
    ]
    found = np.empty((slots, node_weights().size))
    for first in range(0, slots, CHUNK):
        some = slice(first, first + CHUNK)
        found[some] = _play(
            at_responder[some], at_opener[some], messages, spreads[0][some], spreads[1][some], fading_spread_db
        )
    return found


def shortest_success(
    margin_at_responder_db: npt.ArrayLike,
    margin_at_opener_db: npt.ArrayLike,
    messages: int,
    periods: IntArray,
    spread_at_responder_db: float,
    spread_at_opener_db: float,
) -> tuple[FloatArray, IntArray]:
    """Success by node, (n, nodes), in the shortest of some lengths that costs hardly any chance, and which, (n,).

    `periods` (n, k) are the lengths in periods, rising along each row; the shortest is taken whose chance lies within
    `LOSS_NOT_MISSED` of the longest's. Margins as `chance_of_contact`, spreads of the two ways in dB.
    """
    at_responder, at_opener = np.asarray(margin_at_responder_db, float), np.asarray(margin_at_opener_db, float)
    slots = at_responder.shape[0]
    found, which = np.empty((slots, node_weights().size)), np.zeros(slots, dtype=np.int64)
    for first in range(0, slots, CHUNK):
        some = slice(first, first + CHUNK)
        width = at_responder[some].shape[0]
        spreads = np.full(width, spread_at_responder_db), np.full(width, spread_at_opener_db)
        reached = _play_until(at_responder[some], at_opener[some], messages, periods[some], *spreads)
        chance = reached @ node_weights()  # (k, slots)
        enough = chance >= chance[-1] - LOSS_NOT_MISSED
        which[some] = np.argmax(enough, axis=0)
        found[some] = reached[which[some], np.arange(width)]
    return found, which


def node_weights() -> FloatArray:
    """The weight of each node of station errors, (nodes,); they sum to 1, without a unit."""
    return _error_grid()[2]


def error_nodes() -> tuple[FloatArray, FloatArray]:
    """The station errors of both directions at each node, (nodes,) each: standard deviations, no unit."""
    first, second, _ = _error_grid()
    return _error_axis()[first], _error_axis()[second]


def chance_of(success: FloatArray) -> FloatArray:
    """Probability of a contact, (n,), over all station errors, from that at every node, (n, nodes)."""
    # Rounding alone would let a certain contact pass 1.
    return np.clip(success @ node_weights(), 0.0, 1.0)


def joint_chance(success: FloatArray, other: FloatArray) -> FloatArray:
    """Probability, (n, m), of at least one contact in two slots with the same partner: 1 - E[(1 - p)(1 - q)].

    From `success_by_node` of both, (n, nodes) and (m, nodes).
    """
    return np.clip(1.0 - ((1.0 - success) * node_weights()) @ (1.0 - other).T, 0.0, 1.0)


def _play(
    at_responder: FloatArray,
    at_opener: FloatArray,
    messages: int,
    spread_at_responder: FloatArray,
    spread_at_opener: FloatArray,
    fading_spread_db: float,
) -> FloatArray:
    """The Markov chain of a few slots at every node, (slots, nodes)."""
    whole = np.full((at_responder.shape[0], 1), at_responder.shape[1])
    return _play_until(
        at_responder, at_opener, messages, whole, spread_at_responder, spread_at_opener, fading_spread_db
    )[0]


def _play_until(
    at_responder: FloatArray,
    at_opener: FloatArray,
    messages: int,
    periods: IntArray,
    spread_at_responder: FloatArray,
    spread_at_opener: FloatArray,
    fading_spread_db: float = FADING_SPREAD_DB,
) -> FloatArray:
    """The chain after each of some numbers of periods (slots, k): (k, slots, nodes). Inside, nodes stand first."""
    opener_node, responder_node, weight = _error_grid()
    slots, count = at_responder.shape
    # The opener sends in the even periods and the responder's errors count; a period that is not there decodes nothing.
    nodes = responder_node, opener_node
    margins = [np.where(np.isnan(one), -np.inf, one).T for one in (at_responder, at_opener)]
    errors = [_error_axis()[:, None] * spread for spread in (spread_at_responder, spread_at_opener)]
    reached = np.zeros((periods.shape[1], slots, weight.size))
    ends: dict[int, list[tuple[int, int]]] = {}
    for (slot, length), end in np.ndenumerate(periods):
        ends.setdefault(int(end), []).append((slot, length))
    # Of each number of messages the chance that as many came through; single precision is good to some millionths.
    through = np.zeros((messages + 1, weight.size, slots), dtype=np.float32)
    through[0] = 1.0
    decodes, more = np.empty((2, weight.size, slots), dtype=np.float32)
    for period in range(count):
        turn = period % 2
        margin = margins[turn][period]
        if margin.max(initial=-np.inf) > -np.inf:
            each = ndtr((margin + errors[turn]) / fading_spread_db).astype(np.float32)
            # With `clip` nothing is buffered.
            np.take(each, nodes[turn], axis=0, out=decodes, mode="clip")
            # From the last message down, so that nothing moves two steps in one period; none is sent before its turn.
            last = min(messages - 1, period)
            for sent in range(last - (last - turn) % 2, -1, -2):
                np.subtract(through[sent], through[sent + 1], out=more)
                more *= decodes
                through[sent + 1] += more
        for slot, length in ends.get(period + 1, ()):
            reached[length, slot] = through[messages][:, slot]
    return reached


def _error_axis() -> FloatArray:
    """The errors of one direction in standard deviations, (NODES,)."""
    return np.linspace(-REACH, REACH, NODES)


@lru_cache(maxsize=1)
def _error_grid() -> tuple[IntArray, IntArray, FloatArray]:
    """The nodes kept: indexes of the opener's and responder's error on the axis, weight."""
    axis = _error_axis()
    opener, responder = np.meshgrid(np.arange(NODES), np.arange(NODES), indexing="ij")
    x, y = axis[opener], axis[responder]
    weight = np.exp(-(x**2 - 2 * CORRELATION * x * y + y**2) / (2 * (1 - CORRELATION**2)))
    weight /= weight.sum()
    keep = weight > NEGLIGIBLE
    return opener[keep], responder[keep], weight[keep] / weight[keep].sum()
