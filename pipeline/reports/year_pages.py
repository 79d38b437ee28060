"""The year as files: the pages and three tables.

From a finished `Year`, by the leaflet's one way.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.reports.leaflet import leaflet_files, leaflet_html, write_leaflet
from pipeline.reports.tables import csv_text
from pipeline.reports.year_view import YearView, year_view

if TYPE_CHECKING:
    from pipeline.outlook.year import Year

NAME, TEMPLATE = "year", "year.html.jinja"


def year_html(view: YearView, for_pdf: bool) -> str:
    """The pages as HTML: for the PDF engine with fonts by file, else with fonts embedded for any browser."""
    return leaflet_html(view, TEMPLATE, for_pdf)


def year_files(year: Year, with_pdf: bool) -> dict[str, bytes]:
    """File name to content, the one to open first in front.

    Raises PdfUnavailable where the PDF engine does not load.
    """
    tables = {
        "year.csv": csv_text(year.nights),
        "weekends.csv": csv_text(year.weekends),
        "year_partners.csv": csv_text(year.partner_months),
    }
    return leaflet_files(year_view(year), TEMPLATE, NAME, tables, with_pdf)


def write_year(year: Year, out_folder: Path, with_pdf: bool = True) -> list[Path]:
    """Writes the year's files into `out_folder` itself; returns them, the one to open first in front.

    Raises OutputBlocked where a viewer holds a file; then the earlier files still stand.
    """
    return write_leaflet(out_folder, NAME, year_files(year, with_pdf))
