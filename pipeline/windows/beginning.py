"""From which date on a plan offers anything: the one asked for, else the day after the latest outcome that is noted.

From the record and the nights; the clock of the machine has no part in it.
"""

from __future__ import annotations

import dataclasses
import datetime as dt

import pandas as pd

from pipeline.record.inputs import Inputs
from pipeline.windows.nights import DAY, Nights


def with_beginning(inputs: Inputs, nights: Nights) -> Inputs:
    """The inputs with their `planned_from` filled in; it stays None where no night of the plan has an outcome yet."""
    if inputs.planned_from is not None:
        return inputs
    return dataclasses.replace(inputs, planned_from=_day_after_outcomes(inputs, nights))


def _day_after_outcomes(inputs: Inputs, nights: Nights) -> dt.date | None:
    starts = [answer.start_utc for answer in inputs.record.answers if answer.outcome]
    places = nights.night_index([(start - nights.start).total_seconds() for start in starts], nights.start)
    inside = [int(place) for place in places if 0 <= place < len(nights.dates)]
    return nights.dates[max(inside)] + DAY if inside else None


def rows_ahead(frame: pd.DataFrame, inputs: Inputs) -> pd.DataFrame:
    """The rows of nights for which anything is planned still, by the column `night`; numbered anew."""
    if inputs.planned_from is None or frame.empty:
        return frame
    return frame[[not inputs.is_past(night) for night in frame["night"]]].reset_index(drop=True)
