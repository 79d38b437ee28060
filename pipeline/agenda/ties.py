"""What settles ties of slots: a fall-back the same night, farther from the Sun, less degradation, then the earlier.

From the slot grid, each criterion by whole steps, so that one before always outweighs all behind it. That a night is
compact counts before, by its hours.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from pipeline.agenda.candidates import Candidates
from pipeline.agenda.slot_grid import SlotGrid

FloatArray = npt.NDArray[np.float64]

# Steps and the end of their scale, beyond which nothing is gained (judgement).
SUN_STEP_DEG, SUN_MOST_DEG = 10.0, 90.0
STEP_DB, MOST_DB = 0.5, 10.0


def second_criterion(grid: SlotGrid, pool: Candidates) -> FloatArray:
    """The second criterion of each slot (slots,), 0 to 1, the less the better; Sun and degradation in its middle."""
    if not pool.start.size:
        return np.zeros(0)
    middle = (pool.start + pool.end) / 2
    degradation_db = grid.track.at(grid.samples["degradation_db"].to_numpy(float), middle, pool.window)
    sun_deg = grid.track.at(grid.track.sun_deg, middle, pool.window)
    late = (pool.start - pool.start.min()) / (np.ptp(pool.start) + 1)
    sun_steps, db_steps = SUN_MOST_DEG / SUN_STEP_DEG, MOST_DB / STEP_DB
    near = sun_steps - np.clip(np.floor(np.nan_to_num(sun_deg, nan=SUN_MOST_DEG) / SUN_STEP_DEG), 0.0, sun_steps)
    loud = np.clip(np.round(np.nan_to_num(degradation_db) / STEP_DB), 0.0, db_steps)
    # The date is less than one step of degradation, both are less than one of the Sun, all three than a fall-back.
    quiet = loud + late
    clear = near * (db_steps + 1.0) + quiet
    most = (sun_steps + 1.0) * (db_steps + 1.0)
    return np.asarray((~leaves_fall_back(pool) * most + clear) / (2.0 * most))


def leaves_fall_back(pool: Candidates) -> npt.NDArray[np.bool_]:
    """(slots,): whether the pool has another with the same partner the same night, not before the slot's end."""
    _, group = np.unique(pool.night * (pool.pair.max(initial=0) + 1) + pool.pair, return_inverse=True)
    last = np.full(pool.start.size, np.iinfo(np.int64).min)
    np.maximum.at(last, group, pool.start)
    return np.asarray(last[group] >= pool.end)
