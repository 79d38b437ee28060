"""The calendar: one set of templates for the PDF and the self-contained HTML page, from a finished plan."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from pipeline.reports import fonts, formats
from pipeline.reports.agenda_view import agenda_view
from pipeline.reports.charts import outcome_mark
from pipeline.reports.method_view import method_view
from pipeline.reports.month_view import ADVICE_WIDTH, GUTTER, month_pages, row_points
from pipeline.reports.nights_view import nights_view
from pipeline.reports.partner_view import partner_pages
from pipeline.reports.places import templates_folder
from pipeline.reports.rendering import Document
from pipeline.reports.views import PAPERS, Calendar, Paper

if TYPE_CHECKING:
    from pipeline.planning.plan import Plan

LAST_HEADING = "How the figures were made"
# A place in the HTML that no page can contain, filled once the glyphs in use are known.
FONTS_HERE = "/* fonts */"


@cache
def environment() -> Environment:
    """Templates with autoescape; an undefined name is an error and never an empty place on paper."""
    return Environment(
        loader=FileSystemLoader(templates_folder()),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def footer_text(plan: Plan) -> str:
    """What stands at the foot of every page."""
    home = plan.inputs.home
    period = formats.period_title(plan.first_night, plan.last_night)
    site = f"{home.call} {formats.short(home.title)}"
    return f"Mutual Moon · {period} · {site} · {formats.band(plan.band)} · plan {plan.number}"


def calendar_view(plan: Plan) -> Calendar:
    """Everything the templates print, in words."""
    paper = PAPERS[plan.inputs.season.report.paper]
    home = plan.inputs.home
    landscape_width, landscape_height = paper.height - 2 * paper.side, paper.width - paper.top - paper.bottom
    period = formats.period_title(plan.first_night, plan.last_night)
    return Calendar(
        title=f"Mutual Moon, {period}, {home.call} {home.title}, {formats.band(plan.band)}",
        author=home.operator or home.call,
        footer=footer_text(plan),
        number=plan.number,
        paper=paper,
        months=month_pages(plan, landscape_width, landscape_height),
        agenda=agenda_view(plan),
        nights=nights_view(plan, paper),
        partners=partner_pages(plan),
        method=method_view(plan),
    )


def calendar_pages(plan: Plan, with_pdf: bool = True) -> tuple[str, Document | None]:
    """The self-contained page for any browser, and the document for the PDF engine."""
    view = calendar_view(plan)
    least_pages = len(view.months) + len(view.nights.pages) + len(view.partners) + 2
    document = (
        Document(_html(view, for_pdf=True), plan.first_night, plan.number, least_pages, LAST_HEADING)
        if with_pdf
        else None
    )
    return _html(view, for_pdf=False), document


def _html(view: Calendar, for_pdf: bool) -> str:
    """One set of templates: for the PDF engine with fonts by file, else with fonts embedded."""
    text = (
        environment()
        .get_template("calendar.html.jinja")
        .render(
            calendar=view,
            for_pdf=for_pdf,
            last_heading=LAST_HEADING,
            fonts_here=Markup(FONTS_HERE),
            page_css=Markup(_page_css(view.paper)),
            row_points=row_points,
            outcome_mark=outcome_mark,
        )
    )
    faces = fonts.faces_by_file() if for_pdf else fonts.faces_embedded(text)
    return text.replace(FONTS_HERE, faces, 1)


def _page_css(paper: Paper) -> str:
    """The sheet's size, which no stylesheet can know."""
    grid = paper.height - 2 * paper.side - ADVICE_WIDTH - GUTTER
    margins = f"margin: {paper.top:g}pt {paper.side:g}pt {paper.bottom:g}pt"
    return (
        f"@page {{ size: {paper.css_name} portrait; {margins}; }}\n"
        f"@page month {{ size: {paper.css_name} landscape; {margins}; }}\n"
        f"@media print {{ .beside {{ width: {ADVICE_WIDTH:g}pt; }} .grid {{ width: {grid + 4:g}pt; }} "
        f".under {{ width: {grid:g}pt; }} .windows tbody {{ line-height: {paper.row:g}pt; }} }}"
    )
