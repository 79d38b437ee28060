"""A plan's own table: one row a partner; columns named in DEVELOPERS.md.

From windows and slots; windows, samples and nights have theirs in `windows/tables.py`. Nothing is rounded here.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from pipeline.agenda import hours
from pipeline.agenda.candidates import Candidates
from pipeline.outlook.trips import Trips
from pipeline.outlook.worth import Worth


def partners_table(worth: Worth, calls: Sequence[str]) -> pd.DataFrame:
    """A row for each partner: windows and their hours, what of them is usable, the night of the best usable chance."""
    grid = worth.grid
    grouped = grid.windows.groupby("partner", sort=False)["duration_min"]
    count, minutes = grouped.count(), grouped.sum()
    slots = worth.best
    best = [_best_row(slots, pair) for pair in range(len(calls))]
    return pd.DataFrame(
        {
            "partner": list(calls),
            "band": list(grid.inputs.bands),
            "windows": [int(count.get(call, 0)) for call in calls],
            "hours": [float(minutes.get(call, 0.0)) / 60.0 for call in calls],
            "usable_hours": [usable_minutes(worth, pair) / 60.0 for pair in range(len(calls))],
            "best_night": [None if row is None else grid.period.dates[int(slots.night[row])] for row in best],
            "chance": [np.nan if row is None else float(slots.chance[row]) for row in best],
        }
    )


def usable_minutes(worth: Worth, pair: int) -> int:
    """Minutes that lie in some usable slot of a pair."""
    mine = worth.usable.take(np.flatnonzero(worth.usable.pair == pair))
    stretches = hours.merge([(int(start), int(end)) for start, end in zip(mine.start, mine.end, strict=True)])
    return int((stretches[:, 1] - stretches[:, 0]).sum())


def _best_row(slots: Candidates, pair: int) -> int | None:
    """The slot of best chance (to 0.001) of a pair, the earliest of equals."""
    rows = np.flatnonzero(slots.pair == pair)
    if not rows.size:
        return None
    return int(rows[np.lexsort((slots.start[rows], -np.round(slots.chance[rows], 3)))[0]])


def trips_table(trips: Sequence[Trips]) -> pd.DataFrame:
    """A row for each number of trips; dates and calls with blanks between."""
    return pd.DataFrame(
        {
            "trips": [one.count for one in trips],
            "nights": [" ".join(map(str, one.nights)) for one in trips],
            "night_added": [" ".join(map(str, one.nights_added)) for one in trips],
            "partners_added": [" ".join(one.partners_added) for one in trips],
            "contacts_expected": [one.contacts_expected for one in trips],
            "hours_on_site": [one.hours_on_site for one in trips],
            "chosen": [one.chosen for one in trips],
        }
    )
