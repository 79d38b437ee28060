"""The review as files: one template for PDF and HTML, the comparison as CSV; each put in place whole.

Same logs and inputs, same bytes: the log's last attempt dates the document.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from pipeline.reports import pdf
from pipeline.reports.page import margin_rule, page_html, page_rule
from pipeline.reports.single_files import replace_files
from pipeline.review.review import Review
from pipeline.review.view import LAST_HEADING, ReviewPage, review_page

NAME = "review"


def review_files(review: Review, with_pdf: bool = True) -> dict[str, bytes]:
    """File name to content, the one to open first in front; PdfUnavailable where the PDF engine does not load."""
    page = review_page(review)
    files = {}
    if with_pdf:
        # A page at least; the tables decide how many.
        files[f"{NAME}.pdf"] = pdf.render(_html(page, True), review.last, review.number, 1, LAST_HEADING)
    files[f"{NAME}.html"] = _html(page, False).encode()
    files[f"{NAME}.csv"] = comparison_csv(review.comparison).encode()
    return files


def comparison_csv(comparison: pd.DataFrame) -> str:
    """The comparison with full digits; instants in ISO 8601 with Z."""
    frame = comparison.copy()
    for name in frame.columns:
        if isinstance(frame[name].dtype, pd.DatetimeTZDtype):
            frame[name] = [stamp.strftime("%Y-%m-%dT%H:%M:%SZ") for stamp in frame[name]]
    return str(frame.to_csv(index=False, lineterminator="\n"))


def write_review(files: Mapping[str, bytes], out: Path) -> list[Path]:
    """Writes `review_files` into `out` itself; an older PDF does not stay beside a newer review without one.

    Raises OutputBlocked where another program holds one of them; then all old files stand.
    """
    return replace_files(out, files, gone={f"{NAME}.pdf"} - files.keys())


def _html(page: ReviewPage, for_pdf: bool) -> str:
    css = f"{page_rule(page.paper)}\n{margin_rule(page.footer)}"
    return page_html("review.html.jinja", for_pdf, css, page=page, last_heading=LAST_HEADING)
