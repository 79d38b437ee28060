"""How good each window is: its best slot, the outcome word of that slot, and when it begins.

From the samples of the windows and the season's policy. Until a chance of contact is known the word rests on the
degradation: at most 1, 2 and 4 dB for strong, workable and marginal (judgement).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.inputs.model import Policy
from pipeline.planning.samples import Steps

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

OUTCOMES = ("strong", "workable", "marginal", "unlikely")
NO_WINDOW = "no window"
DEGRADATION_LIMITS_DB = (1.0, 2.0, 4.0)
# A contact takes a quarter of an hour or so: common practice, no source.
SHORTEST_USEFUL_S = 15 * 60.0


@dataclass(frozen=True)
class BestSlots:
    """The best slot of each window, (n,): first sample, mean degradation; NaN where none keeps clear of the Sun."""

    first_row: IntArray
    degradation_db: FloatArray
    duration_s: FloatArray

    @property
    def exists(self) -> npt.NDArray[np.bool_]:
        """Windows that hold a slot at all."""
        return ~np.isnan(self.degradation_db)


def find_best_slots(
    time_s: FloatArray, window: IntArray, degradation_db: FloatArray, sun_separation_deg: FloatArray, policy: Policy
) -> BestSlots:
    """The slot of least mean degradation in each window; rows are sorted by window and time.

    A window shorter than a slot is taken whole. A slot with the Sun nearer than the policy allows does not count.
    """
    length = policy.slot_minutes * 60.0
    count = int(window[-1]) + 1 if window.size else 0
    first = np.searchsorted(window, np.arange(count))
    last = np.searchsorted(window, np.arange(count), side="right") - 1
    # Rows of all windows on one axis: a stride beyond any period keeps windows apart.
    stride = time_s.max(initial=0.0) + 2 * length
    axis = time_s + window * stride
    stop = np.searchsorted(axis, axis + length + 1e-6, side="right") - 1
    whole = time_s[last[window]] - time_s[first[window]] <= length
    fits = whole & (np.arange(time_s.size) == first[window]) | (time_s + length <= time_s[last[window]] + 1e-6)
    near = np.concatenate([[0], np.cumsum(sun_separation_deg < policy.minimum_sun_separation_deg)])
    clear = near[stop + 1] == near[np.arange(time_s.size)]
    total = np.concatenate([[0.0], np.cumsum(degradation_db)])
    mean = (total[stop + 1] - total[np.arange(time_s.size)]) / (stop + 1 - np.arange(time_s.size))
    mean = np.where(fits & clear, mean, np.inf)
    best = np.full(count, np.inf)
    np.minimum.at(best, window, mean)
    hits = np.flatnonzero(mean == best[window])
    chosen = first.copy()
    # The earliest of equals: assigned last in reversed order.
    chosen[window[hits[::-1]]] = hits[::-1]
    duration = time_s[stop[chosen]] - time_s[chosen] if count else np.zeros(0)
    return BestSlots(chosen, np.where(np.isinf(best), np.nan, best), duration)


def outcome_words(slots: BestSlots) -> npt.NDArray[np.object_]:
    """The outcome word of each window from the degradation of its best slot."""
    level = np.searchsorted(DEGRADATION_LIMITS_DB, np.nan_to_num(slots.degradation_db, nan=np.inf))
    level = np.where(slots.duration_s < SHORTEST_USEFUL_S, len(OUTCOMES) - 1, level)
    return np.array(OUTCOMES, dtype=object)[level]


def window_figures(samples: pd.DataFrame, steps: Steps, policy: Policy) -> dict[str, object]:
    """Columns of the windows table that rest on the samples inside each window."""
    loss = samples["degradation_db"].to_numpy()
    separation = samples[["home_sun_separation_deg", "partner_sun_separation_deg"]].min(axis=1).to_numpy()
    slots = find_best_slots(steps.time_s, steps.window, loss, separation, policy)
    by_window = samples.groupby(steps.window)["degradation_db"]
    least = by_window.idxmin().to_numpy().astype(np.int64)
    instants = pd.DatetimeIndex(samples["time_utc"])
    return {
        "best_time_utc": instants[least],
        "degradation_least_db": by_window.min().to_numpy(),
        "degradation_mean_db": by_window.mean().to_numpy(),
        "degradation_slot_db": slots.degradation_db,
        "slot_start_utc": instants[slots.first_row].where(slots.exists),
        "worse_end": samples["worse_end"].to_numpy()[least],
        "outcome": outcome_words(slots),
    }
