"""What weather at home costs a slot: the rain rate at which its outcome falls by a word, and a thick cloud.

From the plan's samples and the chance of a slot. Rain takes from both ways and adds its own warmth to home's receiver
(ITU-R P.838, `link.rain`); a cloud by ITU-R P.840 (`link.cloud`). A size to reckon with, never a forecast.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.link.chance import chance_of
from pipeline.link.cloud import cloud_loss_db
from pipeline.link.rain import shower
from pipeline.operating.ladder_figures import slot_means
from pipeline.pairs.corrections import pair_spreads_db, rests_on_assumptions
from pipeline.pairs.outcomes import outcome_words
from pipeline.pairs.slot_chance import period_middles, success_in_slots
from pipeline.plan.views import Slot
from pipeline.windows.frames import own_samples

if TYPE_CHECKING:
    from pipeline.plan.views import NightView

FloatArray = npt.NDArray[np.float64]

# Harder rain than this stands over a field for minutes only (judgement).
MOST_MM_PER_H = 50
# A rate is sought by tens of millimetres an hour, then in tenths of that stretch, then of the one within it: the harder
# the rain the less the chance.
FIRST_STEP_MM_PER_H, ROUNDS, PARTS = 10.0, 2, 10


@dataclass(frozen=True)
class AirTonight:
    """`falls_at_mm_per_h` is the least rate, rounded down, at which the word is worse; None where 50 mm/h leaves it.

    `word` is that of clear air, `worse` that behind it; the elevation is the Moon's at home in mid-slot.
    """

    word: str
    worse: str
    falls_at_mm_per_h: float | None
    cloud_db: float
    elevation_deg: float


def air_tonight(night: NightView, slot: Slot) -> AirTonight | None:
    """The weather's price in a slot; None where both ends share no mode or no sample tells of it."""
    means = slot_means(night.samples, slot, ("home_elevation_deg", "home_system_temperature_k"))
    if slot.mode is None or np.isnan(means["home_elevation_deg"]):
        return None
    elevation, home_k = means["home_elevation_deg"], means["home_system_temperature_k"]
    assumed = rests_on_assumptions(night.inputs, night.inputs.place_of(slot.call))

    def words(rates_mm_per_h: FloatArray) -> npt.NDArray[np.object_]:
        chances = chances_in_rain(night, slot, rates_mm_per_h, elevation, home_k)
        return outcome_words(chances, night.inputs.season.policy, assumed)

    rates = np.arange(0.0, MOST_MM_PER_H + FIRST_STEP_MM_PER_H / 2.0, FIRST_STEP_MM_PER_H)
    coarse = words(rates)
    worse = np.flatnonzero(coarse != coarse[0])
    falls, word = None, str(coarse[0])
    if worse.size:
        place, found = int(worse[0]), coarse
        for _ in range(ROUNDS):
            rates = np.linspace(rates[place - 1], rates[place], PARTS + 1)
            found = words(rates)
            place = int(np.flatnonzero(found != coarse[0])[0])
        falls, word = round(float(rates[place - 1]), 1), str(found[place])
    return AirTonight(
        word=str(coarse[0]),
        worse=word,
        falls_at_mm_per_h=falls,
        cloud_db=cloud_loss_db(slot.home_mhz, elevation),
        elevation_deg=elevation,
    )


def chances_in_rain(
    night: NightView, slot: Slot, rates_mm_per_h: FloatArray, elevation_deg: float, home_k: float
) -> FloatArray:
    """Chance of the slot at each rain rate over home, (n,); `home_k` is the receiver's temperature in clear air."""
    assert slot.mode is not None
    showers = [shower(slot.home_mhz, float(rate), max(elevation_deg, 1.0)) for rate in rates_mm_per_h]
    loss = np.array([one.loss_db for one in showers])
    noise = 10.0 * np.log10(1.0 + np.array([one.noise_k for one in showers]) / home_k)
    own = own_samples(night.samples, slot.call, ("margin_at_home_db", "margin_at_partner_db"))
    at = ((own["time_utc"] - pd.Timestamp(slot.start)) / pd.Timedelta(seconds=1)).to_numpy(float)
    middle, _ = period_middles(np.array([(slot.end - slot.start).total_seconds()]), slot.mode.period_s)
    clear = {end: np.interp(middle, at, own[f"margin_at_{end}_db"].to_numpy(float)) for end in ("home", "partner")}
    margins = {
        "home": clear["home"] - (loss + noise)[:, None],
        "partner": clear["partner"] - loss[:, None],
    }
    spreads = pair_spreads_db(night.inputs, slot.call, slot.band)
    return chance_of(success_in_slots(slot.mode, margins, spreads, slot.opener == "home"))
