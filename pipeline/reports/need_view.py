"""The page of what a partner needs in words and figures, and the table of the same as values.

From a finished `Need`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from pipeline.need.reaching import Reach
from pipeline.pairs.outcomes import outcome_words
from pipeline.reports.leaflet import Leaflet
from pipeline.reports.views import PAPERS
from pipeline.wording import formats
from pipeline.wording.need import (
    assumed_words,
    cells_key,
    cells_title,
    changes_to_try,
    decibel_words,
    figure_words,
    heading_words,
    mode_words,
    named_nights,
    nights_words,
    reach_heads,
    reach_words,
    roster_words,
    table_title,
)

if TYPE_CHECKING:
    from pipeline.need.dish_and_power import DishAndPower
    from pipeline.need.need import Need

LAST_HEADING = "How to read this page"


@dataclass(frozen=True)
class ReachRow:
    """One figure at one end: what is there, what would be workable, what strong."""

    whose: str
    figure: str
    now: str
    workable: str
    strong: str


@dataclass(frozen=True)
class Cell:
    """A chance on the best and the median night; `word` shades it, `is_now` is what the file has.

    `median` is empty where one night is both.
    """

    best: str
    median: str
    word: str
    is_now: bool


@dataclass(frozen=True)
class TableView:
    """Dishes as rows, powers as columns."""

    title: str
    powers: tuple[str, ...]
    rows: tuple[tuple[str, tuple[Cell, ...]], ...]


@dataclass(frozen=True)
class NeedView(Leaflet):
    """The whole document."""

    heading: str
    subtitle: str
    nights: str
    named: str
    reach_heads: tuple[str, str]
    reaches: tuple[ReachRow, ...]
    tries: tuple[str, ...]
    modes: tuple[str, ...]
    tables: tuple[TableView, ...]
    cells_title: str
    cells_key: str
    decibel: tuple[str, ...]
    roster: tuple[tuple[str, str, str, str], ...]
    roster_title: str
    assumed: tuple[str, ...]


def need_view(need: Need) -> NeedView:
    """Everything the template prints."""
    home, limits = need.inputs.home, need.inputs.season.policy.outcome_thresholds
    band, call = formats.band(need.band), need.partner.call
    when = formats.period_title(need.span.first_night, need.span.last_night)
    heading = heading_words(need)
    return NeedView(
        title=f"Mutual Moon, {heading}, {when}, {home.call}",
        author=home.operator or home.call,
        footer=f"Mutual Moon · {when} · {home.call} and {call} · {band} · plan {need.number}",
        number=need.number,
        paper=PAPERS[need.inputs.season.report.paper],
        dated=need.span.first_night,
        last_heading=LAST_HEADING,
        heading=heading,
        subtitle=f"{when}, from {formats.short(home.title)}, {band}" + (f", {need.mode.title}" if need.mode else ""),
        nights=nights_words(need),
        named=named_nights(need),
        reach_heads=reach_heads(need),
        reaches=tuple(_reach_row(need, one) for one in need.reaches),
        tries=tuple(changes_to_try(need)),
        modes=mode_words(need),
        tables=tuple(_table(need, one) for one in need.tables),
        cells_title=cells_title(need),
        cells_key=cells_key(need),
        decibel=decibel_words(need),
        roster=tuple(
            (one.call, roster_words(one, limits.limits, limits.marginal), *_hours(one.windows, one.window_hours))
            for one in need.roster
        ),
        roster_title=f"Whom {call} could work",
        assumed=assumed_words(need),
    )


def _hours(windows: int, hours: float) -> tuple[str, str]:
    return (str(windows), f"{hours:.0f} h") if windows else ("", "")


def _reach_row(need: Need, one: Reach) -> ReachRow:
    whose = "you" if one.end == "home" else need.partner.call
    return ReachRow(whose, figure_words(one), formats.plain(one.now), reach_words(one, 0), reach_words(one, 1))


def _table(need: Need, table: DishAndPower) -> TableView:
    thresholds = need.inputs.season.policy.outcome_thresholds
    equipment = need.inputs.home if table.end == "home" else need.partner
    here = equipment.bands[need.band]
    words = outcome_words(table.best, need.inputs.season.policy, need.is_assumed)
    rows, several = [], len(need.chances.nights) > 1
    for row, dish in enumerate(table.dishes_m):
        cells = tuple(
            Cell(
                best=_percent(one, thresholds.limits),
                median=_percent(other, thresholds.limits) if several else "",
                word=str(word),
                is_now=(dish, power) == (here.antenna.dish_diameter_m, here.power_w),
            )
            for power, one, other, word in zip(
                table.powers_w, table.best[row].tolist(), table.median[row].tolist(), words[row], strict=True
            )
        )
        rows.append((f"{formats.plain(dish)} m", cells))
    return TableView(
        table_title(table.end, need), tuple(f"{formats.plain(one)} W" for one in table.powers_w), tuple(rows)
    )


def _percent(chance: float, limits: tuple[float, ...]) -> str:
    """`85`, `<5`, `>95`: in a cell there is no room for words."""
    side, steps = formats.twentieths(chance, limits)
    return {"under": "<", "over": ">", "almost": "~"}.get(side, "") + str(steps * 5)


def need_table(need: Need) -> pd.DataFrame:
    """A row a cell: whose dish and power, and the chance on the best and on the median night."""
    rows = [
        {
            "station": (need.inputs.home if table.end == "home" else need.partner).call,
            "dish_diameter_m": dish,
            "power_w": power,
            "chance_best_night": float(table.best[row, column]),
            "chance_median_night": float(table.median[row, column]),
        }
        for table in need.tables
        for row, dish in enumerate(table.dishes_m)
        for column, power in enumerate(table.powers_w)
    ]
    return pd.DataFrame(
        rows, columns=["station", "dish_diameter_m", "power_w", "chance_best_night", "chance_median_night"]
    )


def reach_table(need: Need) -> pd.DataFrame:
    """A row a figure and threshold: what is there, the least that does, and the words that try it."""
    rows = [
        {
            "station": (need.inputs.home if one.end == "home" else need.partner).call,
            "figure": one.figure,
            "now": one.now,
            "chance_asked": threshold,
            "least": value,
            "change": change,
        }
        for one in need.reaches
        for threshold, value, change in zip(need.thresholds, one.values, one.changes, strict=True)
    ]
    return pd.DataFrame(rows, columns=["station", "figure", "now", "chance_asked", "least", "change"])
