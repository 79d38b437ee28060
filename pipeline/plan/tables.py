"""A plan's own tables: one row a partner, one an hour of the month's strip; columns named in DEVELOPERS.md.

From windows and the sky; windows, samples and nights have theirs in `windows/tables.py`. Nothing is rounded here.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from pipeline.ephemeris.sky import Sky
from pipeline.ephemeris.tracks import Sites, see_from_centre
from pipeline.outlook.trips import Trips
from pipeline.windows.instants import utc
from pipeline.windows.nights import Nights
from pipeline.windows.samples import see_from

STRIP_STEP_S = 3600.0


def partners_table(windows: pd.DataFrame, calls: Sequence[str], bands: Sequence[str]) -> pd.DataFrame:
    """A row for each partner: how many windows, how many hours, and the night of the best chance (then least loss)."""
    grouped = windows.groupby("partner", sort=False)["duration_min"]
    count, minutes = grouped.count(), grouped.sum()
    ordered = windows.assign(rounded=windows["chance"].round(3)).sort_values(
        ["rounded", "degradation_slot_db", "window_start_utc"], ascending=[False, True, True], kind="stable"
    )
    best = ordered.drop_duplicates("partner").set_index("partner")
    return pd.DataFrame(
        {
            "partner": list(calls),
            "band": list(bands),
            "windows": [int(count.get(call, 0)) for call in calls],
            "hours": [float(minutes.get(call, 0.0)) / 60.0 for call in calls],
            "best_night": [best["night"].get(call) for call in calls],
            "chance": [float(best["chance"].get(call, np.nan)) for call in calls],
        }
    )


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


def strip_table(sky: Sky, sites: Sites, period: Nights) -> pd.DataFrame:
    """The Moon every hour of the period, for the strip of the month page."""
    # The sky begins at midnight at home: its steps are whole hours there.
    time = np.arange(0.0, sky.duration_s, STRIP_STEP_S)
    centre = see_from_centre(sky, time)
    home = see_from(sky, sites.take(np.zeros(time.size, dtype=np.int64)), time)
    return pd.DataFrame(
        {
            "time_utc": utc(sky.start, time),
            "declination_deg": centre.declination_deg,
            "distance_km": centre.distance_km,
            "sun_separation_deg": home.sun_separation_deg,
        }
    )
