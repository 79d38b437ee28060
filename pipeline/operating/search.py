"""How far from the dial a signal may be heard, and whether the mode still finds it there.

The width is that of `planning.search_width`; limits are judgement, stated on the sheet.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.operating.night_slots import NightSlot
from pipeline.operating.search_width import place_hz, search_width_hz
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


def search_of(
    slot: NightSlot,
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
