"""Why a night is good or bad, in one or two plain sentences made from its figures; nothing they do not show is said.

From the advised nights, their windows and samples. Each fact has a weight; the weightiest that fit are told, in that
order. Thresholds and weights are judgement and stand here once.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from pipeline.inputs.model import Inputs
from pipeline.link.noise import DEGRADATION_PARTS

# Perigees lie at 356,400 to 370,400 km, apogees at 404,000 to 406,700 (Meeus, Astronomical Algorithms, chapter 50).
NEAR_PERIGEE_KM = 370_400.0
NEAR_APOGEE_KM = 402_000.0
NEAR_SUN_DEG = 12.0
LOW_DEG = 10.0
# A part is worth naming beside the distance where it stands out from the period's mean.
NOTABLE_DB = 0.3
STANDS_OUT_DB = 0.2
# Just over the 3.01 dB that a linear pair below 1.5 GHz, or one with a circular feed, pays on every night.
HEAVY_LOSS_DB = 3.02
# A larger shortfall is not mended by power.
MENDED_BY_POWER_DB = 7.0
LONGEST = 170
FACTS = 4
PART_WORDS = {
    "sky": "a noisy patch of sky behind the Moon",
    "moon": "the Moon's own warmth",
    "sun": "the Sun's noise",
    "ground": "ground noise at low elevation",
    "air": "the air at low elevation",
}
Fact = tuple[int, str]


@dataclass(frozen=True)
class Context:
    """What the sentences are made from; `rows` are the windows of each night."""

    inputs: Inputs
    nights: pd.DataFrame
    windows: pd.DataFrame
    samples: pd.DataFrame
    rows: Mapping[dt.date, Sequence[int]]

    @cached_property
    def parts(self) -> pd.DataFrame:
        """Mean of each noise part over the samples of each night, dB."""
        names = [f"degradation_{part}_db" for part in DEGRADATION_PARTS if part in PART_WORDS]
        return self.samples.groupby("night")[names].mean()

    @cached_property
    def usual_parts(self) -> pd.Series:
        """The same over the whole period."""
        return self.samples[list(self.parts.columns)].mean()

    @cached_property
    def highest(self) -> pd.Series:
        """Where each partner sees the Moon highest within its windows, by night and partner, degrees."""
        return self.samples.groupby(["night", "partner"], sort=False)["partner_elevation_deg"].max()

    @cached_property
    def reachable(self) -> list[str]:
        """Partners with any window in the period."""
        return list(dict.fromkeys(self.windows["partner"]))

    @cached_property
    def best_windows(self) -> pd.DataFrame:
        """The window of best chance of each partner who is never sure: short of strong, at least marginal."""
        if self.windows.empty:
            return self.windows
        best = self.windows.loc[self.windows.groupby("partner", sort=False)["chance"].idxmax()]
        limits = self.inputs.season.policy.outcome_thresholds
        return best[(best["chance"] >= limits.marginal) & (best["chance"] < limits.strong)]

    @cached_property
    def _chance_and_partner(self) -> tuple[np.ndarray, np.ndarray]:
        """Chance of each window, and its partner as a number."""
        return self.windows["chance"].to_numpy(float), pd.factorize(self.windows["partner"])[0]

    def windows_of(self, night: dt.date) -> pd.DataFrame:
        """The best window of each partner on that night, best chance first."""
        rows = np.asarray(self.rows[night])
        chance, partner = self._chance_and_partner
        ordered = rows[np.argsort(-chance[rows], kind="stable")]
        first = np.unique(partner[ordered], return_index=True)[1]
        return self.windows.iloc[ordered[np.sort(first)]]

    @cached_property
    def highest_of_all(self) -> pd.Series:
        """Where each partner sees the Moon highest in the whole period, degrees."""
        return self.highest.groupby(level="partner").max()


def reason(context: Context, index: int) -> str:
    """The sentences of one night (by its place in the table): the weightiest facts that fit, weightiest first."""
    night = context.nights.iloc[index]
    if not context.rows[night["night"]]:
        return _tell([*_not_possible(context, night), *_sun(context, index), *_no_window(night)])
    windows = context.windows_of(night["night"])
    return _tell(
        [
            *_not_possible(context, night),
            *_sun(context, index),
            *_sun_limit(windows),
            *_reach(context, night, windows),
            *_weakest(context, night, windows),
            *_moon(night),
            *_standing_out(context, night),
            *_heavy_losses(context, night, windows),
            *_best_nights(context, night),
            *_low_partners(context, night),
        ]
    )


def month_sentence(nights: pd.DataFrame) -> str:
    """What the nights that can be used are worth: says so when they are bad, or when there are none."""
    if "possible" in nights.columns:
        nights = nights[nights["possible"].astype(bool)]
    if nights.empty:
        return "Not one night can be used: home is away, or your nights leave it out."
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


def _tell(facts: Sequence[Fact]) -> str:
    """Two facts a sentence, two sentences, within the length; a fact that does not fit makes room for the next."""
    told: list[str] = []
    for _, words in sorted(facts, key=lambda fact: -fact[0]):
        if len(told) < FACTS and len(_sentences([*told, words])) <= LONGEST:
            told.append(words)
    return _sentences(told)


def _sentences(facts: Sequence[str]) -> str:
    texts = ["; ".join(facts[first : first + 2]) for first in range(0, len(facts), 2)]
    return " ".join(text[0].upper() + text[1:] + "." for text in texts)


def _names(calls: Sequence[str], last: str = "and") -> str:
    return calls[0] if len(calls) == 1 else f"{', '.join(calls[:-1])} {last} {calls[-1]}"


def _not_possible(context: Context, night: pd.Series) -> list[Fact]:
    if night["possible"]:
        return []
    if any(night["night"] in stretch for stretch in context.inputs.home.unavailable_dates):
        return [(100, "home is away on this date")]
    return [(100, f"{night['night']:%A} is not one of your nights")]


def _no_window(night: pd.Series) -> list[Fact]:
    declination = round(night["declination_deg"])
    side = f"{abs(declination)} degrees {'north' if declination > 0 else 'south'}" if declination else "0 degrees"
    return [(110, "no partner has the Moon in sight together with home"), (40, f"the Moon's declination is {side}")]


def _sun(context: Context, index: int) -> list[Fact]:
    """The Sun's nearness at home's midnight, and until which night it lasts."""
    nights, limit = context.nights, context.inputs.season.policy.minimum_sun_separation_deg
    separation = nights["sun_separation_deg"]
    now = float(separation.iloc[index])
    if now >= NEAR_SUN_DEG:
        return []
    last = index
    while last + 1 < len(nights) and separation.iloc[last + 1] < NEAR_SUN_DEG:
        last += 1
    inside = now < limit
    words = f"the Sun is {_degrees_below(now, limit) if inside else f'{now:.0f}'} degrees away"
    words += f", inside your limit of {limit:g} degrees" if inside else ""
    if last > index and last + 1 < len(nights):
        until = _day(nights["night"].iloc[last])
        words += f"{',' if inside else ''} and stays within {NEAR_SUN_DEG:.0f} degrees until {until}"
    return [(95 if inside else 72, words)]


def _degrees_below(value: float, limit: float) -> str:
    """Whole degrees, finer where rounding would reach the limit."""
    return f"{value:.0f}" if round(value) < limit else f"{math.floor(value * 10) / 10:.1f}"


def _sun_limit(windows: pd.DataFrame) -> list[Fact]:
    """Partners whose windows lie wholly too near the Sun."""
    lost = list(windows.loc[windows["slot_start_utc"].isna(), "partner"])
    if not lost:
        return []
    if len(lost) == len(windows):
        return [(94, "your limit to the Sun leaves no partner a slot")]
    who = _names(lost) if len(lost) <= 2 else f"{len(lost)} partners"
    return [(94, f"your limit to the Sun leaves {who} no slot")]


def _day(date: dt.date) -> str:
    return f"{date:%a} {date.day} {date:%B}"


def _moon(night: pd.Series) -> list[Fact]:
    distance = f"{round(night['distance_km'] / 1000) * 1000:,.0f} km"
    short = f"{night['degradation_db']:.1f} dB short of the best case"
    if night["distance_km"] < NEAR_PERIGEE_KM:
        return [(70, f"near perigee ({distance}), {short}")]
    if night["distance_km"] > NEAR_APOGEE_KM:
        return [(70, f"near apogee ({distance}), {short}")]
    return [(45, f"the Moon at {distance}, {short}")]


def _reach(context: Context, night: pd.Series, windows: pd.DataFrame) -> list[Fact]:
    """Who is in reach; who is not, where that alone keeps the night from being better."""
    calls, wanted = list(windows["partner"]), len(context.inputs.partners)
    if len(calls) == wanted and wanted > 1:
        return [(65, "both partners in reach" if wanted == 2 else f"all {wanted} partners in reach")]
    if len(calls) <= 2:
        return [(80, f"only {_names(calls)} in reach")]
    missing = [call for call in context.reachable if call not in calls]
    if not missing or len(missing) > 3:
        return [(50, f"{len(calls)} of {wanted} partners in reach")]
    priority = {wish.call: wish.priority for wish in context.inputs.wishes}
    lost_in_reach = sum(priority[call] * (1.0 - chance) for call, chance in zip(calls, windows["chance"], strict=True))
    decides = night["outcome"] in ("marginal", "unlikely") and sum(priority[call] for call in missing) > lost_in_reach
    # No total here: partners without any window in the period would not add up with those named.
    return [(78 if decides else 50, f"{len(calls)} partners in reach, not {_names(missing, 'or')}")]


def _weakest(context: Context, night: pd.Series, windows: pd.DataFrame) -> list[Fact]:
    """What keeps the partner of least chance from being worked, and what would help."""
    least = windows.iloc[-1]
    if night["outcome"] == "strong" or least["chance"] >= context.inputs.season.policy.outcome_thresholds.workable:
        return []
    weight = 75 if night["outcome"] in ("marginal", "unlikely") else 35
    call = least["partner"]
    if not least["mode"]:
        return [(weight, f"{call} shares no mode with home")]
    if pd.isna(least["slot_start_utc"]):
        return []
    at_home, at_partner = -least["margin_at_home_db"], -least["margin_at_partner_db"]
    short = max(at_home, at_partner)
    if round(short, 1) > 0.0:
        whose, power = (f"{call}'s", "its") if at_home >= at_partner else ("home's", "home's")
        where = "" if at_home >= at_partner else f" at {call}"
        words = f"{whose} signal is {short:.1f} dB short{where}"
        if short <= MENDED_BY_POWER_DB:
            words += f" ({10 ** (round(short, 1) / 10):.1f} times {power} power would mend it)"
        return [(weight, words)]
    if least["duration_min"] < context.inputs.season.policy.slot_minutes:
        return [(weight, f"{call}'s window lasts only {_count(max(1, math.floor(least['duration_min'])), 'minute')}")]
    return []


def _standing_out(context: Context, night: pd.Series) -> list[Fact]:
    """The noise part that stands out most from the period's mean, where it matters."""
    if night["night"] not in context.parts.index:
        return []
    now = context.parts.loc[night["night"]]
    above = now - context.usual_parts
    name = str(above.idxmax())
    if now[name] < NOTABLE_DB or above[name] < STANDS_OUT_DB:
        return []
    part = name.removeprefix("degradation_").removesuffix("_db")
    return [(60, f"{PART_WORDS[part]} costs {now[name]:.1f} dB on average")]


def _heavy_losses(context: Context, night: pd.Series, windows: pd.DataFrame) -> list[Fact]:
    """The partner who loses most to polarization and to spread, each where heavy; decisive on a poor night only."""
    found: list[Fact] = []
    workable = context.inputs.season.policy.outcome_thresholds.workable
    for name, what in (("polarization_loss_db", "polarization"), ("spread_loss_db", "Doppler spread")):
        loss = windows[name].dropna()
        if len(loss) and loss.max() > HEAVY_LOSS_DB:
            row = windows.loc[loss.idxmax()]
            decides = night["outcome"] in ("marginal", "unlikely") and row["chance"] < workable
            found.append((73 if decides else 43, f"{what} costs {row['partner']} {loss.max():.1f} dB"))
    return found


def _best_nights(context: Context, night: pd.Series) -> list[Fact]:
    """Partners who are never sure and have their best chance of the period on this night."""
    calls = list(context.best_windows.loc[context.best_windows["night"] == night["night"], "partner"])
    return [(58, f"the best night for {_names(calls)}")] if calls and night["possible"] else []


def _low_partners(context: Context, night: pd.Series) -> list[Fact]:
    """Partners who never see the Moon well in this night's windows, though they do on some other night."""
    if night["night"] not in context.parts.index:
        return []
    highest = context.highest.loc[night["night"]]
    low = highest[(highest < LOW_DEG) & (context.highest_of_all[highest.index] >= LOW_DEG)]
    if low.empty:
        return []
    verb = "sees" if len(low) == 1 else "see"
    return [(40, f"{_names(list(low.index))} never {verb} the Moon above {_up(low.max())} degrees")]


def _up(value: float) -> int:
    """Rounded up, with room for what lies between two samples: "never above 8" must hold."""
    return math.ceil(value + 0.02)
