"""Dish against power at one end: the chance on the best night and on the median night in each cell.

The sizes and powers are those of the trade around what the end has; what stands in its file is always among them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.need.by_night import POWER, Pairing
from pipeline.need.reaching import DISH, assignment

FloatArray = npt.NDArray[np.float64]

# Sizes and powers as they are made and built (common practice, no source).
USUAL_DISHES_M = (0.6, 0.75, 0.9, 1.2, 1.5, 1.8, 2.4, 3.0, 3.7, 4.5, 6.0, 7.3, 10.0)
USUAL_POWERS_W = (1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 50.0, 80.0, 120.0, 200.0, 300.0, 500.0, 1000.0, 1500.0)
# So many on either side of what is there.
TO_EITHER_SIDE = 3


@dataclass(frozen=True)
class DishAndPower:
    """Chances at one end's dishes, m (d,), and powers, W (p,): best and median night, (d, p)."""

    end: str
    dishes_m: tuple[float, ...]
    powers_w: tuple[float, ...]
    best: FloatArray
    median: FloatArray


def dish_and_power(pairing: Pairing, end: str) -> DishAndPower | None:
    """The table of one end; None where its antenna is no dish."""
    equipment = pairing.equipment(end)
    if equipment.antenna.dish_diameter_m is None:
        return None
    dishes = around(USUAL_DISHES_M, equipment.antenna.dish_diameter_m)
    powers = around(USUAL_POWERS_W, equipment.power_w)
    cells = [
        [_cell(pairing, end, dish, power) for power in powers]
        for dish in dishes
    ]  # fmt: skip
    both = np.array(cells)
    return DishAndPower(end, dishes, powers, both[..., 0], both[..., 1])


def _cell(pairing: Pairing, end: str, dish_m: float, power_w: float) -> tuple[float, float]:
    """Best and median night; a figure that the file has counts as the file has it, assumed or stated."""
    equipment = pairing.equipment(end)
    tried = [
        assignment(pairing, end, name, value)
        for name, value, now in (
            (DISH, dish_m, equipment.antenna.dish_diameter_m),
            (POWER, power_w, equipment.power_w),
        )
        if value != now
    ]
    found = pairing.chances(tried)
    return found.best, found.median


def around(usual: Sequence[float], now: float) -> tuple[float, ...]:
    """The usual values next to what is there, which stands among them; those within a twentieth of it left out."""
    others = [value for value in usual if abs(value / now - 1.0) > 0.05]
    below, above = [v for v in others if v < now], [v for v in others if v > now]
    return (*below[-TO_EITHER_SIDE:], now, *above[:TO_EITHER_SIDE])
