"""The chance of a contact in slots of home and a partner, from the margins at both ends in the middle of each period.

Who opens decides which end's margin counts in which period; the chance itself by `link.chance`.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from pipeline.inputs.modes import Mode
from pipeline.link.chance import shortest_success, success_by_node

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

# A period that ends by less than this behind the slot is in it, s.
SMALL_S = 1e-6


def period_middles(length_s: FloatArray, period_s: float) -> tuple[FloatArray, BoolArray]:
    """Middles of the periods of slots of these lengths (n,): s after the slot's start, (periods,), as many as fit the
    longest; and which of them each slot holds whole, (n, periods).
    """
    number = np.arange(int((length_s.max(initial=0.0) + SMALL_S) // period_s), dtype=np.float64)
    return (number + 0.5) * period_s, (number + 1) * period_s <= length_s[:, None] + SMALL_S


def success_in_slots(
    mode: Mode, margins_db: dict[str, FloatArray], spreads_db: Mapping[str, npt.ArrayLike], home_opens: npt.ArrayLike
) -> FloatArray:
    """Probability of a contact in each slot at every node of station errors, (n, nodes): `chance_of` makes it one.

    `margins_db` at `home` and at `partner` in the middle of each period, (n, periods), NaN past a slot's end;
    `spreads_db` of the station error of the way to each of them and `home_opens`, one for all or (n,).
    """
    opens = np.broadcast_to(np.asarray(home_opens, dtype=bool), margins_db["home"].shape[:1])
    home, partner = (np.broadcast_to(np.asarray(spreads_db[end], float), opens.shape) for end in ("home", "partner"))
    at_home, at_partner = margins_db["home"], margins_db["partner"]
    return success_by_node(
        np.where(opens[:, None], at_partner, at_home),
        np.where(opens[:, None], at_home, at_partner),
        mode.messages,
        np.where(opens, partner, home),
        np.where(opens, home, partner),
    )


def shortest_success_in_slots(
    mode: Mode,
    margins_db: dict[str, FloatArray],
    spreads_db: Mapping[str, float],
    home_opens: bool,
    periods: npt.NDArray[np.int64],
) -> tuple[FloatArray, npt.NDArray[np.int64]]:
    """The same, (n, nodes), in the shortest of some lengths that costs hardly any chance, and which of them, (n,).

    Lengths in `periods`, (n, k), rising along each row; spreads and opener are those of all slots.
    """
    opener, responder = ("home", "partner") if home_opens else ("partner", "home")
    return shortest_success(
        margins_db[responder],
        margins_db[opener],
        mode.messages,
        periods,
        float(spreads_db[responder]),
        float(spreads_db[opener]),
    )
