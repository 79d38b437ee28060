"""Whom a station could work at all: every other station of the season held against it, at whatever hour.

The station takes home's place, the others are its partners; hours, agreed slots and wishes play no part.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass

import numpy as np

from pipeline.agenda.candidates import find_slots, with_chances
from pipeline.agenda.slot_grid import make_slot_grid
from pipeline.inputs.model import Partner
from pipeline.pairs.survey import make_survey
from pipeline.record.inputs import Inputs
from pipeline.record.model import Record
from pipeline.windows.span import Span


@dataclass(frozen=True)
class Workable:
    """One other station: its windows and their hours, the best chance and the night of it; None where there is none.

    `shares_band` and `shares_mode` say whether there is anything to work on.
    """

    call: str
    windows: int
    window_hours: float
    chance: float
    night: dt.date | None
    shares_band: bool = True
    shares_mode: bool = True


def whom_it_works(inputs: Inputs, call: str, span: Span) -> tuple[Workable, ...]:
    """The other stations of a season by chance, those it shares no band with last."""
    band = inputs.bands[inputs.place_of(call)]
    station = inputs.partner(call)
    others = [one for one in (inputs.home, *inputs.partners) if one.call != call]
    near = tuple(one for one in others if band in one.bands)
    far = [Workable(one.call, 0, 0.0, 0.0, None, shares_band=False) for one in others if band not in one.bands]
    if not near:
        return tuple(far)
    turned = dataclasses.replace(
        inputs,
        season=dataclasses.replace(inputs.season, band=band),
        home=station,
        partners=near,
        wishes=tuple(Partner(one.call) for one in near),
        record=Record(corrections=inputs.record.corrections, measurements=inputs.record.measurements),
    )
    return (*sorted(_worked(turned, span), key=lambda one: (-one.chance, one.call)), *far)


def _worked(inputs: Inputs, span: Span) -> list[Workable]:
    found = make_survey(inputs, span, lambda _: None, shifts=False)
    grid = make_slot_grid(inputs, found.period, found.windows, found.samples, found.modes)
    places = find_slots(grid.minutes, grid.minutes.sun, inputs.season.policy.slot_minutes, grid.least)
    slots = with_chances(inputs, grid.modes, grid.track, places)
    lasts = (found.windows["window_end_utc"] - found.windows["window_start_utc"]).dt.total_seconds() / 3600.0
    made = []
    for pair, one in enumerate(inputs.partners):
        rows, own = np.flatnonzero(slots.pair == pair), found.windows["partner"] == one.call
        best = rows[np.argmax(slots.chance[rows])] if rows.size else None
        made.append(
            Workable(
                call=one.call,
                windows=int(own.sum()),
                window_hours=float(lasts[own].sum()),
                chance=0.0 if best is None else float(slots.chance[best]),
                night=None if best is None else grid.period.dates[slots.night[best]],
                shares_mode=found.modes[pair] is not None,
            )
        )
    return made
