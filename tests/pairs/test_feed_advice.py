"""Advice on feeds: members that everybody compares, and the cells of a table read back to them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.link.polarization import polarization_loss
from pipeline.pairs.feed_advice import FeedAdvice, advice_in, advice_through, polarization_advice

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


@pytest.mark.parametrize(
    ("offset_deg", "advice"),
    [
        ((10.0, 20.0, 30.0, 40.0), FeedAdvice.LEAVE),
        ((50.0, 60.0, 70.0, 80.0), FeedAdvice.TURN_HOME),
        ((20.0, 35.0, 50.0, 65.0), FeedAdvice.LEAVE),
        ((30.0, 44.0, 70.0, 80.0), FeedAdvice.TURN_HOME),
    ],
)
def test_a_feed_that_stands_through_a_slot_loses_the_least_in_all(
    offset_deg: tuple[float, ...], advice: FeedAdvice
) -> None:
    """Against -20 log10 |cos| and |sin| of the offset, capped at 15 dB, summed either way by hand."""
    offset = np.radians(offset_deg)
    level, turned = (np.minimum(-20.0 * np.log10(np.abs(one(offset))), 15.0).sum() for one in (np.cos, np.sin))
    assert (turned < level) == (advice is FeedAdvice.TURN_HOME)
    loss = polarization_loss(np.array(offset_deg), "rotatable", "horizontal", 10_368.0)
    better = loss.turned_is_better()
    samples = pd.DataFrame(
        {
            "feed_turned": better,
            "polarization_loss_db": loss.for_signal_db(better),
            "polarization_loss_other_db": loss.for_signal_db(~better),
            "polarization_advice": polarization_advice(loss, better),
        }
    )
    assert advice_through(samples) == advice


def test_where_either_could_turn_home_does() -> None:
    assert [one for one in FeedAdvice if one.home_turns] == [FeedAdvice.TURN_HOME, FeedAdvice.TURN_EITHER]
    assert [one for one in FeedAdvice if one.partner_turns] == [FeedAdvice.TURN_PARTNER]


def test_cells_read_back() -> None:
    assert [advice_in(one.value) for one in FeedAdvice] == list(FeedAdvice)
    assert advice_in("") is advice_in(float("nan")) is advice_in(None) is None
