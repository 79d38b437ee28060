"""How far from the dial a signal may be heard, and whether the mode still finds it there.

The width is that of `planning.search_width`; limits are judgement, stated on the sheet.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from pipeline.inputs.modes import BY_EAR
from pipeline.operating.search_width import place_hz, search_width_hz
from pipeline.plan.views import Slot

# A receiver passes 2500 Hz (the width in which reports are given): a signal further off than this from the middle of
# it is cut at the edge, whatever the mode.
FOUND_WITHIN_HZ = 1000.0
# A dial is set once a period, for the middle of it, where no mode says how long that is.
PERIOD_S = 60.0


class Trouble(Enum):
    """What stands against finding the signal."""

    TOO_WIDE = "too wide"
    TONES_RUN_AWAY = "tones run away"


@dataclass(frozen=True)
class Search:
    """`width_hz` to either side, of which the others are parts; `drift_hz` in one period where the dial stands.

    `guessed`: the partner's accuracy is assumed. `turn_every_s`: how often the dial is turned by one tone's spacing
    where the tones run away.
    """

    width_hz: float
    drift_hz: float
    home_accuracy_hz: float
    partner_accuracy_hz: float
    guessed: bool
    place_hz: float
    known_to_km: float
    troubles: tuple[Trouble, ...]
    tone_spacing_hz: float
    turn_every_s: int

    @property
    def found(self) -> bool:
        """Whether the mode finds the signal within this width."""
        return Trouble.TOO_WIDE not in self.troubles

    @property
    def settings(self) -> int:
        """How many settings of the dial, twice `FOUND_WITHIN_HZ` apart, cover the width."""
        return max(math.ceil(self.width_hz / FOUND_WITHIN_HZ), 1)


def search_of(
    slot: Slot,
    home_accuracy_hz: float,
    partner_accuracy_hz: float,
    moves_hz_per_s: float,
    guessed: bool = False,
    home_known_to_km: float = 0.0,
) -> Search:
    """The search of one slot; `moves_hz_per_s` is its fastest. `guessed`: the partner's accuracy is assumed."""
    period = slot.mode.period_s if slot.mode else PERIOD_S
    drift = moves_hz_per_s * period
    known_to_km = home_known_to_km + slot.partner.position.uncertainty_km
    place = place_hz(known_to_km, slot.partner_mhz * 1e6)
    width = search_width_hz(home_accuracy_hz + partner_accuracy_hz, drift, known_to_km, slot.partner_mhz)
    spacing = slot.mode.tone_spacing_hz if slot.mode else 0.0
    by_ear = slot.mode is None or slot.mode.mode in BY_EAR
    runs_away = not by_ear and drift > spacing
    troubles = (
        *((Trouble.TOO_WIDE,) if width > FOUND_WITHIN_HZ else ()),
        *((Trouble.TONES_RUN_AWAY,) if runs_away else ()),
    )
    return Search(
        width_hz=width,
        drift_hz=drift,
        home_accuracy_hz=home_accuracy_hz,
        partner_accuracy_hz=partner_accuracy_hz,
        guessed=guessed,
        place_hz=place,
        known_to_km=known_to_km,
        troubles=troubles,
        tone_spacing_hz=spacing,
        # Kept within half a tone spacing, a tone stays nearer to itself than to its neighbour.
        turn_every_s=max(math.floor(period * spacing / drift), 1) if runs_away else 0,
    )
