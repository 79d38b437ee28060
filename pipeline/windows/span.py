"""The span of a plan: its first and last date, and home's zone; where a season names neither, the month to come.

From the season's months or dates. Which nights carry these dates is the Moon's affair: `nights`.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from base64 import b32encode
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from pipeline.inputs.model import Season
from pipeline.record.inputs import Inputs

# A night begins 19 hours before its date's noon at the earliest and ends 31 hours after it at the latest (`nights`): so
# far beyond the noons of its dates a span's sky is computed that no pass of its nights is cut.
MARGIN = dt.timedelta(hours=36)
NOON = dt.time(12)


@dataclass(frozen=True)
class Span:
    """Dates of a plan, first and last included, and home's zone."""

    first_night: dt.date
    last_night: dt.date
    zone: ZoneInfo

    @property
    def name(self) -> str:
        """`2027-03` for a calendar month, else `2027-03-05_2027-04-02`: the folder of the plan."""
        first, last = self.first_night, self.last_night
        whole = first.day == 1 and (last + dt.timedelta(days=1)).day == 1
        if whole and (first.year, first.month) == (last.year, last.month):
            return f"{first:%Y-%m}"
        return f"{first}_{last}"

    def is_near(self, moment: dt.datetime) -> bool:
        """Whether an instant lies on these dates, or on the day before or after, where their nights may reach."""
        date, day = moment.astimezone(self.zone).date(), dt.timedelta(days=1)
        return self.first_night - day <= date <= self.last_night + day

    def holds(self, moment: dt.datetime) -> bool:
        """Whether an instant lies between noon of the first date and noon after the last, home's clock."""
        evening = moment.astimezone(self.zone).replace(tzinfo=None) - dt.timedelta(hours=12)
        return self.first_night <= evening.date() <= self.last_night

    @property
    def sky_edges(self) -> tuple[dt.datetime, dt.datetime]:
        """From when to when, UTC, the sky must be known so that every night of these dates lies whole inside."""
        first, last = (
            dt.datetime.combine(date, NOON, tzinfo=self.zone).astimezone(dt.UTC)
            for date in (self.first_night, self.last_night)
        )
        return first - MARGIN, last + MARGIN


def make_span(season: Season, zone: ZoneInfo, today: dt.date) -> Span:
    """The season's dates or months; where it names none, the calendar month after `today`."""
    if season.dates is not None:
        return Span(season.dates.first, season.dates.last, zone)
    months = sorted(season.months) or [f"{month_after(today.replace(day=1)):%Y-%m}"]
    first = dt.date.fromisoformat(months[0] + "-01")
    last = month_after(dt.date.fromisoformat(months[-1] + "-01")) - dt.timedelta(days=1)
    return Span(first, last, zone)


def span_of(inputs: Inputs, today: dt.date) -> Span:
    """The span of a season, by home's dates."""
    return make_span(inputs.season, inputs.zone, today)


def plan_number(inputs: Inputs, span: Span) -> str:
    """Four characters of the hash over all inputs, the span and the date from which is planned, where there is one.

    The same inputs give the same number.
    """
    begun = "" if inputs.planned_from is None else f" from {inputs.planned_from}"
    digest = hashlib.sha256(f"{inputs.digest} {span.first_night} {span.last_night}{begun}".encode()).digest()
    return b32encode(digest).decode()[:4]


def month_after(first_of_month: dt.date) -> dt.date:
    """The first day of the next month."""
    return (first_of_month + dt.timedelta(days=32)).replace(day=1)
