"""Which sets of slots of a few nights can be part of anything better than what is known: a sieve night by night.

From what sets are worth and what slots of one demand on two nights lose. Each night in turn takes in what the losses
leave of it at best, tells its worth anew to them in equal parts, and lets go of sets that fall short: the dual of the
choice by blocks (Globerson and Jaakkola 2007, Advances in Neural Information Processing Systems 20, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from pipeline.agenda.milp_model import NEVER
from pipeline.agenda.night_sets import Sets

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
# Two nights, and a demand that both serve.
Link = tuple[tuple[int, int], int]

# Sums of the same values in another order differ by less.
ROUNDING = 1e-9
# So few sets of all nights together are looked at as they are; so many rounds at most are tried to get there.
FEW, ROUNDS = 3_000, 8


class Sieve:
    """Sets of one choice of each night, by their rows (k,), and the demands that two nights both serve."""

    def __init__(self, nights: Sequence[Sets], rows: Sequence[IntArray], links: Sequence[Link]) -> None:
        self.nights, self.rows, self.links = nights, list(rows), links
        self.values = [one.value[mine] for one, mine in zip(nights, rows, strict=True)]
        # What nights have without their links, and what each link is told of a night's slots.
        self.left = [float(value.max()) for value in self.values]
        self.told: dict[tuple[int, int], FloatArray] = {}
        self.beyond = []
        for pair, demand in links:
            slots = [nights[night].slots_of(demand)[0] for night in pair]
            self.told |= {(night, demand): np.zeros(mine.size) for night, mine in zip(pair, slots, strict=True)}
            self.beyond.append(nights[0].source.both[slots[0][:, None], slots[1]])

    def above(self, known: float) -> list[IntArray]:
        """Of each night the rows (k,) of sets that could be part of anything above what is known."""
        for _ in range(ROUNDS):
            before = self.size
            for night in range(len(self.values)):
                self._look(night, known)
                if not self.rows[night].size:
                    return self.rows
            if self.size <= FEW or self.size == before:
                break
        return self.rows

    @property
    def size(self) -> int:
        """How many combinations of sets there are."""
        return int(np.prod([mine.size for mine in self.rows]))

    def _look(self, night: int, known: float) -> None:
        """Lets go of sets of one night, and tells its links anew what its slots are worth."""
        rows = self.rows[night]
        at_best, elsewhere = {}, sum(self.left) - self.left[night]
        for (pair, demand), beyond in zip(self.links, self.beyond, strict=True):
            first, second = (self.told[one, demand] for one in pair)
            if night == pair[0]:
                at_best[demand] = (beyond + second).max(axis=1)
            elif night == pair[1]:
                at_best[demand] = (beyond + first[:, None]).max(axis=0)
            else:
                elsewhere += float((beyond + first[:, None] + second).max())
        place = {demand: self.nights[night].slots_of(demand)[1][rows] for demand in at_best}
        whole = self.values[night] + sum(best[place[demand]] for demand, best in at_best.items())
        fit = np.flatnonzero(whole + elsewhere > known - ROUNDING)
        self.rows[night], self.values[night], whole = rows[fit], self.values[night][fit], whole[fit]
        rest = whole
        for demand, best in at_best.items():
            mine, most = place[demand][fit], np.full(best.size, NEVER)
            np.maximum.at(most, mine, whole)
            part = most / len(at_best)
            self.told[night, demand] = np.subtract(part, best, out=most, where=most > NEVER)
            rest = rest - part[mine]
        self.left[night] = float(rest.max(initial=NEVER))
