"""The year as files: one template for the PDF and the self-contained HTML page, and two tables as CSV.

All is rendered before anything is written; each file takes its place whole.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.reports import pdf
from pipeline.reports.page import margin_rule, page_html, page_rule
from pipeline.reports.single_files import replace_files
from pipeline.reports.tables import csv_text
from pipeline.reports.year_view import YearView, year_view
from pipeline.reports.year_weekend_charts import HEAD
from pipeline.reports.year_weekends_view import AIR, DATES_WIDTH, WORDS_WIDTH

if TYPE_CHECKING:
    from pipeline.outlook.year import Year

LAST_HEADING = "How far the Moon climbs"
PDF_NAME = "year.pdf"


def year_html(view: YearView, for_pdf: bool) -> str:
    """The pages as HTML: for the PDF engine with fonts by file, else with fonts embedded for any browser."""
    return page_html("year.html.jinja", for_pdf, _page_css(view, for_pdf), year=view, last_heading=LAST_HEADING)


def year_files(year: Year, with_pdf: bool) -> dict[str, bytes]:
    """File name to content, the one to open first in front.

    Raises PdfUnavailable where the PDF engine does not load.
    """
    view = year_view(year)
    files: dict[str, bytes] = {}
    if with_pdf:
        html = year_html(view, for_pdf=True)
        files[PDF_NAME] = pdf.render(
            html, year.period.first_night, year.number, max(len(view.weekends), 1), LAST_HEADING
        )
    files["year.html"] = year_html(view, for_pdf=False).encode()
    files["year.csv"] = csv_text(year.nights).encode()
    files["weekends.csv"] = csv_text(year.weekends).encode()
    files["year_partners.csv"] = csv_text(year.partner_months).encode()
    return files


def write_year(year: Year, out_folder: Path, with_pdf: bool = True) -> list[Path]:
    """Writes the year's files into `out_folder` itself; returns them, the one to open first in front.

    Without a PDF none of an earlier run is left to be taken for this one's. Raises OutputBlocked where a viewer holds
    a file; then the earlier files still stand.
    """
    files = year_files(year, with_pdf)
    return replace_files(out_folder, files, gone=() if with_pdf else (PDF_NAME,))


def _page_css(view: YearView, for_pdf: bool) -> str:
    """The sheet's size and what depends on it: rows stand as high as the picture over them has them.

    A page printed by hand has a picture in each row instead.
    """
    pitch = max((page.pitch for page in view.weekends), default=0.0)
    marks = view.paper.text_width - DATES_WIDTH - WORDS_WIDTH - AIR
    dates = DATES_WIDTH + (marks + AIR if for_pdf else 0.0)
    return (
        f"{page_rule(view.paper)}\n{margin_rule(view.footer)}\n"
        "@media print { "
        f".weekends th:first-child {{ width: {dates:g}pt; }} .weekends .strip-cell {{ width: {marks + AIR:g}pt; }} "
        f".weekends thead th {{ height: {HEAD:g}pt; line-height: {HEAD:g}pt; }} "
        f".weekends tbody th, .weekends td {{ height: {pitch:g}pt; line-height: {pitch:g}pt; }} }}"
    )
