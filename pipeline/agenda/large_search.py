"""A good set of slots of a large season: night after night as well as the others leave it, nights exchanged, two anew.

From the ground of a `Problem`. Every step keeps all rules and is taken where it gains; their number is bounded by
counts, so that the same problem has the same answer. How good it is, `large_bound` tells.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np
import numpy.typing as npt

from pipeline.agenda.large_ground import Ground, Strip
from pipeline.agenda.milp_model import NEVER, QUANTUM

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# Sequences of one night that are looked at, sweeps over all nights, nights tried in another's place (judgement: with
# twice as many seasons of every kind gained nothing that would be seen).
SEQUENCES, SWEEPS, NIGHTS_TRIED = 24, 12, 3
# Pairs of nights that are given up and filled anew.
RUINS = 40
LEAST_STEP = QUANTUM / 100.0


@dataclass(frozen=True)
class Chosen:
    """A set of items by demand (without those that have none), and what it is worth less all costs and trifles."""

    items: dict[int, tuple[int, ...]]
    value: float

    @cached_property
    def every(self) -> IntArray:
        """The numbers of all items in order, (n,)."""
        return np.sort(np.array([one for mine in self.items.values() for one in mine], dtype=np.int64))


class Search:
    """The search on one ground; `fixed` items are in every set."""

    def __init__(self, ground: Ground, fixed: Iterable[int] = ()) -> None:
        self.ground, self.problem = ground, ground.problem
        self.fixed = frozenset(fixed)
        self._gains: dict[tuple[int, tuple[int, ...]], tuple[FloatArray, IntArray]] = {}
        self._row = np.zeros(ground.slot.size, dtype=np.int64)
        for strip in ground.strips.values():
            self._row[strip.items] = np.arange(strip.items.size)

    def run(self, ruins: int = RUINS) -> Chosen:
        """The best set that was met."""
        best = self._improved(self._filled(self.made(self._by_demand(self.fixed))))
        tried = 0
        while tried < ruins:
            before = best.value
            used = [n for n in self._used(best) if not self._is_held(best, n)]
            for some in combinations(used, min(2, len(used))):
                if tried == ruins:
                    break
                tried += 1
                anew = self._improved(self._filled(self._without(best, some), barred=some[:1]))
                if anew.value > best.value + LEAST_STEP:
                    best = anew
                    break
            if best.value <= before + LEAST_STEP:
                break
        return best

    def made(self, items: dict[int, tuple[int, ...]]) -> Chosen:
        """A set with its value."""
        items = {demand: mine for demand, mine in items.items() if mine}
        chosen = np.array([one for mine in items.values() for one in mine], dtype=np.int64)
        total = sum(self._worth(demand, mine) for demand, mine in items.items())
        total -= float(self.ground.tie[chosen].sum())
        for night in np.unique(self.ground.night[chosen]):
            rows = self._row[chosen[self.ground.night[chosen] == night]]
            total -= self.ground.strips[int(night)].spent(rows.tolist())
        return Chosen(items, total)

    def _by_demand(self, items: Iterable[int]) -> dict[int, tuple[int, ...]]:
        found: dict[int, tuple[int, ...]] = {}
        for item in sorted(items):
            owner = int(self.ground.owner[item])
            found[owner] = (*found.get(owner, ()), item)
        return found

    def _worth(self, demand: int, mine: tuple[int, ...]) -> float:
        if self.problem.demands[demand].pair_worth is not None and len(mine) == 2:
            part = self.ground.of[demand]
            return float(self.ground.together(mine[0])[mine[1] - part.start])
        return float(self.ground.worth[list(mine)].sum())

    def _used(self, chosen: Chosen) -> list[int]:
        return np.unique(self.ground.night[chosen.every]).tolist()

    def _is_held(self, chosen: Chosen, night: int) -> bool:
        """Whether a night must stay: it costs nothing, or something fixed lies there."""
        return bool(self.problem.open_nights[night]) or any(self.ground.night[one] == night for one in self.fixed)

    def _may_open(self, chosen: Chosen, night: int) -> bool:
        if self.problem.open_nights[night]:
            return True
        new = {one for one in self._used(chosen) if not self.problem.open_nights[one]}
        return night in new or len(new) < self.problem.most_nights

    def _gain(self, demand: int, rest: tuple[int, ...]) -> tuple[FloatArray, IntArray]:
        """What each item of a demand adds beside the rest, (n,), and which of them goes for it, -1 where none."""
        key = (demand, rest)
        if key not in self._gains:
            self._gains[key] = self._gain_anew(demand, rest)
        return self._gains[key]

    def _gain_anew(self, demand: int, rest: tuple[int, ...]) -> tuple[FloatArray, IntArray]:
        part = self.ground.of[demand]
        worth, tie = self.ground.worth[part], self.ground.tie[part]
        now = self._worth(demand, rest)
        asked = self.problem.demands[demand]
        most = 2 if asked.pair_worth is not None else asked.most
        # Beside all that stays, then in the place of each that may go.
        options = [(rest, -1)] if len(rest) < most else []
        options += [(tuple(one for one in rest if one != gone), gone) for gone in rest if gone not in self.fixed]
        value, goes = np.full(worth.size, NEVER), np.full(worth.size, -1)
        for stay, gone in options:
            if asked.pair_worth is not None:
                with_it = self.ground.together(stay[0]) if stay else worth
            else:
                with_it = worth + float(self.ground.worth[list(stay)].sum())
            here = with_it - now + (0.0 if gone < 0 else self.ground.tie[gone])
            value, goes = np.maximum(value, here), np.where(here > value, gone, goes)
        return value - tie, goes

    def _gains_of(self, chosen: Chosen, night: int) -> tuple[Strip, FloatArray, IntArray]:
        """A night's items beside what is chosen on the other nights: gains (n,) and what goes for each (n,)."""
        strip = self.ground.strips[night]
        gain, goes = np.empty(strip.items.size), np.empty(strip.items.size, dtype=np.int64)
        for demand, part in strip.parts.items():
            rest = tuple(one for one in chosen.items.get(demand, ()) if self.ground.night[one] != night)
            value, gone = self._gain(demand, rest)
            places = strip.items[part] - self.ground.of[demand].start
            gain[part], goes[part] = value[places], gone[places]
        # Where the slots of the nights beside it reach into this one.
        beside = chosen.every[np.abs(self.ground.night[chosen.every] - night) == 1]
        for other in beside:
            clash = (strip.start < self.ground.busy_until[other]) & (
                self.ground.busy_until[strip.items] > self.ground.start[other]
            )
            gain[clash] = NEVER
        return strip, gain, goes

    def _without(self, chosen: Chosen, nights: tuple[int, ...]) -> Chosen:
        return self.made(
            {
                demand: tuple(one for one in mine if self.ground.night[one] not in nights)
                for demand, mine in chosen.items.items()
            }
        )

    def _anew(self, chosen: Chosen, night: int) -> Chosen:
        """The set with one night chosen anew, others as they are; at least as good."""
        strip, gain, goes = self._gains_of(chosen, night)
        if any(self.ground.night[one] == night for one in self.fixed):
            return chosen
        _, rows = strip.best(gain, {}, SEQUENCES)
        items = {
            demand: tuple(one for one in mine if self.ground.night[one] != night)
            for demand, mine in chosen.items.items()
        }
        for row in rows:
            item, gone = int(strip.items[row]), int(goes[row])
            owner = int(self.ground.owner[item])
            items[owner] = (*(one for one in items.get(owner, ()) if one != gone), item)
        found = self._with_more(self.made(items), night)
        return found if found.value > chosen.value + LEAST_STEP else chosen

    def _with_more(self, chosen: Chosen, night: int) -> Chosen:
        """The set with further slots of a night put in where they gain, also second ones of the same night."""
        strip = self.ground.strips[night]
        while True:
            mine = chosen.every[self.ground.night[chosen.every] == night]
            if mine.size >= strip.room or not self._may_open(chosen, night):
                return chosen
            clash = np.zeros(strip.items.size, dtype=bool)
            for other in chosen.every[np.abs(self.ground.night[chosen.every] - night) <= 1]:
                clash |= (strip.start < self.ground.busy_until[other]) & (
                    self.ground.busy_until[strip.items] > self.ground.start[other]
                )
            gain = np.full(strip.items.size, NEVER)
            for demand, part in strip.parts.items():
                value, gone = self._gain(demand, chosen.items.get(demand, ()))
                places = strip.items[part] - self.ground.of[demand].start
                gain[part] = np.where(gone[places] < 0, value[places], NEVER)
            gain = np.where(clash, NEVER, gain)
            row = int(np.argmax(gain))
            if gain[row] <= 0.0:
                return chosen
            item = int(strip.items[row])
            owner = int(self.ground.owner[item])
            more = self.made({**chosen.items, owner: (*chosen.items.get(owner, ()), item)})
            if more.value <= chosen.value + LEAST_STEP:
                return chosen
            chosen = more

    def _promise(self, chosen: Chosen, night: int) -> float:
        """What a night not in use could add at most, contacts."""
        strip, gain, _ = self._gains_of(chosen, night)
        return strip.chain(gain)[0] - strip.cost

    def _filled(self, chosen: Chosen, barred: tuple[int, ...] = ()) -> Chosen:
        """Nights taken into use one by one, that which adds most first; those barred last of all."""
        for allowed in ([n for n in self.ground.strips if n not in barred], list(self.ground.strips)):
            while True:
                used = self._used(chosen)
                open_to = [n for n in allowed if n not in used and self._may_open(chosen, n)]
                better = self._best_of(chosen, open_to)
                if better is chosen:
                    break
                chosen = better
        return chosen

    def _best_of(self, chosen: Chosen, nights: list[int]) -> Chosen:
        """The set with the one of these nights that adds most; the set itself where none adds anything."""
        promise = np.array([self._promise(chosen, night) for night in nights])
        best = chosen
        for place in np.argsort(-promise, kind="stable")[:NIGHTS_TRIED]:
            if chosen.value + promise[place] <= best.value + LEAST_STEP:
                break
            found = self._anew(chosen, nights[int(place)])
            best = found if found.value > best.value + LEAST_STEP else best
        return best

    def _improved(self, chosen: Chosen) -> Chosen:
        """Sweeps over all nights until nothing gains."""
        for _ in range(SWEEPS):
            before = chosen.value
            for night in self.ground.strips:
                if self._may_open(chosen, night):
                    chosen = self._anew(chosen, night)
                    chosen = self._with_more(chosen, night)
            for night in self._used(chosen):
                if not self._is_held(chosen, night):
                    chosen = self._exchanged(chosen, night)
            if chosen.value <= before + LEAST_STEP:
                break
        return chosen

    def _exchanged(self, chosen: Chosen, night: int) -> Chosen:
        """The set with another night in the place of this one, or none, where that gains."""
        less = self._without(chosen, (night,))
        used = self._used(less)
        best = self._best_of(less, [n for n in self.ground.strips if n not in used and self._may_open(less, n)])
        return best if best.value > chosen.value + LEAST_STEP else chosen
