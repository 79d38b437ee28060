"""Which weekends to keep free: Friday to Sunday nights, ranked by the contacts to expect, with the reason in words.

From the judged nights and windows of a year. A partner counts once a weekend, with the best chance of its possible
nights times its priority, and no more partners count than the policy has slots for. Where the policy takes none of
these nights, the nights it takes in a week stand for the weekend. Weights of the facts are judgement.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from pipeline.inputs.model import WEEKDAYS, Inputs
from pipeline.windows.span import Period
from pipeline.windows.tables import nights_of_windows
from pipeline.wording.reasons import NEAR_APOGEE_KM, NEAR_PERIGEE_KM, NEAR_SUN_DEG, PART_WORDS

WEEKEND = ("fri", "sat", "sun")
# A part of home's cost is worth naming where it matters and stands out from the period's mean.
NOTABLE_DB = 0.3
STANDS_OUT_DB = 0.2
LONGEST = 165


@dataclass(frozen=True)
class Weekend:
    """One weekend: the nights that can be used, those on which home is away, and the rows of each partner's best."""

    key: dt.date
    dates: tuple[dt.date, ...]
    away: tuple[dt.date, ...]


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


def best_weekends(
    inputs: Inputs, period: Period, nights: pd.DataFrame, windows: pd.DataFrame
) -> tuple[pd.DataFrame, dict[dt.date, dt.date]]:
    """All weekends, the best first, and the first night of the weekend that each of their nights belongs to."""
    weekends = weekends_of(nights, inputs.season.policy.nights)
    rows = nights_of_windows(windows, period)
    told = _Context(inputs, period.zone, nights.set_index("night", drop=False), windows)
    made = [_weekend_row(told, weekend, [row for date in weekend.dates for row in rows[date]]) for weekend in weekends]
    names = [
        "rank", "first_night", "last_night", "nights", "best_night", "partners_in_reach", "expected_contacts", "score",
        "home_degradation_db", "declination_deg", "distance_km", "sun_separation_deg", "reason",
    ]  # fmt: skip
    frame = pd.DataFrame(made, columns=names)
    frame = frame.assign(
        less=-frame["score"].astype(float).round(9), lossy=frame["home_degradation_db"].astype(float).fillna(np.inf)
    ).sort_values(["less", "lossy", "first_night"], kind="stable")
    frame["rank"] = np.arange(1, len(frame) + 1)
    member = {date: weekend.dates[0] for weekend in weekends for date in weekend.dates}
    return frame[names].reset_index(drop=True), member


@dataclass(frozen=True)
class _Context:
    inputs: Inputs
    zone: ZoneInfo
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


def _weekend_row(context: _Context, weekend: Weekend, rows: Sequence[int]) -> list[object]:
    mine = context.nights.loc[list(weekend.dates)]
    windows = context.windows.iloc[list(rows)]
    counted = counted_partners(context.inputs, windows, len(weekend.dates))
    # The best of its nights: by score, then home's cost, then the earlier one.
    order = mine.assign(less=-mine["score"].round(9)).sort_values(["less", "home_degradation_db"], kind="stable")
    best = order.iloc[0]
    facts = [
        *_away(weekend),
        *_sun(mine),
        *_reach(context, windows, best),
        *_moon(mine),
        *_best_chances(context, windows),
        *_standing_out(context, best),
    ]
    return [
        0, weekend.dates[0], weekend.dates[-1], weekend.dates, best["night"], int(windows["partner"].nunique()),
        float(counted["chance"].sum()), float(counted["worth"].sum()), float(mine["home_degradation_db"].min()),
        float(best["declination_deg"]), float(best["distance_km"]), float(mine["sun_separation_deg"].min()),
        _tell(facts),
    ]  # fmt: skip


def _tell(facts: Sequence[str]) -> str:
    """A sentence a fact, as many as fit, in the order given."""
    text = ""
    for fact in facts:
        longer = f"{text} {fact[0].upper()}{fact[1:]}.".strip()
        if len(longer) <= LONGEST:
            text = longer
    return text


def _away(weekend: Weekend) -> list[str]:
    if not weekend.away:
        return []
    return [f"home is away on {_listed([f'{date:%A}' for date in weekend.away])}"]


def _sun(nights: pd.DataFrame) -> list[str]:
    least = nights.loc[nights["sun_separation_deg"].idxmin()]
    if least["sun_separation_deg"] >= NEAR_SUN_DEG:
        return []
    return [f"the Sun comes within {np.ceil(least['sun_separation_deg']):.0f} degrees on {least['night']:%A}"]


def _reach(context: _Context, windows: pd.DataFrame, best: pd.Series) -> list[str]:
    """Who is in reach, the best night, and when the Moon is up on it."""
    calls, wanted = list(dict.fromkeys(windows["partner"])), len(context.inputs.partners)
    if not calls:
        return ["no partner in reach"]
    missing = [call for call in context.worth_a_try if call not in calls]
    if len(calls) <= 2:
        who = f"{_listed(calls)} in reach"
    elif len(calls) == wanted:
        who = f"all {wanted} partners in reach"
    elif 0 < len(missing) <= 2:
        who = f"{len(calls)} partners in reach, not {_listed(missing)}"
    else:
        who = f"{len(calls)} of {wanted} partners in reach"
    if pd.isna(best["moon_pass_start_utc"]):
        return [f"{who}, best on {best['night']:%A}"]
    start = best["moon_pass_start_utc"].ceil("min").astimezone(context.zone)
    end = best["moon_pass_end_utc"].floor("min").astimezone(context.zone)
    if end - start > dt.timedelta(days=1):
        return [f"{who}, best on {best['night']:%A}, Moon up all day"]
    # A night reaches to the next noon: a Moon that rises after midnight carries its weekday.
    weekday = "" if start.date() == best["night"] else f"{start:%a} "
    return [f"{who}, best on {best['night']:%A}, Moon up {weekday}{start:%H:%M} to {end:%H:%M}"]


def _moon(nights: pd.DataFrame) -> list[str]:
    """Distance and declination over the weekend."""
    nearest, farthest = nights["distance_km"].min(), nights["distance_km"].max()
    if nearest < NEAR_PERIGEE_KM:
        where = f"near perigee ({_kilometres(nearest)})"
    elif farthest > NEAR_APOGEE_KM:
        where = f"near apogee ({_kilometres(farthest)})"
    else:
        where = f"the Moon at {_kilometres(float(nights['distance_km'].mean()))}"
    return [f"{where}, {_declinations(nights['declination_deg'].min(), nights['declination_deg'].max())}"]


def _kilometres(value: float) -> str:
    return f"{round(value / 1000) * 1000:,.0f} km"


def _declinations(low: float, high: float) -> str:
    """`21 to 27 degrees north`, `2 degrees south to 5 north`, `27 degrees south`."""
    first, last = round(low), round(high)
    if first < 0 < last:
        return f"{-first} degrees south to {last} north"
    side = "south" if first < 0 or last < 0 else "north"
    small, large = sorted((abs(first), abs(last)))
    return f"{large} degrees {side}" if small == large else f"{small} to {large} degrees {side}"


def _best_chances(context: _Context, windows: pd.DataFrame) -> list[str]:
    """Partners who are never sure and have the best chance of the whole period on this weekend."""
    limits = context.inputs.season.policy.outcome_thresholds
    here = windows.groupby("partner", sort=False)["chance"].max()
    unsure = here[(here >= limits.marginal) & (here < limits.strong)]
    calls = [str(call) for call, chance in unsure.items() if chance >= context.best_chance[call]]
    return [f"the best chance of all for {_listed(calls)}"] if calls else []


def _standing_out(context: _Context, best: pd.Series) -> list[str]:
    """The noise part at home that stands out most from the period's mean on the best night, where it matters."""
    names = {f"home_degradation_{part}_db": words for part, words in PART_WORDS.items()}
    above = best[list(names)].astype(float) - context.nights[list(names)].mean()
    if above.isna().all():
        return []
    name = str(above.idxmax())
    if best[name] < NOTABLE_DB or above[name] < STANDS_OUT_DB:
        return []
    return [f"{names[name]} costs home {best[name]:.1f} dB"]


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
