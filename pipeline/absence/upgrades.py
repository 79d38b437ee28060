"""What equipment would make a partner's best slot good enough: a larger dish at either end, or more power at one.

The link of that night is worked out anew with each dish tried, since a narrow beam hears more of the Moon and misses it
more easily; power adds to one direction's margin decibel for decibel.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from pipeline.absence.changes import changed_inputs
from pipeline.absence.counterfactuals import Trials
from pipeline.absence.remedies import LargerDish
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.slot_grid import SlotGrid, make_slot_grid
from pipeline.inputs.model import Station
from pipeline.pairs.survey import make_survey
from pipeline.record.inputs import Inputs
from pipeline.record.model import Record
from pipeline.windows.span import Span

LARGEST_DISH_M = 15.0
# Each dish tried is a tenth larger than the one before.
STEP, TRIES = 1.1, 10
MOST_POWER_DB = 13.0


def station_of(grid: SlotGrid, pair: int, end: str) -> Station:
    """Home, or the partner of a pair."""
    return grid.inputs.home if end == "home" else grid.inputs.partners[pair]


def dish_that_would_do(grid: SlotGrid, best: Candidates, end: str, missing_db: float, chance: float) -> float | None:
    """Diameter, m, to a tenth, of a dish at one end with which a slot (one row) has a chance; None: none tried does."""
    pair = int(best.pair[0])
    diameter = station_of(grid, pair, end).bands[grid.band_of(pair)].antenna.dish_diameter_m
    if diameter is None:
        return None
    size = diameter * 10.0 ** (missing_db / 20.0)
    for _ in range(TRIES):
        tried = float(np.ceil(size * 10.0 - 1e-9)) / 10.0
        if tried > LARGEST_DISH_M:
            return None
        if _chance_with(grid, best, LargerDish(end, tried)) >= chance:
            return tried
        size = tried * STEP
    return None


def _chance_with(grid: SlotGrid, best: Candidates, remedy: LargerDish) -> float:
    """The chance of a slot with another dish at one end, everything worked out anew for its night."""
    pair = int(best.pair[0])
    inputs = alone(changed_inputs(grid.inputs, pair, remedy), pair)
    night = grid.period.dates[int(best.night[0])]
    found = make_survey(inputs, Span(night, night, grid.period.zone), lambda _: None, shifts=False)
    again = make_slot_grid(inputs, found.period, found.windows, found.samples, found.modes)
    return float(again.slots_at(0, [(int(best.start[0]), int(best.end[0]))]).chance[0])


def alone(inputs: Inputs, pair: int) -> Inputs:
    """The season with one partner, and of the record only what reviews have learnt."""
    return dataclasses.replace(
        inputs,
        partners=(inputs.partners[pair],),
        wishes=(inputs.wishes[pair],),
        record=Record(corrections=inputs.record.corrections, measurements=inputs.record.measurements),
    )


def power_that_would_do(trials: Trials, slots: Candidates, end: str, chance: float) -> float | None:
    """Watts at one end with which the best of these slots has a chance, two digits, rounded up; None: no use."""
    pair = int(slots.pair[0])
    side = "partner" if end == "home" else "home"
    missing = trials.missing_db(slots, chance, side)
    if missing is None or missing > MOST_POWER_DB:
        return None
    watts = station_of(trials.grid, pair, end).bands[trials.grid.band_of(pair)].power_w * 10.0 ** (missing / 10.0)
    digit = 10.0 ** (np.floor(np.log10(watts)) - 1.0)
    return float(np.ceil(watts / digit - 1e-9) * digit)
