"""What to do about the feeds of a pair at each sample: an advice of its own kind, compared and never read as words.

From the pair's polarization loss. Through a slot a feed stands where it loses less in all.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from pipeline.link.polarization import PolarizationLoss

if TYPE_CHECKING:
    import pandas as pd


class FeedAdvice(StrEnum):
    """Who turns a feed by 90 degrees, or why nobody does; the values are those of the data files."""

    NOTHING_TO_TURN = "nothing to turn"
    RANDOM = "random by Faraday rotation"
    NEITHER = "neither feed can be turned"
    LEAVE = "leave"
    TURN_HOME = "turn home by 90 degrees"
    TURN_PARTNER = "turn partner by 90 degrees"
    TURN_EITHER = "turn home or partner by 90 degrees"

    @property
    def home_turns(self) -> bool:
        """Whether home turns its feed: where either end could, home does."""
        return self in (FeedAdvice.TURN_HOME, FeedAdvice.TURN_EITHER)

    @property
    def partner_turns(self) -> bool:
        """Whether the partner turns its feed."""
        return self is FeedAdvice.TURN_PARTNER


# Who of both can turn, to the advice where one is to be turned.
TURNING = {
    "home": FeedAdvice.TURN_HOME,
    "partner": FeedAdvice.TURN_PARTNER,
    "either": FeedAdvice.TURN_EITHER,
}


def polarization_advice(loss: PolarizationLoss, turned: npt.NDArray[np.bool_]) -> npt.NDArray[np.object_]:
    """The advice at each sample, (n,) members; `turned` (n,) says where a feed stands turned."""
    if not loss.linear:
        return np.full(turned.size, FeedAdvice.NOTHING_TO_TURN, dtype=object)
    if loss.faraday_decides:
        return np.full(turned.size, FeedAdvice.RANDOM, dtype=object)
    if loss.who_can_turn == "neither":
        return np.full(turned.size, FeedAdvice.NEITHER, dtype=object)
    made = np.full(turned.size, FeedAdvice.LEAVE, dtype=object)
    made[turned] = TURNING[loss.who_can_turn]
    return made


def advice_through(samples: pd.DataFrame) -> str:
    """How to set a feed that stands through all these samples of one pair: by what either position loses in all, dB."""
    turned = samples["feed_turned"].to_numpy(dtype=bool)
    lost_db = (samples["polarization_loss_other_db"] - samples["polarization_loss_db"]).to_numpy(float)
    stands_turned = lost_db[turned].sum() > lost_db[~turned].sum()
    return str(samples["polarization_advice"].iloc[int(np.argmax(turned == stands_turned))])


def advice_in(cell: object) -> FeedAdvice | None:
    """The advice of a table's cell; None where none was worked out."""
    return FeedAdvice(cell) if isinstance(cell, str) and cell else None
