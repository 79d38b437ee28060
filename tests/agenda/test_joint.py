"""Chance over several slots against play: errors of stations, presence and decodes drawn a hundred thousand times."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.agenda.joint import chance_together, chances_of_pairs, chances_with_one_more
from pipeline.link.chance import node_weights

DRAWS = 200_000
# Three standard deviations of a share near one half over so many draws.
three_sigma = 3 * 0.5 / np.sqrt(DRAWS)


def some_slots(count: int, seed: int) -> np.ndarray:
    """Chances by node as steep steps at different heights, (count, nodes)."""
    rng = np.random.default_rng(seed)
    place = np.linspace(0.0, 1.0, node_weights().size)
    return 1.0 / (1.0 + np.exp(-(place[None, :] - rng.uniform(0.2, 0.9, (count, 1))) * 12.0))


def played(success: np.ndarray, night: np.ndarray, presence: float) -> float:
    """The share of draws in which one slot at least brings a contact."""
    rng = np.random.default_rng(17)
    node = rng.choice(node_weights().size, size=DRAWS, p=node_weights() / node_weights().sum())
    there = rng.random((DRAWS, night.max() + 1)) < presence
    made = rng.random((DRAWS, night.size)) < success[:, node].T
    return float((made & there[:, night]).any(axis=1).mean())


@pytest.mark.parametrize("nights", [[0], [0, 0], [0, 1], [0, 0, 1], [0, 1, 2]])
@pytest.mark.parametrize("presence", [1.0, 0.9, 0.5])
def test_chance_together_is_that_of_play(nights: list[int], presence: float) -> None:
    success, night = some_slots(len(nights), 3), np.array(nights)
    assert chance_together(success, night, presence) == pytest.approx(played(success, night, presence), abs=three_sigma)


def test_pairs_and_one_more_are_the_same_chance() -> None:
    success, night = some_slots(5, 5), np.array([0, 0, 1, 2, 2])
    pairs = chances_of_pairs(success, night, 0.8)
    for i in range(5):
        for j in range(5):
            if i != j:
                both = chance_together(success[[i, j]], night[[i, j]], 0.8)
                assert pairs[i, j] == pytest.approx(both, abs=1e-12)
    more = chances_with_one_more(success[2:], night[2:], success[:2], night[:2], 0.8)
    for row in range(3):
        rows = [0, 1, row + 2]
        assert more[row] == pytest.approx(chance_together(success[rows], night[rows], 0.8), abs=1e-12)


def test_who_is_not_there_misses_the_whole_night() -> None:
    """Two sure slots: on one night presence counts once, on two nights twice."""
    sure = np.ones((2, node_weights().size))
    assert chance_together(sure, np.array([0, 0]), 0.9) == pytest.approx(0.9)
    assert chance_together(sure, np.array([0, 1]), 0.9) == pytest.approx(0.99)
