"""What sets of several nights are worth together at most, by whom each serves: so that few are looked at closer.

From the sets of each night. Two slots of one demand on two nights are worth less than each alone; such a loss is
bounded together with what the sets that hold these slots fall short of their night's best.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import combinations

import numpy as np
import numpy.typing as npt

from pipeline.agenda.milp_model import NEVER
from pipeline.agenda.night_sets import Sets

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]
Pair = tuple[int, int]


@dataclass(frozen=True)
class Grid:
    """All combinations of one choice of each night, (c, d) or (c, d, e): each night's best set, and a bound.

    `value` of the best sets each for itself, `real` together; `bound` of any sets. NEVER where somebody would have more
    slots than may be. `shared` by two nights are the bits (c, d) of demands that both choices serve.
    """

    choices: tuple[IntArray, ...]
    value: FloatArray
    real: FloatArray
    bound: FloatArray
    shared: Mapping[Pair, IntArray]

    def picks(self, places: IntArray) -> list[IntArray]:
        """The choice of each night, (m,) each, of combinations by their place (m,) in the grid."""
        return [mine[at] for mine, at in zip(self.choices, np.unravel_index(places, self.value.shape), strict=True)]

    def shared_at(self, places: IntArray) -> dict[Pair, IntArray]:
        """The demands that two nights of these combinations (m,) share, as bits."""
        at = np.unravel_index(places, self.value.shape)
        return {(one, other): bits[at[one], at[other]] for (one, other), bits in self.shared.items()}


def bits_of(demands: int) -> list[int]:
    """The demands whose bits are set."""
    return [demand for demand in range(demands.bit_length()) if (demands >> demand) & 1]


def make_grid(nights: Sequence[Sets], choices: Sequence[IntArray], cost: float) -> Grid:
    """The grid of some choices (c,) of each of two or three nights; what a night costs."""
    count = len(nights)
    every = list(zip(nights, choices, strict=True))
    slots = [_best_slots(night) for night in nights]
    value = _sum([_along(night.best[mine], count, place) for place, (night, mine) in enumerate(every)])
    # A second bound: everybody at its best slot, whatever else a night holds.
    loose = _sum(
        [
            _along(_each_at_best(night, mine, best) - cost, count, place)
            for place, ((night, mine), best) in enumerate(zip(every, slots, strict=True))
        ]
    )
    real, bound, shared = value, value, {}
    for one, other in combinations(range(count), 2):
        two = every[one], every[other]
        bits = two[0][0].served[0][two[0][1]][:, None] & two[1][0].served[0][two[1][1]]
        more, from_best = _losses(two, bits, (slots[one], slots[other]))
        fit = ~_too_many(two)
        shared[one, other] = bits
        real = real + _along(np.where(fit, _between_best(two), NEVER), count, one, other)
        bound = bound + _along(np.where(fit, more, NEVER), count, one, other)
        loose = loose + _along(from_best, count, one, other)
    bound = np.minimum(bound, loose)
    if count > 2:
        fit = ~_too_many(every)
        real, bound = np.where(fit, real, NEVER), np.where(fit, bound, NEVER)
    return Grid(tuple(choices), value, real, bound, shared)


def closer_bounds(nights: Sequence[Sets], picks: Sequence[IntArray], shared: Mapping[Pair, IntArray]) -> FloatArray:
    """A closer bound of combinations (m,) of one choice of each night.

    What a set falls short of its choice's best is told in equal parts to all losses that it has a slot in. Of each
    loss, with its parts, the least is found by itself.
    """
    links = [(pair, demand) for pair, bits in shared.items() for demand in bits_of(_any(bits))]
    parts = [np.zeros(mine.size, dtype=np.int64) for mine in picks]
    for pair, demand in links:
        for place in pair:
            parts[place] += (shared[pair] >> demand) & 1
    total = np.sum([night.best[mine] for night, mine in zip(nights, picks, strict=True)], axis=0)
    for pair, demand in links:
        some = np.flatnonzero((shared[pair] >> demand) & 1)
        one, other = ((nights[place], picks[place][some], parts[place][some]) for place in pair)
        total[some] -= _least_loss(demand, one, other)
    return np.asarray(total)


def _least_loss(
    demand: int, one: tuple[Sets, IntArray, IntArray], other: tuple[Sets, IntArray, IntArray]
) -> FloatArray:
    """The least that two slots of a demand on two nights cost, (m,): nights with their choices and parts (m,)."""
    here, there = (night.slots_of(demand)[0] for night, _, _ in (one, other))
    night, choice, parts = one
    # Many combinations have the first night's choice and parts in common.
    scale = int(parts.max()) + 1
    kinds, place = np.unique(choice * scale + parts, return_inverse=True)
    choice, parts = np.divmod(kinds, scale)
    short, reached = _short(night, choice, parts, here), np.full((choice.size, there.size), NEVER)
    for slot, beyond in enumerate(night.source.both[here[:, None], there]):
        np.maximum(reached, short[:, slot, None] + beyond, out=reached)
    return -np.asarray((reached[place.ravel()] + _short(*other, there)).max(axis=1))


def _short(night: Sets, choice: IntArray, parts: IntArray, slots: IntArray) -> FloatArray:
    """A part of what the sets of choices (m,) that hold slots (k,) fall short of the choice's best, (m, k)."""
    return np.asarray((night.best_with[choice[:, None], slots] - night.best[choice, None]) / parts[:, None])


def _any(bits: IntArray) -> int:
    """The bits that are set in any."""
    return int(np.bitwise_or.reduce(bits, axis=None, initial=0))


def _along(values: FloatArray, axes: int, *places: int) -> FloatArray:
    """Values of one or two nights, along their axes among all."""
    shape = iter(values.shape)
    return values.reshape([next(shape) if axis in places else 1 for axis in range(axes)])


def _sum(parts: Sequence[FloatArray]) -> FloatArray:
    """The sum of arrays whose shapes broadcast."""
    return np.asarray(reduce(np.add, parts))


def _best_slots(night: Sets) -> FloatArray:
    """What the best slot of each demand in any set of a night is worth, (demands,)."""
    best = np.zeros(night.source.most.size)
    np.maximum.at(best, night.source.demand[night.held], night.source.worth[night.held])
    return best


def _each_at_best(night: Sets, choice: IntArray, best: FloatArray) -> FloatArray:
    """What the demands of each choice (c,) are worth if each had a night's best slot (demands,), as often as served."""
    return _sum([((bits[choice, None] >> np.arange(best.size)) & 1) @ best for bits in night.served])


def _losses(
    two: Sequence[tuple[Sets, IntArray]], shared: IntArray, best: Sequence[FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """What slots that two nights share have at most beyond each alone, (c, d), below nought; and beyond the best."""
    more, from_best, source = np.zeros(shared.shape), np.zeros(shared.shape), two[0][0].source
    for demand in bits_of(_any(shared)):
        both = (shared >> demand) & 1
        here, there = (night.slots_of(demand)[0] for night, _ in two)
        beyond = source.both[here[:, None], there]
        together = source.worth[here][:, None] + source.worth[there] + beyond
        more[both > 0] += beyond.max()
        from_best[both > 0] += together.max() - sum(float(one[demand]) for one in best)
    return more, from_best


def _between_best(two: Sequence[tuple[Sets, IntArray]]) -> FloatArray:
    """What the slots of the best sets of two nights' choices have beyond each alone, (c, d)."""
    source = two[0][0].source
    size = source.demand.size
    both = np.zeros((size + 1, size + 1))  # the last place is that of -1: no item
    both[:size, :size] = np.where(source.demand[:, None] == source.demand, source.both, 0.0)
    first, second = (night.items[night.begins[choice]] for night, choice in two)
    return _sum([both[one[:, None], other] for one in first.T for other in second.T])


def _too_many(nights: Sequence[tuple[Sets, IntArray]]) -> BoolArray:
    """Where the choices of nights together give somebody more slots than may be, (c, d) or (c, d, e)."""
    bits = [[each[choice] for each in night.served] for night, choice in nights]
    found = np.zeros([choice.size for _, choice in nights], dtype=bool)
    most = nights[0][0].source.most
    for demand in bits_of(_any(np.concatenate([one[0] for one in bits]))):
        each = [np.sum([(one >> demand) & 1 for one in mine], axis=0, dtype=float) for mine in bits]
        if sum(one.max() for one in each) > most[demand]:
            found |= _sum([_along(one, len(nights), place) for place, one in enumerate(each)]) > most[demand]
    return found
