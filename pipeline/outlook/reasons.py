"""Why a night is good or bad: the facts that its figures show, each with its weight; nothing they do not show is told.

From the judged nights, their windows and samples. Thresholds and weights are judgement and stand here once.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from pipeline.outlook.facts import (
    NEAR_SUN_DEG,
    NOISE_PARTS,
    NOTABLE_DB,
    STANDS_OUT_DB,
    Fact,
    FactKind,
    moon_kind,
)
from pipeline.record.inputs import Inputs
from pipeline.windows.beginning import rows_ahead
from pipeline.windows.frames import rows_by_night
from pipeline.windows.nights import Nights

LOW_DEG = 10.0
# Just over the 3.01 dB that a linear pair below 1.5 GHz, or one with a circular feed, pays on every night.
HEAVY_LOSS_DB = 3.02
# A larger shortfall is not mended by power.
MENDED_BY_POWER_DB = 7.0


@dataclass(frozen=True)
class Context:
    """What the facts are taken from; `rows` are the windows of each night."""

    inputs: Inputs
    nights: pd.DataFrame
    windows: pd.DataFrame
    samples: pd.DataFrame
    rows: Mapping[dt.date, Sequence[int]]

    @cached_property
    def parts(self) -> pd.DataFrame:
        """Mean of each noise part over the samples of each night, dB."""
        names = [f"degradation_{part}_db" for part in NOISE_PARTS]
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


def facts_of_nights(
    inputs: Inputs, period: Nights, nights: pd.DataFrame, windows: pd.DataFrame, samples: pd.DataFrame
) -> tuple[tuple[Fact, ...], ...]:
    """The facts of each night, the weightiest first; `nights` are judged (see `nights.judge`).

    Nothing is said of a night that is past, nor is another measured by it.
    """
    windows, samples = rows_ahead(windows, inputs), rows_ahead(samples, inputs)
    context = Context(inputs, nights, windows, samples, rows_by_night(windows, period.dates))
    return tuple(() if inputs.is_past(date) else _facts(context, index) for index, date in enumerate(nights["night"]))


def _facts(context: Context, index: int) -> tuple[Fact, ...]:
    """The facts of one night, by its place in the table."""
    night = context.nights.iloc[index]
    found = [*_not_possible(context, night), *_sun(context, index)]
    if not context.rows[night["night"]]:
        found += _no_window(night)
    else:
        windows = context.windows_of(night["night"])
        found += [
            *_sun_limit(windows),
            *_reach(context, night, windows),
            *_weakest(context, night, windows),
            *_moon(night),
            *_standing_out(context, night),
            *_heavy_losses(context, night, windows),
            *_best_nights(context, night),
            *_low_partners(context, night),
        ]
    return tuple(sorted(found, key=lambda fact: -fact.weight))


def _not_possible(context: Context, night: pd.Series) -> list[Fact]:
    if night["possible"]:
        return []
    away = any(night["night"] in stretch for stretch in context.inputs.home.unavailable_dates)
    return [Fact(FactKind.HOME_AWAY if away else FactKind.NOT_YOUR_NIGHT, 100, nights=(night["night"],))]


def _no_window(night: pd.Series) -> list[Fact]:
    return [
        Fact(FactKind.NOBODY_IN_REACH, 110),
        Fact(FactKind.DECLINATION, 40, angle_deg=float(night["declination_deg"])),
    ]


def _sun(context: Context, index: int) -> list[Fact]:
    """The Sun's nearness where the Moon stands highest, and until which night it lasts."""
    nights, limit = context.nights, context.inputs.season.policy.minimum_sun_separation_deg
    separation = nights["sun_separation_deg"]
    now = float(separation.iloc[index])
    if now >= NEAR_SUN_DEG:
        return []
    last = index
    while last + 1 < len(nights) and separation.iloc[last + 1] < NEAR_SUN_DEG:
        last += 1
    # A nearness that lasts to the end of the period has no last night here.
    until = (nights["night"].iloc[last],) if index < last < len(nights) - 1 else ()
    kind, weight = (FactKind.SUN_INSIDE_LIMIT, 95) if now < limit else (FactKind.SUN_NEAR, 72)
    return [Fact(kind, weight, nights=until, angle_deg=now, limit_deg=limit)]


def _sun_limit(windows: pd.DataFrame) -> list[Fact]:
    """Partners whose windows lie wholly too near the Sun."""
    lost = tuple(windows.loc[windows["slot_start_utc"].isna(), "partner"])
    if not lost:
        return []
    if len(lost) == len(windows):
        return [Fact(FactKind.SUN_TAKES_ALL_SLOTS, 94)]
    return [Fact(FactKind.SUN_TAKES_SLOTS, 94, calls=lost)]


def _moon(night: pd.Series) -> list[Fact]:
    distance = float(night["distance_km"])
    kind = moon_kind(distance, distance)
    weight = 45 if kind is FactKind.MOON_DISTANCE else 70
    return [Fact(kind, weight, distance_km=distance, loss_db=float(night["degradation_db"]))]


def _reach(context: Context, night: pd.Series, windows: pd.DataFrame) -> list[Fact]:
    """Who is in reach; who is not, where that alone keeps the night from being better."""
    calls, wanted = tuple(windows["partner"]), len(context.inputs.partners)
    if len(calls) == wanted and wanted > 1:
        return [Fact(FactKind.ALL_IN_REACH, 65, partners=wanted)]
    if len(calls) <= 2:
        return [Fact(FactKind.ONLY_IN_REACH, 80, calls=calls)]
    missing = tuple(call for call in context.reachable if call not in calls)
    if not missing or len(missing) > 3:
        return [Fact(FactKind.SOME_IN_REACH, 50, partners=len(calls), of_partners=wanted)]
    priority = {wish.call: wish.priority for wish in context.inputs.wishes}
    lost_in_reach = sum(priority[call] * (1.0 - chance) for call, chance in zip(calls, windows["chance"], strict=True))
    decides = night["outcome"] in ("marginal", "unlikely") and sum(priority[call] for call in missing) > lost_in_reach
    # No total here: partners without any window in the period would not add up with those named.
    return [Fact(FactKind.NOT_IN_REACH, 78 if decides else 50, partners=len(calls), calls=missing)]


def _weakest(context: Context, night: pd.Series, windows: pd.DataFrame) -> list[Fact]:
    """What keeps the partner of least chance from being worked, and what would help."""
    least = windows.iloc[-1]
    if night["outcome"] == "strong" or least["chance"] >= context.inputs.season.policy.outcome_thresholds.workable:
        return []
    weight = 75 if night["outcome"] in ("marginal", "unlikely") else 35
    calls = (least["partner"],)
    if not least["mode"]:
        return [Fact(FactKind.NO_COMMON_MODE, weight, calls=calls)]
    if pd.isna(least["slot_start_utc"]):
        return []
    at_home, at_partner = -float(least["margin_at_home_db"]), -float(least["margin_at_partner_db"])
    short = max(at_home, at_partner)
    # Rounded as decibels are told, so that the power told beside them is theirs.
    rounded = round(short, 1)
    if rounded > 0.0:
        kind = FactKind.PARTNER_TOO_WEAK if at_home >= at_partner else FactKind.HOME_TOO_WEAK
        factor = 10 ** (rounded / 10) if short <= MENDED_BY_POWER_DB else math.nan
        return [Fact(kind, weight, calls=calls, loss_db=short, power_factor=factor)]
    if least["duration_min"] < context.inputs.season.policy.slot_minutes:
        return [Fact(FactKind.SHORT_WINDOW, weight, calls=calls, duration_min=float(least["duration_min"]))]
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
    return [Fact(FactKind.NOISE, 60, part=part, loss_db=float(now[name]))]


def _heavy_losses(context: Context, night: pd.Series, windows: pd.DataFrame) -> list[Fact]:
    """The partner who loses most to polarization and to spread, each where heavy; decisive on a poor night only."""
    found: list[Fact] = []
    workable = context.inputs.season.policy.outcome_thresholds.workable
    for name, kind in (
        ("polarization_loss_db", FactKind.POLARIZATION_LOSS),
        ("spread_loss_db", FactKind.SPREAD_LOSS),
    ):
        loss = windows[name].dropna()
        if len(loss) and loss.max() > HEAVY_LOSS_DB:
            row = windows.loc[loss.idxmax()]
            decides = night["outcome"] in ("marginal", "unlikely") and row["chance"] < workable
            found.append(Fact(kind, 73 if decides else 43, calls=(row["partner"],), loss_db=float(loss.max())))
    return found


def _best_nights(context: Context, night: pd.Series) -> list[Fact]:
    """Partners who are never sure and have their best chance of the period on this night."""
    calls = tuple(context.best_windows.loc[context.best_windows["night"] == night["night"], "partner"])
    return [Fact(FactKind.BEST_CHANCE, 58, calls=calls)] if calls and night["possible"] else []


def _low_partners(context: Context, night: pd.Series) -> list[Fact]:
    """Partners who never see the Moon well in this night's windows, though they do on some other night."""
    if night["night"] not in context.parts.index:
        return []
    highest = context.highest.loc[night["night"]]
    low = highest[(highest < LOW_DEG) & (context.highest_of_all[highest.index] >= LOW_DEG)]
    if low.empty:
        return []
    return [Fact(FactKind.LOW_MOON, 40, calls=tuple(map(str, low.index)), angle_deg=float(low.max()))]
