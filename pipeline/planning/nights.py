"""Which nights to take: for each night an outcome, a score, a rank, and the reason in plain words.

From windows and samples. The score adds up, over the partners in reach, priority times the quality of the partner's
best window; `nights.csv` carries every figure that the rank rests on.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import pandas as pd

from pipeline.inputs.model import WEEKDAYS, Inputs
from pipeline.planning import reasons
from pipeline.planning.outcomes import NO_WINDOW, OUTCOMES
from pipeline.planning.period import Period
from pipeline.planning.tables import nights_of_windows

# What a window of each outcome is worth against a sure contact: the middle of the word's range of chances.
QUALITY = {"strong": 0.95, "workable": 0.75, "marginal": 0.4, "unlikely": 0.1}


def advise(inputs: Inputs, period: Period, nights: pd.DataFrame, windows: pd.DataFrame, samples: pd.DataFrame) -> pd.DataFrame:
    """The nights with `outcome`, `best_partner`, `degradation_db`, `score`, `possible`, `rank` and `reason` added."""
    rows = nights_of_windows(windows, period)
    priority = {wish.call: wish.priority for wish in inputs.wishes}
    worth = windows["outcome"].map(QUALITY).to_numpy(float) if len(windows) else np.zeros(0)
    worth = worth * windows["partner"].map(priority).to_numpy(float) if len(windows) else worth
    made = [_judge(windows, rows[date], worth) for date in period.dates]
    possible = [WEEKDAYS[date.weekday()] in inputs.season.policy.nights and not _away(inputs, date) for date in period.dates]
    advised = nights.assign(**{key: [row[key] for row in made] for key in made[0]}, possible=possible)
    advised["rank"] = _ranks(advised)
    told = reasons.Context(inputs, advised, windows, samples, rows)
    advised["reason"] = [reasons.reason(told, index) for index in range(len(advised))]
    return advised


def _away(inputs: Inputs, date: dt.date) -> bool:
    return any(date in stretch for stretch in inputs.home.unavailable_dates)


def _judge(windows: pd.DataFrame, rows: Sequence[int], worth: np.ndarray) -> dict[str, object]:
    """One night: the best partner by priority and quality, its degradation and outcome, and the night's score."""
    if not rows:
        return {"outcome": NO_WINDOW, "best_partner": None, "degradation_db": np.nan, "score": 0.0}
    night = windows.iloc[list(rows)].assign(worth=worth[list(rows)])
    each = night.sort_values(["worth", "degradation_slot_db"], ascending=[False, True], kind="stable").drop_duplicates("partner")
    level = night["outcome"].map(OUTCOMES.index).min()
    return {
        "outcome": OUTCOMES[level],
        "best_partner": each["partner"].iloc[0],
        "degradation_db": float(night["degradation_slot_db"].min()),
        "score": float(each["worth"].sum()),
    }


def _ranks(nights: pd.DataFrame) -> list[int]:
    """1 is best: nights possible at all first, then score, then least degradation, then date."""
    order = nights.assign(
        impossible=~nights["possible"].to_numpy(bool), less=-nights["score"].round(9), lossy=nights["degradation_db"].fillna(np.inf)
    ).sort_values(["impossible", "less", "lossy", "night"], kind="stable")
    rank = pd.Series(range(1, len(order) + 1), index=order.index)
    return [int(value) for value in rank.sort_index()]
