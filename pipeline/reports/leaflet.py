"""A document of its own beside the plan, from its finished words to its files: PDF, self-contained HTML, tables as CSV.

One template makes both; all is rendered before anything is written, and each file takes its place whole.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from pipeline.reports import pdf
from pipeline.reports.page import margin_rule, page_html, page_rule
from pipeline.reports.single_files import replace_files
from pipeline.reports.views import Paper


@dataclass(frozen=True, kw_only=True)
class Leaflet:
    """What every such document has; its own words come with a class that inherits from it.

    `dated` and `number` (the plan's) make the PDF the same for the same inputs; `last_heading` is the last entry of its
    outline, by which a PDF that was cut is known, and so is one of fewer than `least_pages`.
    """

    title: str
    author: str
    footer: str
    number: str
    paper: Paper
    dated: dt.date
    last_heading: str
    turned: Literal["portrait", "landscape"] = "portrait"
    least_pages: int = 1

    def page_css(self, for_pdf: bool) -> str:
        """What no stylesheet can know: the sheet's size, its margins and its foot."""
        return f"{page_rule(self.paper, self.turned)}\n{margin_rule(self.footer)}"


def leaflet_html(view: Leaflet, template: str, for_pdf: bool) -> str:
    """The page as HTML: for the PDF engine with fonts by file, else with fonts embedded for any browser."""
    return page_html(template, for_pdf, view.page_css(for_pdf), page=view, last_heading=view.last_heading)


def leaflet_files(
    view: Leaflet, template: str, stem: str, tables: Mapping[str, str], with_pdf: bool
) -> dict[str, bytes]:
    """File name to content, the one to open first in front; `tables` are CSV by file name.

    Raises PdfUnavailable where the PDF engine does not load.
    """
    files: dict[str, bytes] = {}
    if with_pdf:
        html = leaflet_html(view, template, for_pdf=True)
        files[f"{stem}.pdf"] = pdf.render(html, view.dated, view.number, view.least_pages, view.last_heading)
    files[f"{stem}.html"] = leaflet_html(view, template, for_pdf=False).encode()
    return files | {name: text.encode() for name, text in tables.items()}


def write_leaflet(out_folder: Path, stem: str, files: Mapping[str, bytes]) -> list[Path]:
    """Writes the files into `out_folder` itself; returns them, the one to open first in front.

    Without a PDF none of an earlier run is left to be taken for this one's. Raises OutputBlocked where a viewer holds
    a file; then the earlier files still stand.
    """
    return replace_files(out_folder, files, gone={f"{stem}.pdf"} - files.keys())


def written_lines(files: Sequence[Path]) -> tuple[str, str]:
    """What a command says last: the files that were written, and the one to open first, which stands in front."""
    return f"Written: {', '.join(file.name for file in files)} in {files[0].parent}", f"Open: {files[0]}"
