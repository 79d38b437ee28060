"""How good each window is: its best slot, the chance of a contact in it, and the outcome word of that chance.

From the samples of the windows and the season's policy; the chance by `link.chance`, its story in DEVELOPERS.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.inputs.model import Policy
from pipeline.inputs.modes import Mode
from pipeline.link.chance import chance_of
from pipeline.pairs.corrections import pair_spreads_db, rests_on_assumptions
from pipeline.pairs.slot_chance import SMALL_S, period_middles, success_in_slots
from pipeline.record.inputs import Inputs
from pipeline.windows.samples import Steps

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

OUTCOMES = ("strong", "workable", "marginal", "unlikely")
NO_WINDOW, NOBODY_FREE = "no window", "nobody free"


@dataclass(frozen=True)
class BestSlots:
    """The best slot of each window, (n,): first and last sample row; `allowed` where one keeps clear of the Sun."""

    first_row: IntArray
    last_row: IntArray
    allowed: npt.NDArray[np.bool_]


def find_best_slots(
    time_s: FloatArray, window: IntArray, merit: FloatArray, sun_separation_deg: FloatArray, policy: Policy
) -> BestSlots:
    """The slot of greatest mean merit in each window; rows are sorted by window and time, every window has rows.

    A window shorter than a slot is taken whole. A slot with the Sun nearer than the policy allows does not count; where
    every slot is such, the whole window stands for it, not allowed. Rows (n,): seconds, window, merit in any unit,
    degrees.
    """
    rows = np.arange(time_s.size)
    axis, length = window_axis(time_s, window), policy.slot_minutes.most * 60.0
    count = int(window[-1]) + 1 if window.size else 0
    first = np.searchsorted(window, np.arange(count))
    last = np.searchsorted(window, np.arange(count), side="right") - 1
    short = time_s[last[window]] - time_s[first[window]] <= length
    stop = np.where(short, last[window], np.searchsorted(axis, axis + length + SMALL_S, side="right") - 1)
    fits = np.where(short, rows == first[window], time_s + length <= time_s[last[window]] + SMALL_S)
    near = np.concatenate([[0], np.cumsum(sun_separation_deg < policy.minimum_sun_separation_deg)])
    total = np.concatenate([[0.0], np.cumsum(merit)])
    mean = (total[stop + 1] - total[rows]) / (stop + 1 - rows)
    mean = np.where(fits & (near[stop + 1] == near[rows]), mean, -np.inf)
    best = np.full(count, -np.inf)
    np.maximum.at(best, window, mean)
    hits = np.flatnonzero(mean == best[window])
    chosen = first.copy()
    # The earliest of equals: assigned last in reversed order.
    chosen[window[hits[::-1]]] = hits[::-1]
    allowed = np.isfinite(best)
    return BestSlots(np.where(allowed, chosen, first), np.where(allowed, stop[chosen], last), allowed)


def window_axis(time_s: FloatArray, window: IntArray) -> FloatArray:
    """Times of all windows on one rising axis, windows further apart than any slot is long; (n,), s."""
    return time_s + window * (time_s.max(initial=0.0) - time_s.min(initial=0.0) + 86400.0)


@dataclass(frozen=True)
class Contacts:
    """How the contact of each window is made, (n,): who sends first, in which mode (None: they share none).

    `spreads_db` are those of the station error of the way to `home` and to `partner`, dB.
    """

    home_opens: BoolArray
    modes: Sequence[Mode | None]
    spreads_db: dict[str, FloatArray]


def slot_chances(
    steps: Steps, margins_db: dict[str, FloatArray], slots: BestSlots, contacts: Contacts, length_s: float
) -> FloatArray:
    """Chance of a contact in the best slot of each window, (n,); 0 where the ends share no mode or no slot is allowed.

    `margins_db` are those at `home` and at `partner` at every step, dB.
    """
    time_s, window, modes = steps.time_s, steps.window, contacts.modes
    axis = window_axis(time_s, window)
    chances = np.zeros(len(modes))
    if not len(modes):
        return chances
    begin = axis[slots.first_row]
    # A slot runs to its full length between two samples as well, as far as its window does.
    last = np.searchsorted(window, np.arange(len(modes)), side="right") - 1
    duration = np.minimum(time_s[last] - time_s[slots.first_row], length_s)
    for mode in dict.fromkeys(mode for mode in modes if mode is not None):
        mine = np.array([m == mode for m in modes]) & slots.allowed
        if not mine.any():
            continue
        middle_s, inside = period_middles(duration[mine], mode.period_s)
        at_s = begin[mine, None] + middle_s
        at = {end: np.where(inside, np.interp(at_s, axis, margin), np.nan) for end, margin in margins_db.items()}
        spreads = {end: values[mine] for end, values in contacts.spreads_db.items()}
        chances[mine] = chance_of(success_in_slots(mode, at, spreads, contacts.home_opens[mine]))
    return chances


def outcome_words(
    chance: FloatArray, policy: Policy, assumed: npt.NDArray[np.bool_] | bool = False
) -> npt.NDArray[np.object_]:
    """The outcome word of each chance, (n,), 0 to 1, by the policy's thresholds; what is `assumed` is never strong."""
    below = np.stack([chance < limit for limit in policy.outcome_thresholds.limits]).sum(axis=0)
    return np.array(OUTCOMES, dtype=object)[np.where(assumed, np.maximum(below, 1), below)]


def opener_of(inputs: Inputs, partner: int) -> str:
    """Who sends first with this partner: `home` or `partner`."""
    rule = inputs.season.policy.first_to_transmit
    if rule != "eastern":
        return rule
    east = inputs.partners[partner].position.longitude_deg - inputs.home.position.longitude_deg
    return "partner" if 0.0 < east % 360.0 < 180.0 else "home"


def window_figures(
    samples: pd.DataFrame, steps: Steps, inputs: Inputs, modes: Sequence[Mode | None], pair: IntArray
) -> dict[str, object]:
    """Columns of the windows table that rest on the samples inside each window; `pair` is each window's.

    Each is (windows,), its unit in its name.
    """
    policy = inputs.season.policy
    margins = {end: samples[f"margin_at_{end}_db"].to_numpy() for end in ("home", "partner")}
    worst = np.minimum(margins["home"], margins["partner"])
    merit = np.where(np.isnan(worst), -samples["degradation_db"].to_numpy(), worst)
    separation = samples[["home_sun_separation_deg", "partner_sun_separation_deg"]].min(axis=1).to_numpy()
    slots = find_best_slots(steps.time_s, steps.window, merit, separation, policy)
    window_modes = [modes[index] for index in pair]
    home_opens = np.array([opener_of(inputs, index) == "home" for index in pair], dtype=bool)
    contacts = Contacts(home_opens, window_modes, window_spreads_db(inputs, pair))
    chance = slot_chances(steps, margins, slots, contacts, policy.slot_minutes.most * 60.0)
    doubtful = np.array([rests_on_assumptions(inputs, index) for index in range(len(inputs.partners))], dtype=bool)
    assumed = doubtful[pair] if pair.size else np.zeros(0, dtype=bool)
    by_window = samples.groupby(steps.window)["degradation_db"]
    edges = [np.searchsorted(steps.window, np.arange(pair.size), side=side) for side in ("left", "right")]
    rows = {"start": edges[0], "end": edges[1] - 1}
    least = by_window.idxmin().to_numpy().astype(np.int64)
    instants = pd.DatetimeIndex(samples["time_utc"])
    mean = _slot_means(samples, slots)
    partner_is_worse = _row_means(samples["worse_end"] == "partner", slots) >= 0.5
    return {
        "best_time_utc": instants[least],
        "degradation_least_db": by_window.min().to_numpy(),
        "degradation_mean_db": by_window.mean().to_numpy(),
        **{
            f"{end}_skyline_loss_{edge}_db": samples[f"{end}_skyline_loss_db"].to_numpy()[rows[edge]]
            for end in ("home", "partner")
            for edge in ("start", "end")
        },
        "slot_start_utc": instants[slots.first_row].where(slots.allowed),
        "degradation_slot_db": mean["degradation_db"],
        "doppler_spread_hz": mean["doppler_spread_hz"],
        "polarization_loss_db": mean["polarization_loss_db"],
        "polarization_advice": samples["polarization_advice"].to_numpy()[(slots.first_row + slots.last_row) // 2],
        "spread_loss_db": mean["spread_loss_db"],
        "report_at_partner_db": mean["snr_at_partner_db"],
        "report_at_home_db": mean["snr_at_home_db"],
        "margin_at_partner_db": mean["margin_at_partner_db"],
        "margin_at_home_db": mean["margin_at_home_db"],
        "worse_end": np.where(partner_is_worse, "partner", "home").astype(object),
        "mode": np.array([mode.title if mode else "" for mode in window_modes], dtype=object),
        "chance": chance,
        "outcome": outcome_words(chance, policy, assumed),
    }


def window_spreads_db(inputs: Inputs, pair: IntArray) -> dict[str, FloatArray]:
    """Spread of the station error of the way to each end for each window's pair, (windows,), dB, after logs."""
    spreads = [pair_spreads_db(inputs, one.call, band) for one, band in zip(inputs.partners, inputs.bands, strict=True)]
    return {end: np.array([one[end] for one in spreads], dtype=float)[pair] for end in ("home", "partner")}


def _slot_means(samples: pd.DataFrame, slots: BestSlots) -> dict[str, FloatArray]:
    names = (
        "degradation_db",
        "doppler_spread_hz",
        "polarization_loss_db",
        "spread_loss_db",
        "snr_at_partner_db",
        "snr_at_home_db",
        "margin_at_partner_db",
        "margin_at_home_db",
    )
    return {name: _row_means(samples[name], slots) for name in names}


def _row_means(column: pd.Series, slots: BestSlots) -> FloatArray:
    """Mean of a column over the rows of each slot; NaN where one of them is."""
    values = column.to_numpy(float)
    missing = np.isnan(values)
    # Sums run over all windows: one without a mode must not spoil those behind it.
    total, lost = (np.concatenate([[0.0], np.cumsum(one)]) for one in (np.where(missing, 0.0, values), missing))
    begin, end = slots.first_row, slots.last_row + 1
    return np.where(lost[end] > lost[begin], np.nan, (total[end] - total[begin]) / (end - begin))
