"""Spans of plans: months, dates, the default month, and how far the sky must reach beyond them."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from pipeline.inputs.model import DateRange, Season
from pipeline.windows.span import MARGIN, Span, make_span

OSLO = ZoneInfo("Europe/Oslo")
MONTEVIDEO = ZoneInfo("America/Montevideo")
KOLKATA = ZoneInfo("Asia/Kolkata")  # half-hour zone
TODAY = dt.date(2027, 2, 28)


def season(*, months: tuple[str, ...] = (), dates: DateRange | None = None) -> Season:
    return Season(home="QA1", band="3cm", months=months, dates=dates)


@pytest.mark.parametrize(
    ("months", "dates", "first", "last", "name"),
    [
        (("2027-03",), None, dt.date(2027, 3, 1), dt.date(2027, 3, 31), "2027-03"),
        (("2028-02",), None, dt.date(2028, 2, 1), dt.date(2028, 2, 29), "2028-02"),
        (("2027-12", "2028-01"), None, dt.date(2027, 12, 1), dt.date(2028, 1, 31), "2027-12-01_2028-01-31"),
        ((), DateRange(dt.date(2027, 3, 5), dt.date(2027, 4, 2)), dt.date(2027, 3, 5), dt.date(2027, 4, 2),
         "2027-03-05_2027-04-02"),
        ((), DateRange(dt.date(2027, 3, 5), dt.date(2027, 3, 5)), dt.date(2027, 3, 5), dt.date(2027, 3, 5),
         "2027-03-05_2027-03-05"),
        ((), None, dt.date(2027, 3, 1), dt.date(2027, 3, 31), "2027-03"),  # the month after today
    ],
)  # fmt: skip
def test_periods(months: tuple[str, ...], dates: DateRange | None, first: dt.date, last: dt.date, name: str) -> None:
    period = make_span(season(months=months, dates=dates), OSLO, TODAY)
    assert (period.first_night, period.last_night, period.name) == (first, last, name)


@pytest.mark.parametrize(
    ("today", "name"),
    [(dt.date(2026, 12, 31), "2027-01"), (dt.date(2027, 1, 31), "2027-02"), (dt.date(2028, 1, 30), "2028-02")],
)
def test_default_month_is_the_one_after_today(today: dt.date, name: str) -> None:
    assert make_span(season(), OSLO, today).name == name


@pytest.mark.parametrize(
    ("zone", "noon_utc"),
    [(OSLO, "11:00"), (MONTEVIDEO, "15:00"), (KOLKATA, "06:30"), (ZoneInfo("Pacific/Auckland"), "23:00")],
)
def test_sky_reaches_a_day_and_a_half_beyond_the_noons_of_the_zone(zone: ZoneInfo, noon_utc: str) -> None:
    """Offsets of the zones in the IANA database for 2027 March 1 (Auckland: summer time, the day before in UTC)."""
    begin, end = Span(dt.date(2027, 3, 1), dt.date(2027, 3, 1), zone).sky_edges
    assert f"{begin + MARGIN:%H:%M}" == noon_utc
    assert end - begin == 2 * MARGIN


def test_sky_of_a_night_whose_clock_changes() -> None:
    """European Union, directive 2000/84/EC: clocks go forward on the last Sunday of March, back on that of October."""
    spring = Span(dt.date(2027, 3, 27), dt.date(2027, 3, 28), OSLO).sky_edges
    autumn = Span(dt.date(2027, 10, 30), dt.date(2027, 10, 31), OSLO).sky_edges
    assert spring[1] - spring[0] == 2 * MARGIN + dt.timedelta(hours=23)
    assert autumn[1] - autumn[0] == 2 * MARGIN + dt.timedelta(hours=25)
