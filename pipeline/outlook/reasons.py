"""Why a night is good or bad: the facts that its usable slots show, each with its weight; nothing else is told.

From the judged nights and `worth`. What the sky alone would do counts only where it decides what people can work.
Thresholds and weights are judgement and stand here once.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.agenda.candidates import Candidates
from pipeline.outlook.facts import NEAR_SUN_DEG, NOISE_PARTS, NOTABLE_DB, STANDS_OUT_DB, Fact, FactKind, moon_kind
from pipeline.outlook.nights import slot_figures
from pipeline.outlook.worth import Worth
from pipeline.record.inputs import Inputs

FloatArray = npt.NDArray[np.float64]

LOW_DEG = 10.0
# Just over the 3.01 dB that a linear pair below 1.5 GHz, or one with a circular feed, pays on every night.
HEAVY_LOSS_DB = 3.02
# By so much the best chance of a partner must pass that of every other night to be worth telling.
BETTER_BY = 0.05


@dataclass(frozen=True)
class Context:
    """What the facts are taken from; rows of `best` are one partner's best usable slot in one night."""

    worth: Worth
    nights: pd.DataFrame

    @property
    def inputs(self) -> Inputs:
        """The season."""
        return self.worth.grid.inputs

    @property
    def best(self) -> Candidates:
        """Of each night and partner the best usable slot."""
        return self.worth.best

    @cached_property
    def calls(self) -> tuple[str, ...]:
        """The partner of each of these slots."""
        return tuple(self.inputs.partners[pair].call for pair in self.best.pair)

    @cached_property
    def chance_by_night(self) -> FloatArray:
        """Best usable chance, (nights, partners); 0 where there is none."""
        found = np.zeros(self.worth.heard.shape)
        found[self.best.night, self.best.pair] = self.best.chance
        return found

    def figure(self, name: str) -> FloatArray:
        """A column of the samples in the middle of each of these slots."""
        return slot_figures(self.worth.grid, self.best, name)

    @cached_property
    def parts(self) -> dict[str, FloatArray]:
        """The noise parts of the degradation in these slots, dB."""
        return {part: self.figure(f"degradation_{part}_db") for part in NOISE_PARTS}


def facts_of_nights(worth: Worth, nights: pd.DataFrame) -> tuple[tuple[Fact, ...], ...]:
    """The facts of each night, the weightiest first; `nights` are judged (see `nights.judge`); none of a past one."""
    context, is_past = Context(worth, nights), worth.grid.inputs.is_past
    return tuple(() if is_past(date) else _facts(context, index) for index, date in enumerate(nights["night"]))


def _facts(context: Context, index: int) -> tuple[Fact, ...]:
    """The facts of one night, by its place in the table."""
    night = context.nights.iloc[index]
    rows = np.flatnonzero(context.best.night == index)
    found = [*_not_possible(context, night), *_sun(context, index)]
    if not rows.size:
        found += _nobody(context, index)
    else:
        found += [
            *_met(context, index, rows),
            *_best_chance(context, index, rows),
            *_moon(night),
            *_standing_out(context, rows),
            *_heavy_losses(context, rows),
            *_low_moon(context, rows),
        ]
    return tuple(sorted(found, key=lambda fact: -fact.weight))


def _not_possible(context: Context, night: pd.Series) -> list[Fact]:
    if night["possible"]:
        return []
    away = context.inputs.home.is_away(night["night"])
    return [Fact(FactKind.HOME_AWAY if away else FactKind.NOT_YOUR_NIGHT, 100, nights=(night["night"],))]


def _nobody(context: Context, index: int) -> list[Fact]:
    """Nobody can be met: nobody is in sight, nobody strong enough, or nobody free."""
    night = context.nights.iloc[index]
    if not night["partners_in_reach"]:
        return [
            Fact(FactKind.NOBODY_IN_REACH, 110),
            Fact(FactKind.DECLINATION, 40, angle_deg=float(night["declination_deg"])),
        ]
    heard = int(context.worth.heard[index].sum())
    if not heard:
        return [Fact(FactKind.NOBODY_STRONG_ENOUGH, 90, partners=int(night["partners_in_reach"]))]
    return [Fact(FactKind.NOBODY_FREE, 90, partners=heard)]


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
    # A nearness that lasts to the end of the span has no last night here.
    until = (nights["night"].iloc[last],) if index < last < len(nights) - 1 else ()
    kind, weight = (FactKind.SUN_INSIDE_LIMIT, 95) if now < limit else (FactKind.SUN_NEAR, 72)
    return [Fact(kind, weight, nights=until, angle_deg=now, limit_deg=limit)]


def _met(context: Context, index: int, rows: npt.NDArray[np.int64]) -> list[Fact]:
    """Who can be met, who on this night alone, and how many hours of sleep or work keep away."""
    calls = tuple(context.calls[row] for row in rows)
    found = [Fact(FactKind.CAN_BE_MET, 80, calls=calls, of_partners=len(context.inputs.partners))]
    nights_of_pair = (context.chance_by_night > 0.0).sum(axis=0)
    alone = tuple(context.calls[row] for row in rows if nights_of_pair[context.best.pair[row]] == 1)
    found += [Fact(FactKind.ONLY_NOW, 85, calls=alone)] if alone and len(context.nights) > 1 else []
    lost = int((context.worth.heard[index] & (context.chance_by_night[index] == 0.0)).sum())
    return [*found, *([Fact(FactKind.HOURS_LOST, 50, partners=lost)] if lost else [])]


def _best_chance(context: Context, index: int, rows: npt.NDArray[np.int64]) -> list[Fact]:
    """The partner whose chance here passes that of every other night by most, where it is never sure."""
    strong = context.inputs.season.policy.outcome_thresholds.strong
    by_night = context.chance_by_night
    others = np.delete(by_night, index, axis=0).max(axis=0, initial=0.0)
    found = [
        Fact(
            FactKind.BEST_CHANCE, 75, calls=(context.calls[row],), chance=float(context.best.chance[row]),
            next_chance=float(others[context.best.pair[row]]),
        )
        for row in rows
    ]  # fmt: skip
    found = [fact for fact in found if fact.next_chance > 0.0 and fact.next_chance < strong]
    best = max(found, key=lambda fact: fact.chance - fact.next_chance, default=None)
    return [best] if best is not None and best.chance - best.next_chance >= BETTER_BY else []


def _moon(night: pd.Series) -> list[Fact]:
    distance = float(night["distance_km"])
    kind = moon_kind(distance, distance)
    weight = 45 if kind is FactKind.MOON_DISTANCE else 70
    return [Fact(kind, weight, distance_km=distance, loss_db=float(night["degradation_db"]))]


def _standing_out(context: Context, rows: npt.NDArray[np.int64]) -> list[Fact]:
    """The noise part that stands out most from the span's usable slots, where it matters."""
    now = {part: float(np.median(values[rows])) for part, values in context.parts.items()}
    above = {part: now[part] - float(np.median(values)) for part, values in context.parts.items()}
    part = max(above, key=lambda name: above[name])
    if now[part] < NOTABLE_DB or above[part] < STANDS_OUT_DB:
        return []
    return [Fact(FactKind.NOISE, 60, part=part, loss_db=now[part])]


def _heavy_losses(context: Context, rows: npt.NDArray[np.int64]) -> list[Fact]:
    """The partner who loses most to polarization and to spread in its best slot, each where heavy."""
    found: list[Fact] = []
    for name, kind in (
        ("polarization_loss_db", FactKind.POLARIZATION_LOSS),
        ("spread_loss_db", FactKind.SPREAD_LOSS),
    ):
        loss = np.nan_to_num(context.figure(name)[rows])
        if loss.max() > HEAVY_LOSS_DB:
            row = rows[int(np.argmax(loss))]
            found.append(Fact(kind, 43, calls=(context.calls[row],), loss_db=float(loss.max())))
    return found


def _low_moon(context: Context, rows: npt.NDArray[np.int64]) -> list[Fact]:
    """The partner who has the Moon lowest in the middle of its best slot, where that is low."""
    elevation = context.figure("partner_elevation_deg")[rows]
    if elevation.min() >= LOW_DEG:
        return []
    row = rows[int(np.argmin(elevation))]
    return [Fact(FactKind.LOW_MOON, 40, calls=(context.calls[row],), angle_deg=float(elevation.min()))]
