"""How far from the dial a signal may be heard, and whether the mode still finds it there.

Search width = what both ends' oscillators may be off + what the Doppler shift moves while a dial stands + what it may
be off where a place is known by a locator alone + the dial's own step. Plain sum, so that the signal is inside unless
something is wrong. Limits are judgement, stated on the sheet.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pipeline.ephemeris.sky import LIGHT_KM_PER_S
from pipeline.link.doppler import EARTH_SPIN_RAD_PER_S
from pipeline.operating.dials import SlotDials, dial_step_hz
from pipeline.operating.night_slots import NightSlot
from pipeline.wording import formats

# A receiver passes 2500 Hz (the width in which reports are given): a signal further off than this from the middle of
# it is cut at the edge, whatever the mode.
FOUND_WITHIN_HZ = 1000.0
# A dial is set once a period, for the middle of it, where no mode says how long that is.
PERIOD_S = 60.0
# What an ear follows by itself, and what no decoder has to.
BY_EAR = ("CW", "SSB")


@dataclass(frozen=True)
class Search:
    """`width_hz` to either side; `drift_hz` in one period where the dial stands; sentences for the sheet."""

    width_hz: float
    drift_hz: float
    found: bool
    words: str
    warning: str


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
    found = width <= FOUND_WITHIN_HZ
    theirs = "theirs, assumed" if guessed else "theirs"
    words = (
        f"± {_rounded_up(width)}: oscillators {formats.plain(home_accuracy_hz)} Hz (ours) + "
        f"{formats.plain(partner_accuracy_hz)} Hz ({theirs}), "
        f"{f'{place:.0f} Hz as places are known to {known_to_km:.0f} km, ' if place >= 0.5 else ''}"
        f"{drift / 2:.0f} Hz of shift in half a period (set the dial for its middle)."
    )
    return Search(width, drift, found, words, _warning(slot, drift, period, found))


def _warning(slot: NightSlot, drift_hz: float, period_s: float, found: bool) -> str:
    if not found:
        return (
            f"Too wide: beyond ± {FOUND_WITHIN_HZ:.0f} Hz a 2500 Hz passband cuts the signal and the mode misses "
            f"it. Agree with {slot.call} on a carrier or beacon first, and set the dials by it."
        )
    if slot.mode is None or slot.mode.mode in BY_EAR or drift_hz <= slot.mode.tone_spacing_hz:
        return ""
    # Kept within half a tone spacing, a tone stays nearer to itself than to its neighbour.
    every = max(math.floor(period_s * slot.mode.tone_spacing_hz / drift_hz), 1)
    return (
        f"In a period the shift moves {drift_hz:.0f} Hz, more than the tones' {slot.mode.tone_spacing_hz:.3g} Hz: "
        f"let the radio follow, or turn the dial by {slot.mode.tone_spacing_hz:.0f} Hz every {every} s."
    )


def _rounded_up(width_hz: float) -> str:
    """Up to the next 10 Hz; in tenths of a kilohertz from one on."""
    if width_hz > 990.0:
        return f"{math.ceil(width_hz / 100.0) / 10:.1f} kHz"
    return f"{math.ceil(width_hz / 10.0) * 10} Hz"
