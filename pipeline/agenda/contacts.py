"""How many contacts slots should bring: one figure for agenda, trips and comparisons.

From the slots' chances at each node of station errors.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from pipeline.agenda.candidates import Candidates
from pipeline.agenda.commitments import Kept
from pipeline.inputs.model import Partner
from pipeline.link.chance import joint_chance, node_weights


def contacts_of(slots: Iterable[Kept], wishes: Sequence[Partner]) -> float:
    """Contacts to expect: for each partner and operator the chance of one at least over its slots.

    Where more than one is wanted (`wishes` by pair) the sum over its slots, as many as are wanted at most.
    """
    each: dict[tuple[int, str], list[Candidates]] = {}
    for one in slots:
        each.setdefault((one.pair, one.operator), []).append(one.slot)
    total = 0.0
    for (pair, _), own in each.items():
        wanted = wishes[pair].contacts_wanted
        total += min(sum(float(one.chance[0]) for one in own), wanted) if wanted > 1 else chance_of_one(own)
    return total


def chance_of_one(slots: Sequence[Candidates]) -> float:
    """The chance of one contact at least in slots with the same partner, one row each."""
    if len(slots) == 1:
        return float(slots[0].chance[0])
    fails = np.ones(node_weights().size)
    for one in slots[1:]:
        fails = fails * (1.0 - one.success[0])
    return float(joint_chance(slots[0].success, (1.0 - fails)[None])[0, 0])
