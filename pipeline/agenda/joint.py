"""Chance of at least one contact over several slots with one partner: what a second slot really adds.

The errors of both stations stay from slot to slot, so slots are independent at one node of errors only (`link.chance`).
Who is not there, is not there for the whole night: presence counts once a night and anew on another.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from pipeline.link.chance import joint_chance, node_weights

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


def chance_together(success: FloatArray, night: IntArray, presence: float) -> float:
    """Of slots (k,) with one partner, their success by node (k, nodes) where it is there: the chance of one contact."""
    fails = np.ones(node_weights().size)
    for one in np.unique(night):
        fails = fails * _fails_on(np.prod(1.0 - success[night == one], axis=0), presence)
    return float(np.clip(1.0 - fails @ node_weights(), 0.0, 1.0))


def chances_with_one_more(
    success: FloatArray, night: IntArray, held_success: FloatArray, held_night: IntArray, presence: float
) -> FloatArray:
    """The same for each of n slots together with all that are held (k of them): (n,)."""
    found = np.zeros(night.size)
    for one in np.unique(night):
        rows, same = night == one, held_night == one
        others = np.ones(node_weights().size)
        for other in np.unique(held_night[~same]):
            others = others * _fails_on(np.prod(1.0 - held_success[held_night == other], axis=0), presence)
        misses = np.prod(1.0 - held_success[same], axis=0) * (1.0 - success[rows])
        found[rows] = 1.0 - (others * _fails_on(misses, presence)) @ node_weights()
    return np.clip(found, 0.0, 1.0)


def chances_of_pairs(success: FloatArray, night: IntArray, presence: float) -> FloatArray:
    """The same chance for every two of n slots, (n, n), from their `success` by node, (n, nodes), 0 to 1."""
    nights = np.unique(night)
    found = np.zeros((night.size, night.size))
    if nights.size > 1:
        found = joint_chance(presence * success, presence * success)
    for one in nights:
        rows = np.flatnonzero(night == one)
        found[np.ix_(rows, rows)] = presence * joint_chance(success[rows], success[rows])
    return found


def _fails_on(misses: FloatArray, presence: float) -> FloatArray:
    """The chance at each node that a night brings nothing, from that of missing in all its slots if both are there."""
    return 1.0 - presence * (1.0 - misses)
