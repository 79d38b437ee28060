"""The least dish or power, the highest noise figure, at either end with which the best night reaches a chance; modes.

One figure is tried at a time, all others as the files say. A chance need not rise with each tenth of a metre, a narrow
beam misses the Moon more easily: so dishes are tried in steps first, and the first that does is closed in on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.absence.changes import Assignment, assignment_words
from pipeline.absence.upgrades import LARGEST_DISH_M
from pipeline.need.by_night import ENDS, POWER, Pairing

DISH, NOISE, MODES = "dish_diameter_m", "noise_figure_db", "modes"
# Tried from the small end; the first that does is closed in on to a tenth of a metre.
DISHES_M = (0.3, 0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, LARGEST_DISH_M)
# From the noisy end by tenths of a decibel; no preamplifier of the trade betters the last one (judgement).
NOISES_DB = tuple(tenths / 10.0 for tenths in range(60, 1, -1))
# As far as powers are looked for around what is there, dB; nobody has more than the most, W (judgement).
LESS_POWER_DB, MORE_POWER_DB, MOST_POWER_W = -20, 13, 1500.0


@dataclass(frozen=True)
class Reach:
    """One figure at one end: what stands there, and for each chance asked for the least that does; None: none tried.

    `changes` are the words that `--what-if` takes, empty where nothing does or what is there does already.
    """

    end: str
    figure: str
    now: float
    values: tuple[float | None, ...]
    changes: tuple[str, ...]


@dataclass(frozen=True)
class ModeTried:
    """A mode that an end lacks: the chance with it on the best night, and the change at each end that lacks it."""

    mode: str
    chance: float
    changes: tuple[str, ...]


def reaches_of(pairing: Pairing, thresholds: Sequence[float]) -> tuple[Reach, ...]:
    """Dish, power and noise figure of both ends; a dish only where the file has one."""
    found = []
    for end in ENDS:
        equipment = pairing.equipment(end)
        if equipment.antenna.dish_diameter_m is not None:
            found.append(_reach(pairing, end, DISH, equipment.antenna.dish_diameter_m, _dish, thresholds))
        found.append(_reach(pairing, end, POWER, equipment.power_w, _power, thresholds))
        found.append(_reach(pairing, end, NOISE, equipment.noise_figure_db, _noise, thresholds))
    return tuple(found)


def assignment(pairing: Pairing, end: str, figure: str, value: Any) -> Assignment:
    """A value put at a figure of one end."""
    names = ("antenna", figure) if figure == DISH else (figure,)
    return Assignment(end, pairing.key(*names), value)


Search = Callable[[Pairing, str, float], float | None]


def _reach(pairing: Pairing, end: str, figure: str, now: float, search: Search, thresholds: Sequence[float]) -> Reach:
    values = tuple(search(pairing, end, one) for one in thresholds)
    does = [value is not None and (value >= now if figure == NOISE else value <= now) for value in values]
    changes = tuple(
        "" if value is None or done else assignment_words(pairing.inputs, 0, assignment(pairing, end, figure, value))
        for value, done in zip(values, does, strict=True)
    )
    return Reach(end, figure, now, values, changes)


def _does(pairing: Pairing, end: str, figure: str, threshold: float) -> Callable[[float], bool]:
    return lambda value: pairing.chances([assignment(pairing, end, figure, value)]).best >= threshold


def _dish(pairing: Pairing, end: str, threshold: float) -> float | None:
    return _closed_in(_does(pairing, end, DISH, threshold), DISHES_M, 0.1)


def _noise(pairing: Pairing, end: str, threshold: float) -> float | None:
    return _first(_does(pairing, end, NOISE, threshold), NOISES_DB)


def _power(pairing: Pairing, end: str, threshold: float) -> float | None:
    """Two digits, rounded up: of the powers so written the least that does."""
    now, does = pairing.equipment(end).power_w, _does(pairing, end, POWER, threshold)
    most = min(now * 10.0 ** (MORE_POWER_DB / 10.0), max(MOST_POWER_W, now))
    tried = [value for value in two_digit_values(now * 10.0 ** (LESS_POWER_DB / 10.0)) if value <= most]
    return _first(does, tried)


def _first(does: Callable[[float], bool], tried: Sequence[float]) -> float | None:
    """The first of some values that does, where each behind one that does does too; None where the last does not."""
    if not does(tried[-1]):
        return None
    low, high = -1, len(tried) - 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if does(tried[middle]) else (middle, high)
    return tried[high]


def two_digit_values(least: float) -> Iterator[float]:
    """Numbers of two digits from the first that is not below `least` up to a hundred thousand times as much."""
    scale = 1e-3
    while scale * 99 < least:
        scale *= 10.0
    first = scale
    while scale < first * 1e5:
        yield from (float(f"{digits * scale:.2g}") for digits in range(10, 100) if digits * scale >= least)
        scale *= 10.0


def _closed_in(does: Callable[[float], bool], steps: Sequence[float], grain: float) -> float | None:
    """The first of `steps` that does, drawn back towards the one before it as far as still does, in grains."""
    place = next((place for place, value in enumerate(steps) if does(value)), None)
    if place is None:
        return None
    if place == 0:
        return steps[0]
    bad, good = steps[place - 1], steps[place]
    count = round((good - bad) / grain)
    return _first(does, [round(bad + (good - bad) * step / count, 6) for step in range(1, count + 1)])


def modes_tried(pairing: Pairing) -> tuple[ModeTried, ...]:
    """Every mode of the mode table that the ends do not share, with its chance alone; the best first."""
    own = {end: pairing.equipment(end).modes for end in ENDS}
    found = []
    for mode in dict.fromkeys(one.mode for one in pairing.inputs.modes):
        lacking = [end for end in ENDS if mode not in own[end]]
        if not lacking:
            continue
        alone = [assignment(pairing, end, MODES, (mode,)) for end in ENDS]
        added = [assignment(pairing, end, MODES, (*own[end], mode)) for end in lacking]
        changes = tuple(assignment_words(pairing.inputs, 0, one) for one in added)
        found.append(ModeTried(mode, pairing.chances(alone).best, changes))
    return tuple(sorted(found, key=lambda one: (-one.chance, one.mode)))
