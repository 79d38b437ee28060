"""Advice on feeds: members that everybody compares, and the cells of a table read back to them."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.link.polarization import polarization_loss
from pipeline.pairs.feed_advice import FeedAdvice, advice_in, polarization_advice

TURNED = np.array([False, True])


@pytest.mark.parametrize(
    ("home", "partner", "frequency_mhz", "advice"),
    [
        ("circular", "circular", 10_368.0, [FeedAdvice.NOTHING_TO_TURN] * 2),
        ("rotatable", "horizontal", 144.1, [FeedAdvice.RANDOM] * 2),
        ("horizontal", "vertical", 10_368.0, [FeedAdvice.NEITHER] * 2),
        ("rotatable", "horizontal", 10_368.0, [FeedAdvice.LEAVE, FeedAdvice.TURN_HOME]),
        ("horizontal", "rotatable", 10_368.0, [FeedAdvice.LEAVE, FeedAdvice.TURN_PARTNER]),
        ("rotatable", "rotatable", 10_368.0, [FeedAdvice.LEAVE, FeedAdvice.TURN_EITHER]),
    ],
)
def test_the_advice_of_two_feeds(home: str, partner: str, frequency_mhz: float, advice: list[FeedAdvice]) -> None:
    loss = polarization_loss(np.zeros(2), home, partner, frequency_mhz)
    assert list(polarization_advice(loss, TURNED)) == advice


def test_where_either_could_turn_home_does() -> None:
    assert [one for one in FeedAdvice if one.home_turns] == [FeedAdvice.TURN_HOME, FeedAdvice.TURN_EITHER]
    assert [one for one in FeedAdvice if one.partner_turns] == [FeedAdvice.TURN_PARTNER]


def test_cells_read_back() -> None:
    assert [advice_in(one.value) for one in FeedAdvice] == list(FeedAdvice)
    assert advice_in("") is advice_in(float("nan")) is advice_in(None) is None
