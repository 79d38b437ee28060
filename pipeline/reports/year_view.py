"""The year's pages in words: the months' rows, the ten best weekends, partners by months, the Moon's long course.

From a finished `Year`; figures are printed as `formats` says.
"""

from __future__ import annotations

import datetime as dt
import math
from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from pipeline.outlook.facts import NEAR_SUN_DEG
from pipeline.reports import year_charts
from pipeline.reports.views import PAPERS, Paper
from pipeline.windows.frames import as_date, is_missing, records
from pipeline.wording import formats
from pipeline.wording.year import course_sentence, no_weekend_words, weekend_words

if TYPE_CHECKING:
    from pipeline.outlook.year import Year

BEST_WEEKENDS = 10
# At most so many rows of months on a page, columns of months in a table.
MONTHS_A_PAGE = 12
# Points: the column of weekends and its distance from the chart, the title with its line, the key below the chart.
ADVICE_WIDTH, GUTTER, TITLE, KEY = 238.0, 16.0, 56.0, 40.0
# The chart of the course: at most and at least so high; the rest of its page, and a row of the table beside it.
COURSE_HEIGHT, COURSE_LEAST, AROUND_COURSE, TABLE_ROW = 104.0, 56.0, 190.0, 21.7
# Points of the partners' table: call and total together, a month; from so many months on it fills the page.
PARTNER_WIDTH, MONTH_WIDTH, SPREAD_FROM = 134.0, 52.0, 11


@dataclass(frozen=True)
class WeekendAdvice:
    """A weekend in words."""

    rank: int
    dates: str
    figures: str
    reason: str


@dataclass(frozen=True)
class MonthsPage:
    """A page of months' rows; the weekends stand on the first alone."""

    title: str
    again: bool
    chart: Markup
    weekends: tuple[WeekendAdvice, ...]


@dataclass(frozen=True)
class MonthCell:
    """A partner's month: hours in reach and the best usable chance; empty where there is no window."""

    hours: str
    chance: str
    strong: bool


@dataclass(frozen=True)
class PartnerRow:
    """A partner's months, its hours altogether and its best night."""

    call: str
    best: str
    total: str
    cells: tuple[MonthCell | None, ...]


@dataclass(frozen=True)
class PartnerTable:
    """Partners by months; `months` are (month, year) heads."""

    months: tuple[tuple[str, str], ...]
    rows: tuple[PartnerRow, ...]

    @property
    def width(self) -> str:
        """A few months do not spread over the whole page."""
        if len(self.months) >= SPREAD_FROM:
            return "100%"
        return f"{PARTNER_WIDTH + len(self.months) * MONTH_WIDTH:g}pt"


@dataclass(frozen=True)
class YearView:
    """The whole document."""

    title: str
    author: str
    footer: str
    number: str
    paper: Paper
    heading: str
    at: str
    subtitle: str
    pages: tuple[MonthsPage, ...]
    advice_title: str
    no_weekend: str
    key: str
    tables: tuple[PartnerTable, ...]
    table_key: str
    course_sentence: str
    course: Markup
    method: tuple[str, ...]


def year_view(year: Year) -> YearView:
    """Everything the template prints."""
    inputs = year.inputs
    home, paper = inputs.home, PAPERS[inputs.season.report.paper]
    heading = months_title(year.months)
    band = formats.band(inputs.season.band)
    return YearView(
        title=f"Mutual Moon, {heading}, {home.call} {home.title}, {band}",
        author=home.operator or home.call,
        footer=f"Mutual Moon · {heading} · {home.call} {formats.short(home.title)} · {band} · plan {year.number}",
        number=year.number,
        paper=paper,
        heading=heading,
        at=formats.short(home.title),
        subtitle=f"{home.call} · {band} · a night is one passage of the Moon, by the date on which it stands highest · "
        "times are local",
        pages=_pages(year, paper),
        advice_title=_advice_title(len(told_weekends(year))),
        no_weekend=no_weekend(year),
        key=_key(year),
        tables=_tables(year),
        table_key=_table_key(year),
        course_sentence=course_sentence(year.course, year.middle_year),
        course=_course(year, paper),
        method=_method(year),
    )


def months_a_page(count: int) -> int:
    """As many months on each page, so that the last one is not nearly empty."""
    pages = math.ceil(count / MONTHS_A_PAGE)
    return math.ceil(count / pages)


def months_title(months: Sequence[tuple[int, int]]) -> str:
    """`March 2027`, `March to August 2027`, `March 2027 to February 2028`."""
    (first_year, first), (last_year, last) = months[0], months[-1]
    end = f"{formats.MONTHS[last - 1]} {last_year}"
    if months[0] == months[-1]:
        return end
    start = formats.MONTHS[first - 1] + ("" if first_year == last_year else f" {first_year}")
    return f"{start} to {end}"


def weekend_dates(weekend: dict[str, Any]) -> str:
    """`Fri 12 to Sun 14 March 2027`: the names of its first and last night."""
    first, last = as_date(weekend["weekend_start"]), as_date(weekend["weekend_end"])
    end = f"{formats.WEEKDAYS[last.weekday()]} {last.day} {formats.MONTHS[last.month - 1]} {last.year}"
    if first == last:
        return end
    start = f"{formats.WEEKDAYS[first.weekday()]} {first.day}"
    if first.month != last.month:
        start += f" {formats.MONTHS[first.month - 1]}" + ("" if first.year == last.year else f" {first.year}")
    return f"{start} to {end}"


def weekend_figures(weekend: dict[str, Any]) -> str:
    """`2.4 contacts, 5.1 if you were free`."""
    words, free = (f"{float(weekend[name]):.1f}" for name in ("contacts_expected", "contacts_if_free"))
    return f"{words} contacts" + (f", {free} if you were free" if free != words else "")


def told_weekends(year: Year) -> list[dict[str, Any]]:
    """The best weekends of those that bring anything, the best first."""
    return [row for row in records(year.weekends.head(BEST_WEEKENDS)) if float(row["contacts_expected"]) > 0.0]


def no_weekend(year: Year) -> str:
    """What is said where no weekend is told."""
    free = [row for row in records(year.weekends) if float(row["contacts_if_free"]) > 0.0]
    best = max(free, key=lambda row: float(row["contacts_if_free"]), default=None)
    if best is None:
        return no_weekend_words("")
    return no_weekend_words(f"{weekend_dates(best)} with {float(best['contacts_if_free']):.1f} contacts")


def _advice_title(count: int) -> str:
    names = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
    if count == 0:
        return "No weekend that could be used"
    return "The best weekend" if count == 1 else f"The {names[count - 1]} best weekends"


def _pages(year: Year, paper: Paper) -> tuple[MonthsPage, ...]:
    width, height = paper.height - 2 * paper.side, paper.width - paper.top - paper.bottom
    told, zone = told_weekends(year), year.period.zone
    of_weekend = {row["weekend_start"]: int(row["rank"]) for row in told}
    ranks = {
        as_date(date): of_weekend[weekend]
        for date, weekend in zip(year.nights["night"], year.nights["weekend"], strict=True)
        if weekend in of_weekend
    }
    rows = _rows(year, ranks)
    pages = []
    many = months_a_page(len(rows))
    for first in range(0, len(rows), many):
        mine = rows[first : first + many]
        beside = 0.0 if first else ADVICE_WIDTH + GUTTER
        chart = year_charts.months_chart(mine, width - beside, height - TITLE - KEY)
        title = months_title(year.months[first : first + many])
        weekends = tuple(
            WeekendAdvice(int(row["rank"]), weekend_dates(row), weekend_figures(row), weekend_words(facts, zone))
            for row, facts in zip(told, year.weekend_facts[: len(told)], strict=True)
            if not first
        )
        pages.append(MonthsPage(title, first > 0, chart, weekends))
    return tuple(pages)


def _rows(year: Year, ranks: dict[dt.date, int]) -> list[year_charts.MonthRow]:
    by_month: dict[tuple[int, int], list[year_charts.Cell]] = {month: [] for month in year.months}
    for row in records(year.nights):
        date = as_date(row["night"])
        by_month[date.year, date.month].append(
            year_charts.Cell(
                day=date.day,
                degradation_db=float(row["home_degradation_db"]),
                declination_deg=float(row["declination_deg"]),
                distance_km=float(row["distance_km"]),
                near_sun=year_charts.near_sun(float(row["sun_separation_deg"])),
                weekend=not is_missing(row["weekend"]),
                possible=bool(row["possible"]),
                rank=ranks.get(date),
            )
        )
    return [
        year_charts.MonthRow(f"{formats.MONTHS[month - 1][:3]} {number}", monthrange(number, month)[1], cells)
        for (number, month), cells in by_month.items()
    ]


def _key(year: Year) -> str:
    words = (
        "Bars: how quiet the night is at home; a full cell is the best case for this equipment, an empty one "
        f"{year_charts.WORST_DB:.0f} dB short of it; dark within {year_charts.GOOD_DB:g} dB. "
        "The figures at the right are the month's best night, the Moon's range of declination and its least distance. "
        f"Framed: the Sun within {NEAR_SUN_DEG:.0f} degrees. Tinted: weekend nights. "
        "Numbers and brackets: the weekends told beside, each with the contacts to expect."
    )
    if not year.nights["possible"].all():
        words += " Outlined bars: home is away, or not a night of the season."
    return words


def _tables(year: Year) -> tuple[PartnerTable, ...]:
    found = {(row["partner"], row["month"]): row for row in records(year.partner_months)}
    tables = []
    many = months_a_page(len(year.months))
    for first in range(0, len(year.months), many):
        months = year.months[first : first + many]
        rows = []
        for call in (station.call for station in year.inputs.partners):
            mine = [found[call, f"{number:04d}-{month:02d}"] for number, month in months]
            hours = sum(float(row["hours"]) for row in mine)
            rows.append(PartnerRow(call, _best(mine), _hours(hours), tuple(_month(year, row) for row in mine)))
        heads = tuple((formats.MONTHS[month - 1][:3], str(number)) for number, month in months)
        tables.append(PartnerTable(heads, tuple(rows)))
    return tuple(tables)


def _best(months: Sequence[dict[str, Any]]) -> str:
    """The night of the best chance over these months; the earliest of equals."""
    if not any(row["windows"] for row in months):
        return "no window"
    some = [row for row in months if row["nights_usable"]]
    if not some:
        return "never usable"
    best = max(some, key=lambda row: round(float(row["chance"]), 3))
    date = as_date(best["best_night"])
    return f"best {formats.day(date)} {date.year}"


def _month(year: Year, row: dict[str, Any]) -> MonthCell | None:
    if not row["windows"]:
        return None
    limits = year.inputs.season.policy.outcome_thresholds
    chance = float(row["chance"])
    told = formats.chance(chance, limits.limits) if row["nights_usable"] else "nobody free"
    return MonthCell(_hours(float(row["hours"])), told, chance >= limits.strong)


def _hours(hours: float) -> str:
    """`1,777 h`, `8.7 h`, `40 min`, `20 s`."""
    if hours >= 9.95:
        return f"{formats.thousands(hours)} h"
    if hours >= 1.0:
        return f"{hours:.1f} h"
    return formats.duration(hours * 60.0) if hours else "none"


def _table_key(year: Year) -> str:
    strong = formats.chance(year.inputs.season.policy.outcome_thresholds.strong)
    return (
        "Hours of mutual windows in the month, and the best chance in a slot that both ends can use. Heavy: "
        f"at least {strong}. A dash: no window in that month."
    )


def _course(year: Year, paper: Paper) -> Markup:
    if not len(year.course.years):
        return Markup("")
    width = paper.height - 2 * paper.side
    left = paper.width - paper.top - paper.bottom - AROUND_COURSE - TABLE_ROW * len(year.inputs.partners)
    height = min(max(left, COURSE_LEAST), COURSE_HEIGHT)
    return year_charts.course_chart(
        year.course.years.tolist(), year.course.north_deg.tolist(), year.middle_year, width, height
    )


def _method(year: Year) -> tuple[str, ...]:
    return (
        "Windows, link and slots are computed as for a month's plan, with the same skylines, mounts, equipment and "
        "hours. Home's decibels are those of its own echo, the mean over the time it can see the Moon that night; "
        "declination, distance and the Sun are those of the instant at which the Moon stands highest.",
        "A weekend's contacts are those of the agenda that planning its nights by themselves gives, within the hours "
        "of both ends and your policy, what was agreed left aside; beside them what they would be if you could be at "
        "the dish at any hour of these nights. Northern limits are the greatest geocentric declination of each "
        "calendar year; the southern ones agree with them within about 0.1 degree.",
        " ".join(f"{note.rstrip('.')}." for note in year.notes),
    )
