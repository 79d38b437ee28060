"""The year's weekends for its pages: a row each in the order of time, the best ones with their rank, and why.

From a finished `Year`; the words are those of `wording.year`.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from pipeline.outlook.weekends import WEEKEND, WeekendPartner, weekend_days
from pipeline.reports.charts import outcome_mark
from pipeline.reports.year_weekend_charts import (
    HEAD,
    MarksPlace,
    WeekendMarks,
    axis_end,
    axis_strip,
    swatches,
    weekend_strip,
    weekends_chart,
)
from pipeline.windows.frames import as_date, is_missing, records
from pipeline.wording import formats
from pipeline.wording.year import (
    away_words,
    marks_title,
    no_weekend_words,
    row_words,
    weekend_words,
    weekends_title,
    with_whom,
)

if TYPE_CHECKING:
    from pipeline.outlook.year import Year

BEST_WEEKENDS = 10
# Points: a row of weekends at most; the columns of dates and of words, and the air between the marks and these.
MOST_PITCH, DATES_WIDTH, WORDS_WIDTH, AIR = 15.5, 116.0, 246.0, 8.0
# Words for the best in an alternative text.
TOLD_IN_TITLE = 3


@dataclass(frozen=True)
class WeekendAdvice:
    """A weekend in words; `anchor` is that of its row."""

    rank: int
    anchor: str
    dates: str
    figures: str
    reason: str


@dataclass(frozen=True)
class WeekendRow:
    """A row: month where it is the first of one, rank where it is told, figures and calls; `strip` is for a screen."""

    anchor: str
    month: str
    rank: int | None
    day: str
    month_short: str
    note: str
    contacts: str
    if_free: str
    partners: str
    strip: Markup


@dataclass(frozen=True)
class WeekendsPage:
    """The rows of a page and their picture, whose height fixes theirs (`pitch`, points)."""

    title: str
    rows: tuple[WeekendRow, ...]
    chart: Markup
    axis: Markup
    pitch: float


@dataclass(frozen=True)
class Weekend:
    """A weekend with all that is told of it."""

    row: dict[str, Any]
    rank: int | None
    dates: tuple[dt.date, ...]
    away: tuple[dt.date, ...]
    partners: tuple[WeekendPartner, ...]

    @property
    def first(self) -> dt.date:
        """The name of its first night."""
        return self.dates[0]

    @property
    def contacts(self) -> float:
        """Contacts to expect."""
        return float(self.row["contacts_expected"])

    @property
    def if_free(self) -> float:
        """Contacts to expect if home were free."""
        return float(self.row["contacts_if_free"])


def weekend_dates(weekend: dict[str, Any]) -> str:
    """`Fri 12 to Sun 14 March 2027`: the names of its first and last night."""
    first, last = as_date(weekend["weekend_start"]), as_date(weekend["weekend_end"])
    end = f"{formats.day_and_month(last)} {last.year}"
    if first == last:
        return end
    start = f"{formats.WEEKDAYS[first.weekday()]} {first.day}"
    if first.month != last.month:
        start += f" {formats.MONTHS[first.month - 1]}" + ("" if first.year == last.year else f" {first.year}")
    return f"{start} to {end}"


def weekend_figures(weekend: dict[str, Any]) -> str:
    """`2.4 contacts, 5.1 if you were free`."""
    words, free = (formats.contacts(float(weekend[name])) for name in ("contacts_expected", "contacts_if_free"))
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
    return no_weekend_words(f"{weekend_dates(best)} with {formats.contacts(float(best['contacts_if_free']))} contacts")


def advice_title(count: int, noun: str) -> str:
    """The heading above the weekends that are told."""
    names = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
    if count == 0:
        return f"No {noun} that could be used"
    return f"The best {noun}, and why" if count == 1 else f"The {names[count - 1]} best {noun}s, and why"


def advice(year: Year) -> tuple[WeekendAdvice, ...]:
    """The best weekends in words."""
    told, zone = told_weekends(year), year.period.zone
    return tuple(
        WeekendAdvice(
            int(row["rank"]), _anchor(row), weekend_dates(row), weekend_figures(row), weekend_words(facts, zone)
        )
        for row, facts in zip(told, year.weekend_facts[: len(told)], strict=True)
    )


def weekends_in_time(year: Year) -> list[Weekend]:
    """All weekends, the earliest first."""
    told = len(told_weekends(year))
    nights: dict[dt.date, list[dt.date]] = {}
    for date, start in zip(year.nights["night"], year.nights["weekend"], strict=True):
        if not is_missing(start):
            nights.setdefault(start, []).append(as_date(date))
    home, found = year.inputs.home, []
    for place, (row, partners) in enumerate(zip(records(year.weekends), year.weekend_partners, strict=True)):
        dates = tuple(nights[row["weekend_start"]])
        away = tuple(date for date in dates if home.is_away(date))
        found.append(Weekend(row, place + 1 if place < told else None, dates, away, partners))
    return sorted(found, key=lambda one: one.first)


def weekend_pages(
    year: Year, pages: list[tuple[tuple[int, int], ...]], titles: list[str], width: float, height: float
) -> tuple[WeekendsPage, ...]:
    """The weekends of the months of each page; none where no weekend would bring anything even to a free home."""
    weekends = weekends_in_time(year)
    if not any(one.if_free > 0.0 for one in weekends):
        return ()
    end = axis_end([_marks(one, False) for one in weekends])
    marks_place = MarksPlace(DATES_WIDTH, width - DATES_WIDTH - WORDS_WIDTH - AIR, width, end)
    most = max(sum((one.first.year, one.first.month) in months for one in weekends) for months in pages)
    pitch = round(min((height - HEAD) / most, MOST_PITCH), 2)
    usual = max((one.first.weekday() for one in weekends), key=[one.first.weekday() for one in weekends].count)
    made = []
    for months, title in zip(pages, titles, strict=True):
        mine = [one for one in weekends if (one.first.year, one.first.month) in months]
        if not mine:
            continue
        starts = [place == 0 or mine[place - 1].first.month != one.first.month for place, one in enumerate(mine)]
        marks = [_marks(one, start) for one, start in zip(mine, starts, strict=True)]
        best = sorted((one for one in mine if one.contacts > 0.0), key=lambda one: int(one.row["rank"]))[:TOLD_IN_TITLE]
        words = weekends_title(
            title,
            formats.count(len(mine), row_noun(year)),
            [(f"{one.first.day} {formats.MONTHS[one.first.month - 1]}", one.contacts) for one in best],
            sum(one.contacts <= 0.0 for one in mine),
        )
        rows = tuple(_row(*each, marks_place, usual) for each in zip(mine, marks, strict=True))
        made.append(
            WeekendsPage(
                title,
                rows,
                weekends_chart(marks, marks_place, pitch, words),
                axis_strip(marks_place, "contacts"),
                pitch,
            )
        )
    return tuple(made)


def weekends_key(year: Year) -> tuple[tuple[Markup, str], ...]:
    """Each sign that is drawn with its meaning."""
    words = {partner.outcome for one in year.weekend_partners for partner in one}
    signs = swatches()
    return (
        *((outcome_mark(word), word) for word in ("strong", "workable", "marginal", "unlikely") if word in words),
        (signs["tick"], "contacts to expect"),
        (signs["line"], "if you were free at any hour"),
    )


def row_noun(year: Year) -> str:
    """What a row is called where it is counted."""
    return "weekend" if weekend_days(year.inputs) == WEEKEND else "week"


def row_lead(year: Year) -> str:
    """What a row is."""
    return row_words(weekend_days(year.inputs))


def _anchor(row: dict[str, Any]) -> str:
    return f"weekend-{as_date(row['weekend_start'])}"


def _marks(one: Weekend, starts_month: bool) -> WeekendMarks:
    return WeekendMarks(one.partners, one.contacts, one.if_free, starts_month)


def _row(one: Weekend, marks: WeekendMarks, place: MarksPlace, usual: int) -> WeekendRow:
    month = formats.MONTHS[one.first.month - 1][:3]
    weekday = "" if one.first.weekday() == usual else f"{formats.WEEKDAYS[one.first.weekday()]} "
    free = formats.contacts(one.if_free)
    return WeekendRow(
        anchor=_anchor(one.row),
        month=f"{month} {one.first.year}" if marks.starts_month else "",
        rank=one.rank,
        day=f"{weekday}{one.first.day}",
        month_short=month,
        note=away_words(one.away, len(one.dates)),
        contacts=formats.contacts(one.contacts) if one.contacts > 0.0 else "–",
        if_free=free if one.if_free > 0.0 else "–",
        partners=with_whom([partner.call for partner in one.partners]),
        strip=weekend_strip(marks, place, marks_title([(p.call, p.outcome) for p in one.partners], free)),
    )
