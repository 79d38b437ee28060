"""How many contacts slots should bring: one figure for agenda, nights, trips, the year and comparisons.

From the slots' chances at each node of station errors, the partners' presence and what assumed skylines leave.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from pipeline.agenda.candidates import Candidates
from pipeline.agenda.commitments import Kept
from pipeline.agenda.joint import chance_together
from pipeline.inputs.model import Partner


def contacts_of(slots: Iterable[Kept], wishes: Sequence[Partner]) -> float:
    """Contacts to expect: for each partner and operator the chance of one at least over its slots.

    Where more than one is wanted (`wishes` by pair) the sum over its slots, as many as are wanted at most. Slots that
    are over bring nothing.
    """
    each: dict[tuple[int, str], list[Candidates]] = {}
    for one in slots:
        if not one.is_over:
            each.setdefault((one.pair, one.operator), []).append(one.slot)
    total = 0.0
    for (pair, _), own in each.items():
        wanted = wishes[pair].contacts_wanted
        total += min(sum(float(one.chance_met[0]) for one in own), wanted) if wanted > 1 else chance_of_one(own)
    return total


def chance_of_one(slots: Sequence[Candidates]) -> float:
    """The chance of one contact at least in slots with the same partner, one row each."""
    success = np.concatenate([one.success_clear for one in slots])
    nights = np.concatenate([one.night for one in slots])
    return chance_together(success, nights, float(slots[0].presence[0]))
