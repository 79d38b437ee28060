"""Which slots to take in a season too large for the integer program: a good set, and a bound that no set can pass.

By `large_search` and `large_bound`; slots to keep are settled first, as many as can stay, and stay.
"""

from __future__ import annotations

import numpy as np

from pipeline.agenda.large_bound import least_bound
from pipeline.agenda.large_ground import Ground
from pipeline.agenda.large_search import Search
from pipeline.agenda.milp_model import Choice, Problem


def choose_large(problem: Problem, kept: tuple[tuple[int, int], ...] = (), bounded: bool = True) -> Choice:
    """A good set of slots with its bound, infinite unless asked for; `kept` (demand, slot) are in it."""
    ground = Ground(problem)
    fixed = [int(np.flatnonzero((ground.owner == demand) & (ground.slot == slot))[0]) for demand, slot in kept]
    found = Search(ground, fixed).run()
    value = found.value + float(ground.tie[found.every].sum())
    return Choice(
        taken=tuple((int(ground.owner[item]), int(ground.slot[item])) for item in found.every),
        value=value,
        bound=max(value, least_bound(ground, value)) if bounded else np.inf,
        kept=len(fixed),
        nodes=0,
        columns=int(ground.slot.size),
    )
