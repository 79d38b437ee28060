"""Rows of tables as plain values: records, dates, and what is missing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

import pandas as pd


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows as dicts, the way the builders walk them."""
    return [{str(key): value for key, value in row.items()} for row in frame.to_dict("records")]


def own_samples(samples: pd.DataFrame, call: str, names: Sequence[str]) -> pd.DataFrame:
    """Rows of one partner by time, `time_utc` and these columns alone: to copy all takes ten times as long."""
    mine = samples.loc[(samples["partner"] == call).to_numpy(), ["time_utc", *names]]
    return mine.sort_values("time_utc", kind="stable")


def as_date(value: Any) -> dt.date:
    """A date from a date, datetime or Timestamp."""
    return value.date() if isinstance(value, dt.datetime) else value


def is_missing(value: object) -> bool:
    """None, NaN and NaT alike."""
    return value is None or bool(pd.isna(value))
