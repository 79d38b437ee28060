"""What the templates are given: plain frozen dataclasses of finished words and charts, made from the plan's tables.

The builders stand in month_view, carpets_view, course_view, partner_view and method_view; the paper's sizes stand here.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan
    from pipeline.reports.clocks import Clock


@dataclass(frozen=True)
class Paper:
    """A sheet in points, portrait; margins shared by all pages."""

    css_name: str
    width: float
    height: float
    side: float = 38.0
    top: float = 34.0
    bottom: float = 42.0

    @property
    def text_width(self) -> float:
        return self.width - 2 * self.side

    @property
    def text_height(self) -> float:
        return self.height - self.top - self.bottom


PAPERS = {"A4": Paper("A4", 595.28, 841.89), "letter": Paper("letter", 612.0, 792.0, top=30.0, bottom=38.0)}


@dataclass(frozen=True)
class Advice:
    """A night in words; `night` is its date as it stands in anchors, `has_slots` whether the agenda has it."""

    night: str
    date: str
    figure: str
    reason: str
    reserve: str = ""
    has_slots: bool = False


@dataclass(frozen=True)
class Panel:
    """What stands beside the month grid."""

    title: str
    lead: str
    reach: str
    chart: Markup
    chart_words: str
    nights: tuple[Advice, ...]


@dataclass(frozen=True)
class CellSlot:
    """A slot in a cell of the month grid: when it begins, with whom, how likely it is; `roomy` where of two lines."""

    begins: str
    partner: str
    anchor: str
    mark: Markup
    outcome: str
    odds: str
    roomy: bool


@dataclass(frozen=True)
class Cell:
    """One night of the month grid; `beyond` are the calls that `others` counts."""

    night: str
    number: int
    weekday: str
    disc: Markup
    css_class: str
    slots: tuple[CellSlot, ...]
    more: str
    arrive: str
    heard: str
    near_sun: str
    figure: str
    with_whom: tuple[str, ...] = ()
    beyond: tuple[str, ...] = ()
    others: str = ""
    adds: str = ""


@dataclass(frozen=True)
class NoNightCell:
    """A date of the month grid that no passage of the Moon carries; `no_night` says so."""

    night: str
    number: int
    weekday: str
    no_night: str


@dataclass(frozen=True)
class MonthPage:
    """Page one, or one page a calendar month of a longer period."""

    anchor: str
    season: str
    title: str
    at: str
    subtitle: str
    clock: str
    weeks: tuple[tuple[Cell | NoNightCell | None, ...], ...]
    panel: Panel
    outcomes: tuple[str, ...]
    tint: str
    key: tuple[str, ...]


@dataclass(frozen=True)
class CarpetsPage:
    """The squares of one page, so many side by side, and whose they are."""

    dates: str
    columns: int
    calls: tuple[str, ...]
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
    taught: tuple[str, str] = ("", "")


@dataclass(frozen=True)
class SlotRow:
    """One slot: every time with its date; chance and reports as they are printed; who must answer, and by when."""

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
    skyline: str
    anchor: str
    call: str
    answer: str
    alternatives: str


@dataclass(frozen=True)
class AgendaNight:
    """A night that is set up for; `night` is its date as it stands in anchors."""

    night: str
    title: str
    begin: str
    rows: tuple[SlotRow, ...]


@dataclass(frozen=True)
class LeftOut:
    """What has no slot, and why; `calls` where it is partners."""

    what: str
    reason: str
    calls: tuple[str, ...] = ()


@dataclass(frozen=True)
class BoardNight:
    """One night's board of fields: home's free hours with the Moon up, the slots, and who else could be asked."""

    date: str
    hours: str
    slots: str
    picture: Markup
    others: str


@dataclass(frozen=True)
class BoardPage:
    """The boards of one sheet, two in a row."""

    rows: tuple[tuple[BoardNight, ...], ...]


@dataclass(frozen=True)
class Boards:
    """Whom else to invite."""

    period: str
    lead: str
    pages: tuple[BoardPage, ...]
    legend: Markup
    key: str


@dataclass(frozen=True)
class HighCell:
    """A partner on a night: finished words, and the classes of their look: good or below, slot, dot."""

    text: str
    css_class: str
    call: str = ""


@dataclass(frozen=True)
class HighRow:
    """A night of the page of high margins; `instead` stands over all columns where the date has no night."""

    night: str
    note: str
    ends_week: bool
    cells: tuple[HighCell, ...]
    instead: str
    lines: int


@dataclass(frozen=True)
class HighPage:
    """The rows of one sheet and the room above and below the text of each, points."""

    rows: tuple[HighRow, ...]
    padding: float


@dataclass(frozen=True)
class HighMargin:
    """Times of high margin; `heads` are partners, or ranks where `ranked`."""

    period: str
    lead: str
    clock: str
    heads: tuple[str, ...]
    ranked: bool
    pages: tuple[HighPage, ...]
    key: str


@dataclass(frozen=True)
class UsableRow:
    """One line of the partners' page: the night, and all its figures as one pre-formatted cell; `slot` is tinted.

    `switched` is the same cell for readers who switch clocks.
    """

    night: str
    cell: Markup
    switched: Markup
    chance: str
    slot: bool


@dataclass(frozen=True)
class PartnerBlock:
    """One partner's lines with its strip of the sky; `room` is what the strip needs below them, points."""

    anchor: str
    call: str
    name: str
    facts: tuple[str, ...]
    rows: tuple[UsableRow, ...]
    strip: Markup
    room: float


@dataclass(frozen=True)
class Partners:
    """The partners' page; `line` is the height of a row, points.

    `head` are the two lines above the rows' cells, and the second again for readers who switch clocks.
    Reasons of partners without a line come first where lines fill several sheets. `weather` tells what its shares are.
    """

    title: str
    lead: str
    head: tuple[str, str, Markup]
    line: float
    reasons_first: bool
    blocks: tuple[PartnerBlock, ...]
    without: tuple[LeftOut, ...]
    weather: str
    clocks: tuple[str, ...]


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
    trips: tuple[str, ...]
    clocks: tuple[str, ...]


@dataclass(frozen=True)
class Calendar:
    """The whole document."""

    title: str
    author: str
    footer: str
    number: str
    paper: Paper
    clocks: tuple[Clock, ...]
    calls: tuple[str, ...]
    months: tuple[MonthPage, ...]
    agenda: Agenda
    high_margin: HighMargin | None
    carpets: Carpets
    course: tuple[CoursePage, ...]
    boards: Boards | None
    partners: Partners
    method: Method


def partner_anchor(call: str) -> str:
    """Where a partner's page begins; calls with a stroke have it as a hyphen."""
    return "partner-" + re.sub(r"[^A-Za-z0-9]+", "-", call)


def partner_bands(plan: Plan) -> dict[str, str]:
    """The band on which each partner is planned: its own wish, else the season's."""
    return {station.call: band for station, band in zip(plan.inputs.partners, plan.inputs.bands, strict=True)}


def days_between(first: dt.date, last: dt.date) -> list[dt.date]:
    """Every date from the first to the last."""
    return [first + dt.timedelta(days=day) for day in range((last - first).days + 1)]


def period_edges(plan: Plan) -> tuple[dt.datetime, dt.datetime]:
    """Begin of the first night and end of the last, in UTC."""
    return plan.period.start, plan.period.end


def month_edges(first: dt.date, last: dt.date, zone: dt.tzinfo) -> tuple[dt.datetime, dt.datetime]:
    """From midnight of one date to midnight after another, UTC."""
    begin, end = (dt.datetime.combine(date, dt.time(), tzinfo=zone) for date in (first, last + dt.timedelta(days=1)))
    return begin.astimezone(dt.UTC), end.astimezone(dt.UTC)
