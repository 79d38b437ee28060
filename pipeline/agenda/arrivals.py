"""When to be at the site for a night's first slot, and whether home's own hours have begun by then.

From the policy's `setup_minutes.arrive` and home's hours.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from pipeline.agenda import hours
from pipeline.record.inputs import Inputs
from pipeline.windows.instants import minutes_of


@dataclass(frozen=True)
class Arrival:
    """The instant (UTC), and whether it lies outside home's hours, which are those on the air."""

    at: dt.datetime
    outside_hours: bool


def arrival_before(inputs: Inputs, first_slot: dt.datetime) -> Arrival:
    """The arrival for a night whose first slot begins at that instant."""
    at = first_slot - dt.timedelta(minutes=inputs.season.policy.setup_minutes.arrive)
    there = hours.available_stretches(inputs.home, at - hours.DAY, at + hours.DAY)
    return Arrival(at, not bool(hours.inside(there, np.array([minutes_of(at)]))[0]))
