"""Partners by months: on how many nights each can be met in each month, and the word of the best chance there.

From a finished `Year`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pipeline.pairs.corrections import rests_on_assumptions
from pipeline.pairs.outcomes import outcome_words
from pipeline.reports.charts import runs_of
from pipeline.windows.frames import as_date, records
from pipeline.wording import formats

if TYPE_CHECKING:
    from pipeline.outlook.year import Year


@dataclass(frozen=True)
class MonthCell:
    """A partner's month in two words: that of the best usable chance and how many nights."""

    word: str
    nights: str


NO_WINDOW, NO_SLOT = MonthCell("–", ""), MonthCell("no slot", "")


@dataclass(frozen=True)
class PartnerRow:
    """A partner's months, its best night, its nights and hours altogether."""

    call: str
    best: str
    nights: str
    hours: str
    cells: tuple[MonthCell, ...]

    @property
    def words(self) -> str:
        """The first line of all months, a tab between two."""
        return "\t".join(cell.word for cell in self.cells)

    @property
    def strong(self) -> tuple[tuple[int, int], ...]:
        """First month and number of months of each run of strong ones."""
        runs = runs_of(np.array([cell.word == "strong" for cell in self.cells]))
        return tuple((first, last - first + 1) for first, last in runs)

    @property
    def counts(self) -> str:
        """The second line."""
        return "\t".join(cell.nights for cell in self.cells)


@dataclass(frozen=True)
class PartnerTable:
    """Partners by months; `months` are (month, year) heads."""

    months: tuple[tuple[str, str], ...]
    rows: tuple[PartnerRow, ...]


def partner_tables(year: Year, pages: Sequence[Sequence[tuple[int, int]]]) -> tuple[PartnerTable, ...]:
    """A table for the months of each page."""
    found = {(row["partner"], row["month"]): row for row in records(year.partner_months)}
    tables = []
    for months in pages:
        rows = []
        for pair, station in enumerate(year.inputs.partners):
            mine = [found[station.call, f"{number:04d}-{month:02d}"] for number, month in months]
            rows.append(
                PartnerRow(
                    call=station.call,
                    best=_best(year, mine),
                    nights=formats.count(sum(int(row["nights_usable"]) for row in mine), "night"),
                    hours=_hours(sum(float(row["hours"]) for row in mine)),
                    cells=tuple(_month(year, pair, row) for row in mine),
                )
            )
        heads = tuple((formats.MONTHS[month - 1][:3], str(number)) for number, month in months)
        tables.append(PartnerTable(heads, tuple(rows)))
    return tuple(tables)


def _best(year: Year, months: Sequence[dict[str, Any]]) -> str:
    """The night of the best chance over these months and that chance; the earliest of equals."""
    if not any(row["windows"] for row in months):
        return "no window"
    some = [row for row in months if row["nights_usable"]]
    if not some:
        return "never usable"
    best = max(some, key=lambda row: round(float(row["chance"]), 3))
    date = as_date(best["best_night"])
    limits = year.inputs.season.policy.outcome_thresholds.limits
    return f"{formats.chance(float(best['chance']), limits)} on {formats.day(date)}"


def _month(year: Year, pair: int, row: dict[str, Any]) -> MonthCell:
    if not row["windows"]:
        return NO_WINDOW
    if not row["nights_usable"]:
        return NO_SLOT
    chance = np.array([float(row["chance"])])
    word = str(outcome_words(chance, year.inputs.season.policy, rests_on_assumptions(year.inputs, pair))[0])
    return MonthCell(word, formats.count(int(row["nights_usable"]), "night"))


def _hours(hours: float) -> str:
    """`1,777 h`, `8.7 h`, `40 min`, `20 s`."""
    if hours >= 9.95:
        return f"{formats.thousands(hours)} h"
    if hours >= 1.0:
        return f"{hours:.1f} h"
    return formats.duration(hours * 60.0) if hours else "none"
