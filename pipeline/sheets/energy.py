"""Ampere-hours a night takes from the battery, and whether it has them.

Plain arithmetic on the station's own figures: the transmitter's current for half of each slot, since periods
alternate; the receiver's for the rest of the stay; all else throughout.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.wording.safe_side import rounded

# Share of a slot that is sent when the two ends alternate period by period.
DUTY = 0.5
# Above this share of what is usable a night is called tight: batteries age, and cold takes a part of them.
TIGHT_SHARE = 0.75


@dataclass(frozen=True)
class Energy:
    """Ampere-hours needed and usable, and the hours behind them."""

    needed_ah: float
    usable_ah: float
    stay_h: float
    transmit_h: float

    @property
    def short_ah(self) -> float:
        """What is missing by the figures that are printed, whole ampere-hours; nought or less where it is enough."""
        return rounded(self.needed_ah, "up") - rounded(self.usable_ah, "down")

    @property
    def verdict(self) -> Literal["enough", "tight", "not enough"]:
        """Tight above three quarters of what is usable."""
        if self.short_ah > 0.0:
            return "not enough"
        return "tight" if self.needed_ah > TIGHT_SHARE * self.usable_ah else "enough"


def night_energy(
    capacity_ah: float,
    usable_fraction: float,
    receive_a: float,
    transmit_a: float,
    other_a: float,
    stay_h: float,
    slots_h: float,
) -> Energy:
    """A stay of so many hours with slots of so many in it; currents in amperes at the battery."""
    transmit = DUTY * slots_h
    needed = other_a * stay_h + receive_a * (stay_h - transmit) + transmit_a * transmit
    return Energy(needed, capacity_ah * usable_fraction, stay_h, transmit)
