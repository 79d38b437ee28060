"""Rows of tables as plain values: records, dates, and what is missing."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pandas as pd


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows as dicts, the way the builders walk them."""
    return [{str(key): value for key, value in row.items()} for row in frame.to_dict("records")]


def as_date(value: Any) -> dt.date:
    """A date from a date, datetime or Timestamp."""
    return value.date() if isinstance(value, dt.datetime) else value


def is_missing(value: object) -> bool:
    """None, NaN and NaT alike."""
    return value is None or bool(pd.isna(value))
