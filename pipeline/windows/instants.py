"""Instants, in each way that a plan holds them: datetimes, timestamps of a table, seconds of a sky, whole minutes.

All are UTC.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    import pandas as pd

MINUTE = dt.timedelta(minutes=1)
EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


def utc(origin: dt.datetime, seconds: npt.ArrayLike) -> pd.DatetimeIndex:
    """Seconds from `origin` as UTC timestamps, to the microsecond; NaN becomes NaT. Both (n,)."""
    import pandas as pd

    micro = np.round(np.asarray(seconds, dtype=float) * 1e6)
    steps = np.where(np.isnan(micro), np.timedelta64("NaT", "us").astype(np.int64), micro).astype("timedelta64[us]")
    naive = np.datetime64(origin.replace(tzinfo=None), "us") + steps
    return pd.DatetimeIndex(naive).tz_localize("UTC")


def as_instant(value: object) -> dt.datetime:
    """A UTC datetime from a Timestamp or datetime of any zone. Raises ValueError for a naive one: a defect of ours."""
    # Here, so that who asks for whole minutes alone does not wait for tables.
    import pandas as pd

    stamp = pd.Timestamp(value)
    if stamp.tzinfo is None:
        raise ValueError(f"an instant without a zone: {stamp}")
    return stamp.tz_convert("UTC").to_pydatetime(warn=False)


def minutes_of(instant: dt.datetime) -> int:
    """Whole minutes since 1970 of an instant; a started minute counts as not yet reached."""
    return (instant - EPOCH) // MINUTE


def instant_of_minute(minute: int) -> dt.datetime:
    """Minutes since 1970 as UTC."""
    return EPOCH + MINUTE * int(minute)
