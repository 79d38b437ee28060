"""Which nights to take: for each night an outcome, a score and a rank; the facts behind them are those of `reasons`.

From windows and samples. The score adds up, over the partners in reach, priority times the chance of the partner's best
window; its share of what all partners together weigh gives the night's word by the policy's thresholds. So a strong
night is one on which nearly every partner can be worked. `nights.csv` carries every figure that the rank rests on.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

import numpy as np
import pandas as pd

from pipeline.inputs.model import WEEKDAYS
from pipeline.pairs.outcomes import NO_WINDOW, outcome_words
from pipeline.record.inputs import Inputs
from pipeline.windows.frames import rows_by_night
from pipeline.windows.nights import Nights

# What a reader of nights.csv looks for first; the figures behind the rank follow.
FIRST_COLUMNS = (
    "night",
    "outcome",
    "rank",
    "partners_in_reach",
    "best_partner",
    "declination_deg",
    "distance_km",
    "degradation_db",
    "sun_separation_deg",
    "moon_lit_fraction",
    "home_moonrise_utc",
    "home_moonset_utc",
)


# Of a night that is past its Moon is told and what it cost, and no worth.
PAST = "past"
NO_WORTH = {"best_partner": None, "expected_contacts": 0.0, "score": 0.0, "score_share": np.nan}


def advise(inputs: Inputs, period: Nights, nights: pd.DataFrame, windows: pd.DataFrame) -> pd.DataFrame:
    """The judged nights, what a reader looks for first in front."""
    advised = judge(inputs, period, nights, windows)
    return advised[[*FIRST_COLUMNS, *(name for name in advised.columns if name not in FIRST_COLUMNS)]]


def judge(inputs: Inputs, period: Nights, nights: pd.DataFrame, windows: pd.DataFrame) -> pd.DataFrame:
    """The nights with `outcome`, `best_partner`, `score`, `possible`, `rank` and all that the rank rests on added."""
    rows = rows_by_night(windows, period.dates)
    priority = {wish.call: wish.priority for wish in inputs.wishes}
    worth = windows["chance"].to_numpy() * np.array([priority[call] for call in windows["partner"]])
    # A partner without a single window in the period weighs nothing: no night can be blamed for it.
    past = {date for date in period.dates if inputs.is_past(date)}
    weight = sum(priority[call] for call in dict.fromkeys(windows.loc[~windows["night"].isin(past), "partner"]))
    names = ("chance", "degradation_slot_db", "doppler_spread_hz")
    figures = {name: windows[name].to_numpy(float) for name in names} | {"worth": worth}
    partners = windows["partner"].to_numpy()
    made = [_judge(figures, partners, np.asarray(rows[date], dtype=int), weight) for date in period.dates]
    made = [row | NO_WORTH if date in past else row for date, row in zip(period.dates, made, strict=True)]
    wanted = inputs.season.policy.nights
    possible = [
        date not in past and WEEKDAYS[date.weekday()] in wanted and not _away(inputs, date) for date in period.dates
    ]
    judged = nights.assign(**{key: [row[key] for row in made] for key in made[0]}, possible=possible)
    share = judged["score_share"].to_numpy(float)
    judged["outcome"] = np.where(np.isnan(share), NO_WINDOW, outcome_words(share, inputs.season.policy))
    judged.loc[judged["night"].isin(past), "outcome"] = PAST
    judged["rank"] = _ranks(judged)
    return judged


def _away(inputs: Inputs, date: dt.date) -> bool:
    return any(date in stretch for stretch in inputs.home.unavailable_dates)


def _judge(
    figures: Mapping[str, np.ndarray], partners: np.ndarray, rows: np.ndarray, weight: float
) -> dict[str, object]:
    """One night: the partner worth most, the score, its share of the whole weight, and the degradation to expect."""
    if not rows.size:
        return {
            "best_partner": None, "degradation_db": np.nan, "doppler_spread_hz": np.nan, "expected_contacts": 0.0,
            "score": 0.0, "score_share": np.nan,
        }  # fmt: skip
    ordered = rows[np.lexsort((figures["degradation_slot_db"][rows], -figures["worth"][rows]))]
    # Of each partner the window worth most, the others still in that order.
    each = list({partners[row]: row for row in ordered[::-1]}.values())[::-1]
    best = ordered[0]
    score = float(figures["worth"][each].sum())
    return {
        "best_partner": partners[best],
        "degradation_db": float(np.nanmin(figures["degradation_slot_db"][rows])),
        "doppler_spread_hz": float(figures["doppler_spread_hz"][best]),
        "expected_contacts": float(figures["chance"][each].sum()),
        "score": score,
        "score_share": score / weight if weight else np.nan,
    }


def _ranks(nights: pd.DataFrame) -> list[int]:
    """1 is best: nights possible at all first, then score, then least degradation, then date."""
    order = nights.assign(
        impossible=~nights["possible"].to_numpy(bool),
        less=-nights["score"].round(9),
        lossy=nights["degradation_db"].fillna(np.inf),
    ).sort_values(["impossible", "less", "lossy", "night"], kind="stable")
    rank = pd.Series(range(1, len(order) + 1), index=order.index)
    return [int(value) for value in rank.sort_index()]
