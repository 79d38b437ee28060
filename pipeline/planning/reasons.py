"""Why a night is good or bad, in one or two plain sentences made from its figures; nothing is said that they do not show.

From the advised nights, their windows and samples. Thresholds are judgement and stand here once.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from pipeline.inputs.model import Inputs
from pipeline.link.noise import DEGRADATION_PARTS

# Perigees lie at 356,400 to 370,400 km, apogees at 404,000 to 406,700 (Meeus, Astronomical Algorithms, chapter 50).
NEAR_PERIGEE_KM = 370_400.0
NEAR_APOGEE_KM = 402_000.0
NEAR_SUN_DEG = 12.0
LOW_DEG = 10.0
# A part worth naming beside the distance.
NOTABLE_DB = 0.3
PART_WORDS = {
    "sky": "a noisy patch of sky behind the Moon",
    "moon": "the Moon's own warmth",
    "sun": "the Sun's noise",
    "ground": "ground noise at low elevation",
    "air": "the air at low elevation",
}


@dataclass(frozen=True)
class Context:
    """What the sentences are made from; `rows` are the windows of each night."""

    inputs: Inputs
    nights: pd.DataFrame
    windows: pd.DataFrame
    samples: pd.DataFrame
    rows: Mapping[dt.date, Sequence[int]]


def reason(context: Context, index: int) -> str:
    """The sentences of one night (by its place in the table)."""
    night = context.nights.iloc[index]
    if not context.rows[night["night"]]:
        return _sentences([_moon(context, night), _sun(context, index)], ["no partner has the Moon together with home"])
    first = [_moon(context, night), _short(context, night), _reach(context, night)]
    second = [_sun(context, index), _largest_part(context, night), _low_partners(context, night), _not_possible(night)]
    return _sentences(first, second)


def month_sentence(nights: pd.DataFrame) -> str:
    """What the whole period is worth: says so when it is bad."""
    counts = {word: int((nights["outcome"] == word).sum()) for word in ("strong", "workable", "marginal")}
    if counts["strong"]:
        return f"{_count(counts['strong'], 'strong night')}, {counts['workable']} workable."
    if counts["workable"]:
        return f"No strong night; {_count(counts['workable'], 'workable one')}."
    if counts["marginal"]:
        return "A poor period: no night is better than marginal."
    return "A bad period: not one night is worth setting up for."


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _sentences(*groups: Sequence[str | None]) -> str:
    texts = ["; ".join(part for part in group if part) for group in groups]
    return " ".join(text[0].upper() + text[1:] + "." for text in texts if text)


def _moon(context: Context, night: pd.Series) -> str:
    distance = f"{round(night['distance_km'] / 1000) * 1000:,.0f} km"
    if night["distance_km"] < NEAR_PERIGEE_KM:
        return f"near perigee ({distance})"
    if night["distance_km"] > NEAR_APOGEE_KM:
        return f"near apogee ({distance})"
    return f"the Moon at {distance}"


def _short(context: Context, night: pd.Series) -> str | None:
    if pd.isna(night["degradation_db"]):
        return None
    return f"{night['degradation_db']:.1f} dB short of the best case"


def _reach(context: Context, night: pd.Series) -> str:
    windows = context.windows.iloc[list(context.rows[night["night"]])]
    calls, wanted = list(dict.fromkeys(windows["partner"])), len(context.inputs.partners)
    if len(calls) == wanted and wanted > 1:
        return f"all {wanted} partners in reach"
    if len(calls) <= 2:
        return f"only {' and '.join(calls)} in reach"
    return f"{len(calls)} of {wanted} partners in reach"


def _sun(context: Context, index: int) -> str | None:
    """The Sun's nearness, and until when it lasts."""
    nights = context.nights
    separation = nights["sun_separation_deg"]
    if separation.iloc[index] >= NEAR_SUN_DEG:
        return None
    last = index
    while last + 1 < len(nights) and separation.iloc[last + 1] < NEAR_SUN_DEG:
        last += 1
    words = f"the Sun is {separation.iloc[index]:.0f} degrees away"
    if last > index and last + 1 < len(nights):
        words += f" and stays nearer than {NEAR_SUN_DEG:.0f} until {_day(nights['night'].iloc[last])}"
    limit = context.inputs.season.policy.minimum_sun_separation_deg
    return f"{words}, inside your limit of {limit:g}" if separation.iloc[index] < limit else words


def _day(date: dt.date) -> str:
    return f"{date:%a} {date.day} {date:%B}"


def _largest_part(context: Context, night: pd.Series) -> str | None:
    """The largest noise part of the night's windows, where it matters."""
    rows = context.samples[context.samples["night"] == night["night"]]
    parts = {part: rows[f"degradation_{part}_db"].mean() for part in DEGRADATION_PARTS if part in PART_WORDS}
    part = max(parts, key=lambda name: parts[name])
    if not parts[part] >= NOTABLE_DB:
        return None
    return f"{PART_WORDS[part]} costs {parts[part]:.1f} dB on average"


def _low_partners(context: Context, night: pd.Series) -> str | None:
    """Partners who never see the Moon well in this night's windows."""
    rows = context.samples[context.samples["night"] == night["night"]]
    if rows.empty:
        return None
    highest = rows.groupby("partner", sort=False)["partner_elevation_deg"].max()
    low = highest[highest < LOW_DEG]
    if low.empty:
        return None
    if len(low) == 1:
        return f"{low.index[0]} never sees the Moon above {_up(low.iloc[0])} degrees"
    return f"{', '.join(low.index[:-1])} and {low.index[-1]} never see it above {_up(low.max())} degrees"


def _up(value: float) -> int:
    """Rounded up: "never above 8" must hold."""
    return int(-(-value // 1))


def _not_possible(night: pd.Series) -> str | None:
    return None if night["possible"] else "not one of your nights"
