"""The figures of one slot of which its ladders speak: levels, odds, search, feed, spread, Moon noise, last minutes.

Means over the slot of the plan's samples; odds by `link.one_way`, dials by light times (`operating.dials`).
"""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from pipeline.inputs.modes import BY_EAR
from pipeline.link.chance import FADING_SPREAD_DB
from pipeline.link.one_way import periods_for, who_hears
from pipeline.link.spread import half_power_share
from pipeline.operating.dials import SlotDials
from pipeline.operating.ladders import Feed, LadderFigures, Level, Smear
from pipeline.operating.other_spots import other_spots
from pipeline.operating.search import PERIOD_S, Search, search_of
from pipeline.operating.search_width import fastest_hz_per_s
from pipeline.operating.turns import End, turns_of
from pipeline.pairs.corrections import pair_spreads_db
from pipeline.pairs.equipment import beam_of
from pipeline.plan.views import Slot
from pipeline.windows.frames import own_samples

if TYPE_CHECKING:
    from pipeline.plan.views import NightView

# A step is held until a decode would have come this often, and no longer than so many periods (judgement).
SHARE, MOST_PERIODS = 0.9, 10
# After so many minutes a crew asks itself what is wrong (judgement).
ODDS_AFTER_MIN = 10
MESSAGES = 4
MEANS = (
    "margin_at_home_db", "margin_at_partner_db", "snr_at_home_db", "snr_at_partner_db", "polarization_loss_db",
    "polarization_loss_other_db", "spread_loss_db", "doppler_spread_hz", "home_moon_k", "home_system_temperature_k",
)  # fmt: skip


def slot_means(samples: pd.DataFrame, slot: Slot, names: tuple[str, ...] = MEANS) -> dict[str, float]:
    """Means over the minutes of a slot of its partner's samples, straight between them; NaN without any."""
    own = own_samples(samples, slot.call, names)
    if own.empty:
        return dict.fromkeys(names, math.nan)
    first = pd.Timestamp(slot.start)
    at = ((own["time_utc"] - first) / pd.Timedelta(minutes=1)).to_numpy(float)
    minutes = np.arange((slot.end - slot.start).total_seconds() // 60.0) + 0.5
    return {name: float(np.interp(minutes, at, own[name].to_numpy(float)).mean()) for name in names}


def moon_rise_db(means: dict[str, float]) -> float:
    """What the Moon adds to home's noise in a slot, dB over the same sky without it."""
    hot = means["home_system_temperature_k"]
    return 10.0 * math.log10(hot / (hot - means["home_moon_k"]))


def search_in(night: NightView, slot: Slot) -> Search:
    """The search of a slot, with what both files say of their oscillators and places."""
    inputs = night.inputs
    guessed = any(key.endswith("frequency_accuracy_hz") for key in night.assumed.get(slot.call, ()))
    ours, theirs = (one.frequency_accuracy_hz for one in (inputs.home.bands[slot.band], slot.equipment))
    moves = fastest_hz_per_s(night.samples, slot.call, slot.start, slot.end)
    return search_of(slot, ours, theirs, moves, guessed, inputs.home.position.uncertainty_km)


def ladder_figures(night: NightView, slot: Slot, dials: SlotDials, moon_can_be_seen: bool) -> LadderFigures:
    """All figures of a slot; `moon_can_be_seen` says whether the dish can measure the Moon's rise."""
    inputs, means = night.inputs, slot_means(night.samples, slot)
    spreads = pair_spreads_db(inputs, slot.call, slot.band)
    period_s = slot.mode.period_s if slot.mode else PERIOD_S
    opener: End = "home" if slot.opener == "home" else "partner"
    first = turns_of(slot.opener, slot.mode).first_start(opener, slot.start) if slot.mode else slot.start
    messages = slot.mode.messages if slot.mode else MESSAGES
    margins = {end: means[f"margin_at_{end}_db"] for end in ("home", "partner")}
    each = max(int(ODDS_AFTER_MIN * 60.0 // (2.0 * period_s)), 1)
    home = inputs.home.bands[slot.band]
    heard_there = dials.dialing.partner_receive_hz[: dials.in_slot]
    return LadderFigures(
        number=slot.number,
        call=slot.call,
        start=slot.start,
        end=slot.end,
        period_s=period_s,
        opener=opener,
        first_start=first,
        too_late=slot.end - dt.timedelta(seconds=math.ceil(messages * period_s / 60.0) * 60.0),
        home=_level(margins["home"], means["snr_at_home_db"], spreads["home"]),
        partner=_level(margins["partner"], means["snr_at_partner_db"], spreads["partner"]),
        odds=who_hears(margins["home"], margins["partner"], spreads["home"], spreads["partner"], each),
        odds_after_min=ODDS_AFTER_MIN,
        search=search_in(night, slot),
        spots=other_spots(inputs.season.policy.dialing, slot.partner_mhz, dials.shifts, dials.dialing.home_receive_hz),
        partner_receive_hz=(float(heard_there[0]), float(heard_there[-1])),
        feed=Feed(means["polarization_loss_db"], means["polarization_loss_other_db"]),
        smear=_smear(slot, means),
        moon_rise_db=moon_rise_db(means) if moon_can_be_seen else None,
        beamwidth_deg=beam_of(inputs.home, slot.band, slot.home_mhz).beamwidth_deg,
        power_w=home.power_w,
        power_needed_w=home.power_w * 10.0 ** (-margins["partner"] / 10.0),
        fall_back=slot.again_tonight,
        last_end=max(one.end for one in night.slots),
    )


def _level(margin_db: float, report_db: float, spread_db: float) -> Level:
    if math.isnan(margin_db):
        return Level(margin_db, report_db, math.nan, MOST_PERIODS, False)
    periods = periods_for(margin_db, SHARE, MOST_PERIODS)
    enough = periods_for(margin_db, SHARE, MOST_PERIODS + 1) <= MOST_PERIODS
    return Level(margin_db, report_db, math.hypot(spread_db, FADING_SPREAD_DB), periods, enough)


def _smear(slot: Slot, means: dict[str, float]) -> Smear:
    half = means["doppler_spread_hz"] * float(half_power_share(slot.home_mhz))
    by_ear = slot.mode is None or slot.mode.mode in BY_EAR
    spacing = slot.mode.tone_spacing_hz if slot.mode else math.nan
    return Smear(half, spacing, means["spread_loss_db"], by_ear)
