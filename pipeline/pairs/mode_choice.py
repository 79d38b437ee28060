"""The mode of each pair: of those that both ends have, the variant that needs least at the pair's usual spread.

From both stations and the mode table alone, so that letters, sheets and every plan of any period name the same one.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pipeline.inputs.model import Station
from pipeline.inputs.modes import Mode
from pipeline.link.signal import spread_loss_db
from pipeline.link.spread import half_power_share, usual_limb_to_limb_hz
from pipeline.pairs.equipment import pair_frequency_mhz
from pipeline.record.inputs import Inputs


def pair_mode(inputs: Inputs, partner: Station, band: str) -> Mode | None:
    """The mode of home with a partner on a band that both have; None where they share none of the mode table."""
    shared = set(inputs.home.bands[band].modes) & set(partner.bands[band].modes)
    return best_variant([mode for mode in inputs.modes if mode.mode in shared], usual_width_hz(inputs, partner, band))


def usual_width_hz(inputs: Inputs, partner: Station, band: str) -> float:
    """Half-power width of the pair's echoes as it is on the average."""
    frequency = pair_frequency_mhz(inputs, band)
    places = [station.position for station in (inputs.home, partner)]
    latitudes, longitudes = (
        np.array([getattr(place, name) for place in places]) for name in ("latitude_deg", "longitude_deg")
    )
    return usual_limb_to_limb_hz(latitudes, longitudes, frequency) * float(half_power_share(frequency))


def best_variant(modes: Sequence[Mode], width_hz: float) -> Mode | None:
    """The variant that needs least at a half-power width, the first of equals; None of none."""
    return min(
        modes, key=lambda mode: mode.needed_snr_db + float(spread_loss_db(width_hz, mode.tone_spacing_hz)), default=None
    )
