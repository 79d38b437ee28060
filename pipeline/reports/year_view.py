"""The year's pages in words: weekends, the best of them and why, months at a glance, partners by months, the course.

From a finished `Year`; figures are printed as `formats` says.
"""

from __future__ import annotations

import math
from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup

from pipeline.outlook.facts import NEAR_SUN_DEG
from pipeline.outlook.weekends import weekend_days
from pipeline.reports import year_charts
from pipeline.reports.leaflet import Leaflet
from pipeline.reports.views import PAPERS, Paper
from pipeline.reports.year_partners_view import PartnerTable, partner_tables
from pipeline.reports.year_weekend_charts import HEAD
from pipeline.reports.year_weekends_view import (
    AIR,
    DATES_WIDTH,
    WORDS_WIDTH,
    WeekendAdvice,
    WeekendsPage,
    advice,
    advice_title,
    no_weekend,
    row_lead,
    row_noun,
    told_weekends,
    weekend_pages,
    weekends_key,
)
from pipeline.windows.frames import as_date, is_missing, records
from pipeline.wording import formats
from pipeline.wording.weather import ranked_words
from pipeline.wording.year import course_sentence, course_title, months_title_words, named_nights

if TYPE_CHECKING:
    from pipeline.outlook.year import Year

# At most so many rows of months on a page, columns of months in a table.
MONTHS_A_PAGE = 12
# Points: title with its line, head and key of the page of weekends; headings, head and key about the months on theirs;
# a month at most and at least; the chart of the course.
AROUND_WEEKENDS, AROUND_MONTHS, MOST_PITCH, LEAST_PITCH, COURSE_HEIGHT = 82.0, 114.0, 40.0, 26.0, 76.0
# A weekend in words: its line, the air behind it, and the letters that a line of half the page holds.
ADVICE_LINE, ADVICE_AIR, ADVICE_LETTERS = 10.2, 4.0, 58
LAST_HEADING = "How far the Moon climbs"
# Words for the best in an alternative text.
TOLD_IN_TITLE = 3


@dataclass(frozen=True)
class MonthsChart:
    """Rows of months on one page."""

    title: str
    chart: Markup


@dataclass(frozen=True)
class YearView(Leaflet):
    """The whole document."""

    heading: str
    subtitle: str
    weekends: tuple[WeekendsPage, ...]
    weekends_key: tuple[tuple[Markup, str], ...]
    weekends_note: str
    advice_title: str
    advice: tuple[WeekendAdvice, ...]
    no_weekend: str
    months: tuple[MonthsChart, ...]
    months_key: str
    tables: tuple[PartnerTable, ...]
    table_key: str
    course_sentence: str
    course: Markup
    method: tuple[str, ...]

    def page_css(self, for_pdf: bool) -> str:
        """The sheet's size and what depends on it: rows stand as high as the picture over them has them.

        A page printed by hand has a picture in each row instead.
        """
        pitch = max((page.pitch for page in self.weekends), default=0.0)
        marks = self.paper.text_width - DATES_WIDTH - WORDS_WIDTH - AIR
        dates = DATES_WIDTH + (marks + AIR if for_pdf else 0.0)
        return (
            f"{super().page_css(for_pdf)}\n"
            "@media print { "
            f".weekends th:first-child {{ width: {dates:g}pt; }} .weekends .strip-cell {{ width: {marks + AIR:g}pt; }} "
            f".weekends thead th {{ height: {HEAD:g}pt; line-height: {HEAD:g}pt; }} "
            f".weekends tbody th, .weekends td {{ height: {pitch:g}pt; line-height: {pitch:g}pt; }} }}"
        )


def year_view(year: Year) -> YearView:
    """Everything the template prints."""
    inputs = year.inputs
    home, paper = inputs.home, PAPERS[inputs.season.report.paper]
    heading = months_title(year.months)
    band = formats.band(inputs.season.band)
    at = formats.short(home.title)
    told = told_weekends(year)
    pages = _months_by_page(year.months)
    weekends = weekend_pages(
        year, pages, [months_title(one) for one in pages], paper.text_width, paper.text_height - AROUND_WEEKENDS
    )
    return YearView(
        title=f"Mutual Moon, {heading}, {home.call} {home.title}, {band}",
        author=home.operator or home.call,
        footer=f"Mutual Moon · {heading} · {home.call} {at} · {band} · plan {year.number}",
        number=year.number,
        paper=paper,
        dated=year.period.first_night,
        last_heading=LAST_HEADING,
        least_pages=max(len(weekends), 1),
        heading=heading,
        subtitle=f"{heading} at {at}" + (f", {row_lead(year)}" if weekends else ""),
        weekends=weekends,
        weekends_key=weekends_key(year),
        weekends_note=_weekends_note(year, len(told)),
        advice_title=advice_title(len(told), row_noun(year)),
        advice=advice(year),
        no_weekend="" if told else no_weekend(year),
        months=_months(year, pages, paper),
        months_key=_months_key(year),
        tables=partner_tables(year, pages),
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


def _months_by_page(months: tuple[tuple[int, int], ...]) -> list[tuple[tuple[int, int], ...]]:
    many = months_a_page(len(months))
    return [months[first : first + many] for first in range(0, len(months), many)]


def _weekends_note(year: Year, told: int) -> str:
    words = [] if not told else ["Tinted: the best, with their rank." if told > 1 else "Tinted: the best."]
    words.append(
        "A mark is as long as the contacts that its partner brings inside both ends' hours; a dash: nobody can be met."
    )
    if any(year.inputs.home.is_away(date) for date in year.period.dates):
        words.append("Away: home is away on that night.")
    return " ".join(words)


def _months(year: Year, pages: list[tuple[tuple[int, int], ...]], paper: Paper) -> tuple[MonthsChart, ...]:
    rows = month_rows(year)
    scales = year_charts.scales_of(list(rows.values()))
    room = paper.text_height - AROUND_MONTHS - _advice_height(advice(year))
    pitch = round(min(max(room / max(len(months) for months in pages), LEAST_PITCH), MOST_PITCH), 2)
    made = []
    for months in pages:
        nights = [
            row for row in records(year.nights) if (as_date(row["night"]).year, as_date(row["night"]).month) in months
        ]
        best = sorted(nights, key=lambda row: int(row["rank"]))[:TOLD_IN_TITLE]
        best = [row for row in best if float(row["contacts_expected"]) > 0.0]
        heard = [row for row in nights if not math.isnan(float(row["home_degradation_db"]))]
        quietest = min(heard, key=lambda row: float(row["home_degradation_db"]), default=None)
        title = months_title_words(
            months_title(months),
            [(formats.day(as_date(row["night"])), float(row["contacts_expected"])) for row in best],
            "" if quietest is None else formats.day(as_date(quietest["night"])),
        )
        chart = year_charts.months_chart([rows[month] for month in months], scales, paper.text_width, pitch, title)
        made.append(MonthsChart(months_title(months), chart))
    return tuple(made)


def _advice_height(told: Sequence[WeekendAdvice]) -> float:
    """How high the higher half of the weekends in words is, points."""
    half = math.ceil(len(told) / 2)
    heights = [ADVICE_LINE * (1 + math.ceil(len(one.reason) / ADVICE_LETTERS)) + ADVICE_AIR for one in told]
    return max(sum(heights[:half]), sum(heights[half:]))


def month_rows(year: Year) -> dict[tuple[int, int], year_charts.MonthRow]:
    """What the chart of nights draws of each month."""
    of_weekend = {row["weekend_start"]: int(row["rank"]) for row in told_weekends(year)}
    home = year.inputs.home
    found: dict[tuple[int, int], list[tuple[year_charts.Cell, float]]] = {month: [] for month in year.months}
    for row in records(year.nights):
        date = as_date(row["night"])
        cell = year_charts.Cell(
            day=date.day,
            contacts=float(row["contacts_expected"]),
            loss_db=float(row["home_degradation_db"]),
            declination_deg=float(row["declination_deg"]),
            near_sun=year_charts.near_sun(float(row["sun_separation_deg"])),
            weekend=not is_missing(row["weekend"]),
            away=home.is_away(date),
            rank=None if is_missing(row["weekend"]) else of_weekend.get(row["weekend"]),
        )
        found[date.year, date.month].append((cell, float(row["distance_km"])))
    return {month: _month_row(month, rows) for month, rows in found.items()}


def _month_row(month: tuple[int, int], rows: list[tuple[year_charts.Cell, float]]) -> year_charts.MonthRow:
    number, name = month[0], formats.MONTHS[month[1] - 1][:3]
    cells = [cell for cell, _ in rows]
    # The earliest of equals.
    best = max(cells, key=lambda cell: round(cell.contacts, 9))
    words = f"{formats.contacts(best.contacts)} on the {best.day}" if best.contacts > 0.0 else "nobody"
    known = [cell.loss_db for cell in cells if not math.isnan(cell.loss_db)]
    return year_charts.MonthRow(
        left=(f"{name} {number}", words),
        right=(
            formats.kilometres(min(distance for _, distance in rows)),
            f"{formats.decibels(min(known))} dB" if known else "Moon down",
        ),
        days=monthrange(number, month[1])[1],
        cells=cells,
    )


def _months_key(year: Year) -> str:
    scales = year_charts.scales_of(list(month_rows(year).values()))
    words = []
    if scales.contacts > 0.0:
        words.append(
            "Bars up: contacts to expect from the night alone, "
            f"{formats.contacts(scales.contacts)} the tallest; full: {named_nights(weekend_days(year.inputs))}, "
            f"outlined: another. "
            f"Tinted: the {row_noun(year)}s told above, with their rank. At the left the month's best night."
        )
    words.append(
        "Bars down: what distance, sky, ground, Sun and air cost your own echo that night, "
        f"{scales.loss_db:.0f} dB or more the longest; none: the Moon stays out of your sight. "
        "Curve: declination about the equator, the dashed line. "
        "At the right the month's least distance of the Moon and its quietest night. "
        f"Framed: the Sun within {NEAR_SUN_DEG:.0f} degrees."
    )
    if any(year.inputs.home.is_away(date) for date in year.period.dates):
        words.append("Heavy base: home is away.")
    return " ".join(words)


def _table_key(year: Year) -> str:
    least = formats.chance(year.inputs.season.policy.outcome_thresholds.strong)
    return (
        "The word of the best chance that a slot of the month has within both ends' hours, and on how many nights "
        f"there is one. Tinted: strong, {least} or more with nothing assumed about either end. No slot: the Moon is "
        "shared, but never long enough, at hours of both and at a chance of at least marginal. A dash: it is not "
        "shared in that month. Together: these nights, and the hours in which both ends have the Moon, free or not."
    )


def _course(year: Year, paper: Paper) -> Markup:
    course = year.course
    if not len(course.years):
        return Markup("")
    return year_charts.course_chart(
        course.years.tolist(),
        course.north_deg.tolist(),
        year.middle_year,
        paper.text_width,
        COURSE_HEIGHT,
        course_title(course, year.middle_year),
    )


def _method(year: Year) -> tuple[str, ...]:
    return (
        "A weekend's contacts are those of the agenda that planning its nights by themselves gives, within the hours "
        "of both ends and your policy, what was agreed left aside; beside them what they would be if you could be at "
        "the dish at any hour of these nights. A night is one passage of the Moon, by the date on which it stands "
        "highest; times are local.",
        "Windows, link and slots are computed as for a month's plan, with the same skylines, mounts, equipment and "
        "hours. Home's decibels are those of its own echo, the mean over the time it can see the Moon that night; "
        "declination, distance and the Sun are those of the instant at which the Moon stands highest. Northern limits "
        "are the greatest geocentric declination of each calendar year; the southern ones agree with them within about "
        "0.1 degree.",
        *((ranked_words(),) if "contacts_in_weather" in year.weekends else ()),
        " ".join(f"{note.rstrip('.')}." for note in year.notes),
    )
