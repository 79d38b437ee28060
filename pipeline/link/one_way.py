"""Who of two ends hears the other after some periods: both, one alone, or neither.

The story and the grid of station errors are those of `link.chance`: an end hears once one of its periods decodes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from pipeline.link.chance import FADING_SPREAD_DB, error_nodes, node_weights


@dataclass(frozen=True)
class WhoHears:
    """Probabilities that add up to 1."""

    both: float
    home_alone: float
    partner_alone: float
    neither: float


def who_hears(
    margin_at_home_db: float,
    margin_at_partner_db: float,
    spread_at_home_db: float,
    spread_at_partner_db: float,
    periods: int,
) -> WhoHears:
    """After this many periods each way, at mean margins (dB) with the spreads of the station error of each way (dB)."""
    error_home, error_partner = error_nodes()

    def hears(margin_db: float, spread_db: float, error: np.ndarray) -> np.ndarray:
        decodes = ndtr((margin_db + spread_db * error) / FADING_SPREAD_DB)
        return np.asarray(1.0 - (1.0 - decodes) ** periods)

    weight = node_weights()
    home = hears(margin_at_home_db, spread_at_home_db, error_home)
    partner = hears(margin_at_partner_db, spread_at_partner_db, error_partner)
    shares = (home * partner, home * (1.0 - partner), (1.0 - home) * partner, (1.0 - home) * (1.0 - partner))
    return WhoHears(*(float(share @ weight) for share in shares))


def periods_for(margin_db: float, share: float, most: int) -> int:
    """Periods until one decodes with this probability at the margin foretold (dB), fading alone; at most `most`."""
    decodes = float(ndtr(margin_db / FADING_SPREAD_DB))
    if decodes >= share:
        return 1
    if decodes <= 0.0:
        return most
    return int(min(np.ceil(np.log(1.0 - share) / np.log1p(-decodes)), most))
