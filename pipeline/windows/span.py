"""Nights and periods: a night runs from the home station's local noon to the next and carries the date it begins on.

From the season's months or dates and the home zone (IANA time-zone database).
"""

from __future__ import annotations

import datetime as dt
import hashlib
from base64 import b32encode
from dataclasses import dataclass
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from pipeline.inputs.model import Season
from pipeline.record.inputs import Inputs
from pipeline.windows.instants import noon_of

DAY_S = 86400.0
# Computed beyond both ends of the period, so that nothing is cut at its edge (see windows.py).
MARGIN = dt.timedelta(days=1)


@dataclass(frozen=True)
class Span:
    """The nights of a plan: first and last date, the home zone, and the noons that bound each night (UTC)."""

    first_night: dt.date
    last_night: dt.date
    zone: ZoneInfo

    @cached_property
    def dates(self) -> tuple[dt.date, ...]:
        """The date of each night, in order."""
        days = range((self.last_night - self.first_night).days + 1)
        return tuple(self.first_night + dt.timedelta(days=day) for day in days)

    @cached_property
    def noons(self) -> tuple[dt.datetime, ...]:
        """The noon that opens each night and, last, the one that closes the period, in UTC."""
        dates = [*self.dates, self.last_night + dt.timedelta(days=1)]
        return tuple(noon_of(date, self.zone) for date in dates)

    @cached_property
    def midnights(self) -> tuple[dt.datetime, ...]:
        """The middle of each night: local midnight, in UTC."""
        return tuple(
            dt.datetime.combine(date + dt.timedelta(days=1), dt.time(0), tzinfo=self.zone).astimezone(dt.UTC)
            for date in self.dates
        )

    @property
    def start(self) -> dt.datetime:
        """First noon, UTC."""
        return self.noons[0]

    @property
    def end(self) -> dt.datetime:
        """Last noon, UTC."""
        return self.noons[-1]

    @property
    def name(self) -> str:
        """`2027-03` for a calendar month, else `2027-03-05_2027-04-02`: the folder of the plan."""
        first, last = self.first_night, self.last_night
        whole = first.day == 1 and (last + dt.timedelta(days=1)).day == 1
        if whole and (first.year, first.month) == (last.year, last.month):
            return f"{first:%Y-%m}"
        return f"{first}_{last}"

    def night_index(self, time_s: npt.ArrayLike, origin: dt.datetime) -> npt.NDArray[np.int64]:
        """Which night each time (seconds from `origin`) falls in; -1 before the first, len(dates) after the last."""
        edges = np.array([(noon - origin).total_seconds() for noon in self.noons])
        return np.searchsorted(edges, np.asarray(time_s, dtype=float), side="right").astype(np.int64) - 1


def make_span(season: Season, zone: ZoneInfo, today: dt.date) -> Span:
    """The season's dates or months; where it names none, the calendar month after `today`."""
    if season.dates is not None:
        return Span(season.dates.first, season.dates.last, zone)
    months = sorted(season.months) or [f"{month_after(today.replace(day=1)):%Y-%m}"]
    first = dt.date.fromisoformat(months[0] + "-01")
    last = month_after(dt.date.fromisoformat(months[-1] + "-01")) - dt.timedelta(days=1)
    return Span(first, last, zone)


def span_of(inputs: Inputs, today: dt.date) -> Span:
    """The period of a season, in nights at home."""
    return make_span(inputs.season, inputs.zone, today)


def plan_number(inputs: Inputs, period: Span) -> str:
    """Four characters of the hash over all inputs and the period: the same inputs give the same number."""
    digest = hashlib.sha256(f"{inputs.digest} {period.first_night} {period.last_night}".encode()).digest()
    return b32encode(digest).decode()[:4]


def month_after(first_of_month: dt.date) -> dt.date:
    """The first day of the next month."""
    return (first_of_month + dt.timedelta(days=32)).replace(day=1)
