"""The chance of a contact in one call: the chain at every node of station errors, averaged over them."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from pipeline.link.chance import STATION_SPREAD_DB, chance_of, success_by_node


def chance_of_contact(
    at_responder_db: npt.ArrayLike,
    at_opener_db: npt.ArrayLike,
    messages: int,
    spread_db: npt.ArrayLike = STATION_SPREAD_DB,
    spread_at_opener_db: npt.ArrayLike | None = None,
) -> npt.NDArray[np.float64]:
    """Probability, (n,); one spread for both directions, or the responder's and the opener's."""
    opener_db = spread_db if spread_at_opener_db is None else spread_at_opener_db
    return chance_of(success_by_node(at_responder_db, at_opener_db, messages, spread_db, opener_db))
