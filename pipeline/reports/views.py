"""What the templates are given: plain frozen dataclasses of finished words and charts, made from the plan's tables.

The builders stand in month_view, carpets_view, course_view, partner_view and method_view; the paper's sizes stand here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from pipeline.windows.frames import as_date, records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan


@dataclass(frozen=True)
class Paper:
    """A sheet in points, portrait; margins shared by all pages; `row` is a line of the partners' tables.

    A month of windows must fit the shorter letter sheet too.
    """

    css_name: str
    width: float
    height: float
    side: float = 38.0
    top: float = 34.0
    bottom: float = 42.0
    row: float = 8.5

    @property
    def text_width(self) -> float:
        return self.width - 2 * self.side

    @property
    def text_height(self) -> float:
        return self.height - self.top - self.bottom


PAPERS = {"A4": Paper("A4", 595.28, 841.89), "letter": Paper("letter", 612.0, 792.0, top=30.0, bottom=38.0, row=7.8)}


@dataclass(frozen=True)
class Meeting:
    """A partner and when, in home's time."""

    partner: str
    hours: str


@dataclass(frozen=True)
class Advice:
    """A night in words."""

    date: str
    mark: Markup
    outcome: str | None
    figure: str | None
    reason: str
    meetings: tuple[Meeting, ...]
    more: str | None


@dataclass(frozen=True)
class Cell:
    """One night of the month grid."""

    number: int
    weekday: str
    disc: Markup
    moon: str
    mark: Markup
    outcome: str | None
    css_class: str
    declination: str | None
    degradation: str | None
    spread: str | None
    reach: str
    stretches: tuple[str, ...]
    slots: tuple[Meeting, ...]
    near_sun: str | None
    not_free: bool


@dataclass(frozen=True)
class NoNightCell:
    """A date of the month grid that no passage of the Moon carries; `no_night` says so."""

    number: int
    weekday: str
    no_night: str


@dataclass(frozen=True)
class MonthPage:
    """Page one, or one page a calendar month of a longer period."""

    anchor: str
    title: str
    at: str
    subtitle: str
    weeks: tuple[tuple[Cell | NoNightCell | None, ...], ...]
    advice_title: str
    advice: tuple[Advice, ...]
    lead: str
    caution_title: str
    caution: tuple[Advice, ...]
    lit_side: str
    strip: Markup
    strip_words: str


@dataclass(frozen=True)
class CarpetsPage:
    """The squares of one page, so many side by side."""

    dates: str
    columns: int
    squares: tuple[Markup, ...]


@dataclass(frozen=True)
class Carpets:
    """The pages of carpets and what they share."""

    scale: str
    key: tuple[tuple[Markup, str], ...]
    how: str
    without: str
    clocks: tuple[str, ...]
    pages: tuple[CarpetsPage, ...]


@dataclass(frozen=True)
class CoursePage:
    """The Moon's course through a month."""

    dates: str
    lead: str
    chart: Markup
    key: str


@dataclass(frozen=True)
class Edge:
    """The opening or the closing of a window."""

    word: str
    utc: str
    home: str
    there: str | None
    home_moon: str
    partner_moon: str
    rule: str


@dataclass(frozen=True)
class WindowRow:
    """One mutual window of a partner page."""

    night: str
    length: str
    mark: Markup
    outcome: str | None
    degradation: str | None
    chance: str | None
    reports: tuple[str, str] | None
    edges: tuple[Edge, Edge]
    highest: str
    declination: str | None


@dataclass(frozen=True)
class Column:
    """A header cell: its words and the unit or zone below."""

    head: str
    below: str


@dataclass(frozen=True)
class PartnerSlot:
    """A slot as the partner's page tells it: each time with its date in one line."""

    label: str
    state: str
    home: str
    utc: str
    there: str | None
    chance: str


@dataclass(frozen=True)
class PartnerPage:
    """A page a partner."""

    anchor: str
    call: str
    name: str
    facts: tuple[str, ...]
    slots: tuple[PartnerSlot, ...]
    summary: str
    notes: tuple[str, ...]
    columns: dict[str, Column]
    rows: tuple[WindowRow, ...]
    elevation_words: str
    reason: str | None


@dataclass(frozen=True)
class Assumption:
    """What was assumed of one station."""

    call: str
    words: str


@dataclass(frozen=True)
class Method:
    """The page on how the figures were made."""

    policy: tuple[str, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    assumed: tuple[Assumption, ...]
    outcome: str = ""
    ranking: str = ""
    weather: str = ""
    learnt: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class SlotRow:
    """One slot: every time with its date; chance and reports as they are printed."""

    label: str
    partner: str
    state: str
    home: str
    utc: str
    there: str
    how: str
    first: str
    chance: str
    reports: str
    fall_back: str


@dataclass(frozen=True)
class AgendaNight:
    """A night that is set up for."""

    title: str
    begin: str
    rows: tuple[SlotRow, ...]


@dataclass(frozen=True)
class LeftOut:
    """What has no slot, and why."""

    what: str
    reason: str


@dataclass(frozen=True)
class Agenda:
    """The page of slots, and of what has none."""

    title: str
    lead: str
    nights: tuple[AgendaNight, ...]
    partners: tuple[LeftOut, ...]
    left_nights: tuple[LeftOut, ...]
    notes: tuple[str, ...]
    home_offsets: str
    clocks: tuple[str, ...]


@dataclass(frozen=True)
class Calendar:
    """The whole document."""

    title: str
    author: str
    footer: str
    number: str
    paper: Paper
    months: tuple[MonthPage, ...]
    agenda: Agenda
    carpets: Carpets
    course: tuple[CoursePage, ...]
    partners: tuple[PartnerPage, ...]
    method: Method


def partner_bands(plan: Plan) -> dict[str, str]:
    """The band on which each partner is planned: its own wish, else the season's."""
    return {station.call: band for station, band in zip(plan.inputs.partners, plan.inputs.bands, strict=True)}


def windows_by_night(plan: Plan) -> dict[dt.date, list[dict[str, Any]]]:
    """Each night's windows in order of their start."""
    found: dict[dt.date, list[dict[str, Any]]] = {}
    if len(plan.windows):
        for row in records(plan.windows.sort_values(["window_start_utc", "partner"], kind="stable")):
            found.setdefault(as_date(row["night"]), []).append(row)
    return found


def stretches(windows: Iterable[dict[str, Any]]) -> list[tuple[dt.datetime, dt.datetime]]:
    """The union of windows: when anybody at all is in reach, (start, end) in UTC, in order."""
    merged: list[tuple[dt.datetime, dt.datetime]] = []
    edges = [(as_instant(row["window_start_utc"]), as_instant(row["window_end_utc"])) for row in windows]
    for start, end in sorted(edges):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end))
        else:
            merged.append((start, end))
    return merged


def span(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo, night: dt.date) -> str:
    """`17:20–02:10`, rounded inward; `Fri 08:23–18:10` where it begins on the day after the night's date."""
    first, last = (moment.astimezone(zone) for moment in formats.inward(start, end))
    weekday = "" if first.date() == night else f"{formats.WEEKDAYS[first.weekday()]} "
    return f"{weekday}{formats.clock(first)}–{formats.clock(last)}"


def days_between(first: dt.date, last: dt.date) -> list[dt.date]:
    """Every date from the first to the last."""
    return [first + dt.timedelta(days=day) for day in range((last - first).days + 1)]


def period_edges(plan: Plan) -> tuple[dt.datetime, dt.datetime]:
    """Begin of the first night and end of the last, in UTC."""
    return plan.period.start, plan.period.end


def clock_notes(zone: dt.tzinfo, edges: tuple[dt.datetime, dt.datetime], whose: str) -> tuple[str, ...]:
    """A sentence for each clock change of a zone between two instants."""
    notes = []
    for moment, before, after in formats.clock_changes(zone, *edges):
        there = moment.astimezone(zone)
        notes.append(
            f"Clocks {whose} change on {formats.day_long(there.date())} at {formats.clock(moment)} UTC: "
            f"{before} before, {after} after."
        )
    return tuple(notes)
