"""Which nights to take: for each night an outcome, its worth, its rank; the facts behind them are those of `reasons`.

From the usable slots of `worth`. The word is that of the best chance that a usable slot of the night has; the rank goes
by the contacts that the night brings by itself. Decibels and spread are medians over the usable partners, each at the
middle of its best usable slot.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.agenda.agenda import Agenda
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.outlook.worth import Worth, contacts_if_added, contacts_in_agenda
from pipeline.pairs.corrections import rests_on_assumptions
from pipeline.pairs.outcomes import NO_WINDOW, NOBODY_FREE, OUTCOMES, outcome_words

FloatArray = npt.NDArray[np.float64]

# The order in which nights.csv tells them; further columns follow.
COLUMNS = (
    "night", "outcome", "rank", "contacts_expected", "contacts_in_agenda", "contacts_if_added", "partners_usable",
    "partners_heard", "best_partner", "declination_deg", "distance_km", "degradation_db", "sun_separation_deg",
    "moon_lit_fraction", "home_moonrise_utc", "home_moonset_utc",
)  # fmt: skip


# Of a night that is past its Moon is told, and no worth.
PAST = "past"


def judge(worth: Worth, nights: pd.DataFrame, agenda: Agenda | None = None) -> pd.DataFrame:
    """The nights of the sky with all that they are worth; without an agenda what they bring to one stays empty."""
    grid = worth.grid
    dates, calls = grid.period.dates, [station.call for station in grid.inputs.partners]
    best = [worth.best_on(night) for night in range(len(dates))]
    none = np.full(len(dates), np.nan)
    judged = nights.assign(
        contacts_expected=[worth.contacts_alone([night]) for night in range(len(dates))],
        contacts_in_agenda=none if agenda is None else contacts_in_agenda(grid, agenda),
        contacts_if_added=none if agenda is None else contacts_if_added(grid, agenda),
        partners_usable=[" ".join(calls[pair] for pair in mine.pair) for mine in best],
        partners_heard=[" ".join(np.array(calls, dtype=object)[mine]) for mine in worth.heard],
        best_partner=[calls[int(mine.pair[np.argmax(mine.chance)])] if mine.pair.size else None for mine in best],
        degradation_db=[_median(grid, mine, "degradation_db") for mine in best],
        doppler_spread_hz=[_median(grid, mine, "doppler_spread_hz") for mine in best],
        possible=[grid.inputs.is_possible(date) for date in dates],
    )
    past = np.array([grid.inputs.is_past(date) for date in dates], dtype=bool)
    judged.loc[past, "partners_heard"] = ""
    judged["outcome"] = _outcomes(grid, best, judged["partners_in_reach"].to_numpy(int))
    judged.loc[past, "outcome"] = PAST
    # What is past ranks behind every night that is still to come.
    ahead = judged["contacts_expected"].where(~past, -1.0)
    judged["rank"] = ranks(ahead, judged["degradation_db"], judged["night"])
    return judged[[*COLUMNS, *(name for name in judged.columns if name not in COLUMNS)]]


def ranks(contacts: Sequence[float], degradation_db: Sequence[float], dates: Sequence[dt.date]) -> list[int]:
    """1 is best: most contacts to expect first, then least degradation, then the earlier one."""
    less = -np.round(np.asarray(contacts, dtype=float), 9)
    lossy = np.nan_to_num(np.asarray(degradation_db, dtype=float), nan=np.inf)
    order = np.lexsort((np.array([date.toordinal() for date in dates]), lossy, less))
    found = np.empty(order.size, dtype=np.int64)
    found[order] = np.arange(1, order.size + 1)
    return [int(rank) for rank in found]


def slot_figures(grid: SlotGrid, slots: Candidates, name: str) -> FloatArray:
    """A column of the samples in the middle of each slot, (n,)."""
    middle = (slots.start + slots.end) / 2.0
    return grid.track.at(grid.samples[name].to_numpy(float), middle, slots.window)


def _median(grid: SlotGrid, slots: Candidates, name: str) -> float:
    return float(np.median(slot_figures(grid, slots, name))) if slots.pair.size else float("nan")


def _outcomes(grid: SlotGrid, best: Sequence[Candidates], in_reach: npt.NDArray[np.int64]) -> list[str]:
    """The best word that a usable slot of each night has."""
    doubtful = np.array([rests_on_assumptions(grid.inputs, pair) for pair in range(len(grid.inputs.partners))], bool)
    words = []
    for slots, reach in zip(best, in_reach, strict=True):
        if not slots.pair.size:
            words.append(NOBODY_FREE if reach else NO_WINDOW)
            continue
        own = outcome_words(slots.chance, grid.inputs.season.policy, doubtful[slots.pair])
        words.append(min(map(str, own), key=OUTCOMES.index))
    return words
