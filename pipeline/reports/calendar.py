"""The calendar: one set of templates for the PDF and the self-contained HTML page, from a finished plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.reports.agenda_view import agenda_view
from pipeline.reports.board_view import boards_view
from pipeline.reports.carpets_view import carpets_view
from pipeline.reports.charts import outcome_mark
from pipeline.reports.clocks import clocks_of
from pipeline.reports.course_view import course_pages
from pipeline.reports.high_margin_view import high_margin_view
from pipeline.reports.method_view import method_view
from pipeline.reports.month_view import GUTTER, MONTH_HEAD, PANEL_WIDTH, month_pages
from pipeline.reports.page import margin_rule, page_html, page_rule
from pipeline.reports.partner_view import CELL_WIDTH, NIGHT_WIDTH, partners_view
from pipeline.reports.rendering import Document
from pipeline.reports.views import PAPERS, Calendar, Paper
from pipeline.wording import formats
from pipeline.wording.sites import places_words

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

LAST_HEADING = "How the figures were made"


def footer_text(plan: Plan) -> str:
    """What stands at the foot of every page."""
    home = plan.inputs.home
    period = formats.period_title(plan.first_night, plan.last_night)
    site = f"{home.call} {places_words(plan.inputs)}"
    return f"Mutual Moon · {period} · {site} · {formats.band(plan.band)} · plan {plan.number}"


def calendar_view(plan: Plan) -> Calendar:
    """Everything the templates print, in words."""
    paper = PAPERS[plan.inputs.season.report.paper]
    landscape_width, landscape_height = paper.height - 2 * paper.side, paper.width - paper.top - paper.bottom
    home = plan.inputs.home
    period = formats.period_title(plan.first_night, plan.last_night)
    named = f"{formats.short(plan.inputs.season.title)}, " if plan.inputs.season.title else ""
    return Calendar(
        title=f"Mutual Moon, {named}{period}, {home.call} {places_words(plan.inputs)}, {formats.band(plan.band)}",
        author=home.operator or home.call,
        footer=footer_text(plan),
        number=plan.number,
        paper=paper,
        clocks=clocks_of(plan),
        calls=tuple(one.call for one in plan.inputs.partners),
        months=month_pages(plan),
        agenda=agenda_view(plan),
        high_margin=high_margin_view(plan, paper),
        carpets=carpets_view(plan, paper),
        course=course_pages(plan, landscape_width, landscape_height),
        boards=boards_view(plan, paper),
        partners=partners_view(plan, paper),
        method=method_view(plan),
    )


def calendar_pages(plan: Plan, with_pdf: bool = True) -> tuple[str, Document | None]:
    """The self-contained page for any browser, and the document for the PDF engine."""
    view = calendar_view(plan)
    least_pages = len(view.months) + len(view.carpets.pages) + len(view.course) + 3
    least_pages += sum(len(one.pages) for one in (view.high_margin, view.boards) if one)
    document = (
        Document(_html(view, for_pdf=True), plan.first_night, plan.number, least_pages, LAST_HEADING)
        if with_pdf
        else None
    )
    return _html(view, for_pdf=False), document


def _html(view: Calendar, for_pdf: bool) -> str:
    return page_html(
        "calendar.html.jinja",
        for_pdf,
        f"{_page_css(view.paper)}\n{margin_rule(view.footer)}",
        calendar=view,
        last_heading=LAST_HEADING,
        outcome_mark=outcome_mark,
    )


def _page_css(paper: Paper) -> str:
    """The sheet's size, which no stylesheet can know."""
    grid = paper.height - 2 * paper.side - PANEL_WIDTH - GUTTER
    panel = paper.width - paper.top - paper.bottom - MONTH_HEAD
    return (
        f"{page_rule(paper)}\n{page_rule(paper, 'landscape', 'month')}\n"
        f"@media print {{ .beside {{ width: {PANEL_WIDTH:g}pt; height: {panel:g}pt; }} "
        f".grid {{ width: {grid + 4:g}pt; }} .under {{ width: {grid:g}pt; }} "
        f".usable .of-night {{ width: {NIGHT_WIDTH:g}pt; }} .usable .cell {{ width: {CELL_WIDTH:g}pt; }} "
        f".usable .strip-box {{ left: {NIGHT_WIDTH + CELL_WIDTH + 4:g}pt; }} }}"
    )
