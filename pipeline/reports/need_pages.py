"""What a partner needs as files: page and two tables.

From a finished `Need`, by the leaflet's one way.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.reports.leaflet import leaflet_files, write_leaflet
from pipeline.reports.need_view import need_table, need_view, reach_table
from pipeline.reports.tables import csv_text

if TYPE_CHECKING:
    from pipeline.need.need import Need


def write_need(need: Need, out_folder: Path, with_pdf: bool = True) -> list[Path]:
    """Writes the page and its tables into `out_folder`; returns them, the one to open first in front.

    Raises PdfUnavailable where the PDF engine does not load, OutputBlocked where a viewer holds a file.
    """
    stem = f"need_{need.partner.call.replace('/', '-')}"
    tables = {f"{stem}.csv": csv_text(need_table(need)), f"{stem}_least.csv": csv_text(reach_table(need))}
    return write_leaflet(out_folder, stem, leaflet_files(need_view(need), "need.html.jinja", stem, tables, with_pdf))
