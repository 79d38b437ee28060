"""How far from the dial a signal may be heard, and whether the mode still finds it there.

Search width = what both ends' oscillators may be off + what the Doppler shift moves while a dial stands + what it may
be off where a place is known by a locator alone + the dial's own step. Plain sum, so that the signal is inside unless
something is wrong. Limits are judgement, stated on the sheet.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np

from pipeline.ephemeris.sky import LIGHT_KM_PER_S
from pipeline.link.doppler import EARTH_SPIN_RAD_PER_S
from pipeline.operating.dials import SlotDials, dial_step_hz
from pipeline.operating.night_slots import NightSlot

# A receiver passes 2500 Hz (the width in which reports are given): a signal further off than this from the middle of
# it is cut at the edge, whatever the mode.
FOUND_WITHIN_HZ = 1000.0
# A dial is set once a period, for the middle of it, where no mode says how long that is.
PERIOD_S = 60.0
# What an ear follows by itself, and what no decoder has to.
BY_EAR = ("CW", "SSB")


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
    trouble: Trouble | None
    tone_spacing_hz: float
    turn_every_s: int

    @property
    def found(self) -> bool:
        """Whether the mode finds the signal within this width."""
        return self.trouble is not Trouble.TOO_WIDE


def place_hz(uncertainty_km: float, frequency_hz: float) -> float:
    """What the shift may be off where a station is known to this distance: the spin carries it at omega x d more."""
    return EARTH_SPIN_RAD_PER_S * uncertainty_km / LIGHT_KM_PER_S * frequency_hz


def search_of(
    slot: NightSlot,
    home_accuracy_hz: float,
    partner_accuracy_hz: float,
    dials: SlotDials,
    guessed: bool = False,
    home_known_to_km: float = 0.0,
) -> Search:
    """The search of one slot; the drift is that of its fastest minute. `guessed`: the partner's accuracy is assumed."""
    period = slot.mode.period_s if slot.mode else PERIOD_S
    moves = np.abs(dials.receive_a_minute_hz) + np.abs(dials.partner_transmit_a_minute_hz)
    drift = float(moves[: dials.in_slot].max()) / 60.0 * period
    step = dial_step_hz(slot.partner_mhz * 1e6)
    known_to_km = home_known_to_km + slot.partner.position.uncertainty_km
    place = place_hz(known_to_km, slot.partner_mhz * 1e6)
    width = home_accuracy_hz + partner_accuracy_hz + drift / 2 + place + step / 2
    spacing = slot.mode.tone_spacing_hz if slot.mode else 0.0
    by_ear = slot.mode is None or slot.mode.mode in BY_EAR
    trouble = None
    if width > FOUND_WITHIN_HZ:
        trouble = Trouble.TOO_WIDE
    elif not by_ear and drift > spacing:
        trouble = Trouble.TONES_RUN_AWAY
    return Search(
        width_hz=width,
        drift_hz=drift,
        home_accuracy_hz=home_accuracy_hz,
        partner_accuracy_hz=partner_accuracy_hz,
        guessed=guessed,
        place_hz=place,
        known_to_km=known_to_km,
        trouble=trouble,
        tone_spacing_hz=spacing,
        # Kept within half a tone spacing, a tone stays nearer to itself than to its neighbour.
        turn_every_s=max(math.floor(period * spacing / drift), 1) if trouble is Trouble.TONES_RUN_AWAY else 0,
    )
