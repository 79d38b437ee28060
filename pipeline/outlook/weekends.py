"""Which weekends to keep free: Friday to Sunday nights, ranked by the contacts to expect, with the facts behind.

From the judged nights and windows of a year. A partner counts once a weekend, with the best chance of its possible
nights times its priority, and no more partners count than the policy has slots for. Where the policy takes none of
these nights, the nights it takes in a week stand for the weekend. The order of the facts is judgement.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from pipeline.inputs.model import WEEKDAYS
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
from pipeline.windows.frames import is_missing, rows_by_night
from pipeline.windows.instants import as_instant
from pipeline.windows.nights import Nights

WEEKEND = ("fri", "sat", "sun")


@dataclass(frozen=True)
class Weekend:
    """One weekend: the nights that can be used, those on which home is away, and the rows of each partner's best."""

    key: dt.date
    dates: tuple[dt.date, ...]
    away: tuple[dt.date, ...]


@dataclass(frozen=True)
class BestWeekends:
    """All weekends, the best first, with the facts of each; `of_night` is the first night of a night's weekend."""

    weekends: pd.DataFrame
    facts: tuple[tuple[Fact, ...], ...]
    of_night: dict[dt.date, dt.date]


def weekends_of(nights: pd.DataFrame, allowed: Sequence[str]) -> list[Weekend]:
    """The weekends of a period, in order; `allowed` are the policy's nights. Keyed by Friday, or Monday of the week."""
    wanted = [day for day in WEEKEND if day in allowed]
    back = WEEKDAYS.index("fri") if wanted else 0
    wanted = wanted or list(allowed)
    found: dict[dt.date, tuple[list[dt.date], list[dt.date]]] = {}
    for date, possible in zip(nights["night"], nights["possible"], strict=True):
        if WEEKDAYS[date.weekday()] in wanted:
            key = date - dt.timedelta(days=(date.weekday() - back) % 7)
            found.setdefault(key, ([], []))[0 if possible else 1].append(date)
    return [Weekend(key, tuple(free), tuple(away)) for key, (free, away) in found.items() if free]


def best_weekends(inputs: Inputs, period: Nights, nights: pd.DataFrame, windows: pd.DataFrame) -> BestWeekends:
    """All weekends of a period; `nights` are judged and have home's cost (`home_nights`)."""
    weekends = weekends_of(nights, inputs.season.policy.nights)
    rows = rows_by_night(windows, period.dates)
    context = _Context(inputs, period, nights.set_index("night", drop=False), windows)
    mine = [windows.iloc[[row for date in weekend.dates for row in rows[date]]] for weekend in weekends]
    made = [_weekend_row(context, *each) for each in zip(weekends, mine, strict=True)]
    facts = [_facts(context, *each) for each in zip(weekends, mine, strict=True)]
    names = [
        "rank", "first_night", "last_night", "nights", "best_night", "partners_in_reach", "expected_contacts", "score",
        "home_degradation_db", "declination_deg", "distance_km", "sun_separation_deg",
    ]  # fmt: skip
    frame = pd.DataFrame(made, columns=names)
    frame = frame.assign(
        less=-frame["score"].astype(float).round(9), lossy=frame["home_degradation_db"].astype(float).fillna(np.inf)
    ).sort_values(["less", "lossy", "first_night"], kind="stable")
    frame["rank"] = np.arange(1, len(frame) + 1)
    member = {date: weekend.dates[0] for weekend in weekends for date in weekend.dates}
    return BestWeekends(frame[names].reset_index(drop=True), tuple(facts[place] for place in frame.index), member)


@dataclass(frozen=True)
class _Context:
    inputs: Inputs
    period: Nights
    nights: pd.DataFrame
    windows: pd.DataFrame

    @cached_property
    def best_chance(self) -> pd.Series:
        """The best chance of each partner over the whole period."""
        return self.windows.groupby("partner", sort=False)["chance"].max()

    @cached_property
    def worth_a_try(self) -> list[str]:
        """Partners who are at least marginal on some night of the period."""
        limit = self.inputs.season.policy.outcome_thresholds.marginal
        return [str(call) for call in self.best_chance.index[self.best_chance >= limit]]


def counted_partners(inputs: Inputs, windows: pd.DataFrame, nights: int) -> pd.DataFrame:
    """The best window of each partner by chance times priority, worth most first, as many as there are slots for."""
    priority = {wish.call: wish.priority for wish in inputs.wishes}
    worth = windows["chance"].to_numpy(float) * np.array([priority[call] for call in windows["partner"]])
    ordered = windows.assign(worth=worth).sort_values(
        ["worth", "degradation_slot_db"], ascending=[False, True], kind="stable"
    )
    return ordered.drop_duplicates("partner").head(inputs.season.policy.maximum_slots_per_night * nights)


def _weekend_row(context: _Context, weekend: Weekend, windows: pd.DataFrame) -> list[object]:
    mine, best = context.nights.loc[list(weekend.dates)], _best_night(context, weekend)
    counted = counted_partners(context.inputs, windows, len(weekend.dates))
    return [
        0, weekend.dates[0], weekend.dates[-1], weekend.dates, best["night"], int(windows["partner"].nunique()),
        float(counted["chance"].sum()), float(counted["worth"].sum()), float(mine["home_degradation_db"].min()),
        float(best["declination_deg"]), float(best["distance_km"]), float(mine["sun_separation_deg"].min()),
    ]  # fmt: skip


def _best_night(context: _Context, weekend: Weekend) -> pd.Series:
    """The best of its nights: by score, then home's cost, then the earlier one."""
    mine = context.nights.loc[list(weekend.dates)]
    order = mine.assign(less=-mine["score"].round(9)).sort_values(["less", "home_degradation_db"], kind="stable")
    return order.iloc[0]


def _facts(context: _Context, weekend: Weekend, windows: pd.DataFrame) -> tuple[Fact, ...]:
    """The facts of one weekend, in the order in which they are told."""
    mine, best = context.nights.loc[list(weekend.dates)], _best_night(context, weekend)
    return (
        *_away(weekend),
        *_sun(mine, context.inputs.season.policy.minimum_sun_separation_deg),
        _reach(context, windows, best),
        _moon(mine),
        *_best_chances(context, windows),
        *_standing_out(context, best),
    )


def _away(weekend: Weekend) -> list[Fact]:
    return [Fact(FactKind.HOME_AWAY, nights=weekend.away)] if weekend.away else []


def _sun(nights: pd.DataFrame, limit_deg: float) -> list[Fact]:
    least = nights.loc[nights["sun_separation_deg"].idxmin()]
    angle = float(least["sun_separation_deg"])
    if angle >= NEAR_SUN_DEG:
        return []
    kind = FactKind.SUN_INSIDE_LIMIT if angle < limit_deg else FactKind.SUN_NEAR
    return [Fact(kind, nights=(least["night"],), angle_deg=angle, limit_deg=limit_deg)]


def _moon_up(context: _Context, night: pd.Series) -> tuple[dt.datetime, dt.datetime] | None:
    """Rise and set of a night, its edges where the Moon stays up through it; None where one alone lies in it."""
    crossings = [night["home_moonrise_utc"], night["home_moonset_utc"]]
    if all(map(is_missing, crossings)) and night["moon_up_hours"] > 0.0:
        return context.period.edges_of(night["night"])
    if any(map(is_missing, crossings)):
        return None
    return as_instant(crossings[0]), as_instant(crossings[1])


def _reach(context: _Context, windows: pd.DataFrame, best: pd.Series) -> Fact:
    """Who is in reach, the best night, and when the Moon is up on it."""
    calls, wanted = tuple(dict.fromkeys(windows["partner"])), len(context.inputs.partners)
    if not calls:
        return Fact(FactKind.NOBODY_IN_REACH)
    missing = tuple(call for call in context.worth_a_try if call not in calls)
    kind, named = FactKind.SOME_IN_REACH, tuple[str, ...]()
    if len(calls) <= 2:
        kind, named = FactKind.ONLY_IN_REACH, calls
    elif len(calls) == wanted:
        kind = FactKind.ALL_IN_REACH
    elif 0 < len(missing) <= 2:
        kind, named = FactKind.NOT_IN_REACH, missing
    return Fact(
        kind,
        calls=named,
        partners=len(calls),
        of_partners=wanted,
        best_night=best["night"],
        moon_up=_moon_up(context, best),
    )


def _moon(nights: pd.DataFrame) -> Fact:
    """Distance and declination over the weekend."""
    nearest, farthest = float(nights["distance_km"].min()), float(nights["distance_km"].max())
    kind = moon_kind(nearest, farthest)
    distance = {FactKind.NEAR_PERIGEE: nearest, FactKind.NEAR_APOGEE: farthest}
    declinations = float(nights["declination_deg"].min()), float(nights["declination_deg"].max())
    mean = float(nights["distance_km"].mean())
    return Fact(kind, distance_km=distance.get(kind, mean), declinations_deg=declinations)


def _best_chances(context: _Context, windows: pd.DataFrame) -> list[Fact]:
    """Partners who are never sure and have the best chance of the whole period on this weekend."""
    limits = context.inputs.season.policy.outcome_thresholds
    here = windows.groupby("partner", sort=False)["chance"].max()
    unsure = here[(here >= limits.marginal) & (here < limits.strong)]
    calls = tuple(str(call) for call, chance in unsure.items() if chance >= context.best_chance[call])
    return [Fact(FactKind.BEST_CHANCE, calls=calls)] if calls else []


def _standing_out(context: _Context, best: pd.Series) -> list[Fact]:
    """The noise part at home that stands out most from the period's mean on the best night, where it matters."""
    names = {f"home_degradation_{part}_db": part for part in NOISE_PARTS}
    above = best[list(names)].astype(float) - context.nights[list(names)].mean()
    if above.isna().all():
        return []
    name = str(above.idxmax())
    if best[name] < NOTABLE_DB or above[name] < STANDS_OUT_DB:
        return []
    return [Fact(FactKind.NOISE, part=names[name], loss_db=float(best[name]))]
