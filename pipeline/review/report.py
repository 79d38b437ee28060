"""The review as files: one template for PDF and HTML, the comparison as CSV; each put in place whole.

Same logs and inputs, same bytes: the log's last attempt dates the document.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from pipeline.reports.leaflet import leaflet_files, write_leaflet
from pipeline.reports.precision import rounded_table
from pipeline.review.review import Review
from pipeline.review.view import review_page

NAME = "review"


def review_files(review: Review, with_pdf: bool = True) -> dict[str, bytes]:
    """File name to content, the one to open first in front; PdfUnavailable where the PDF engine does not load."""
    tables = {f"{NAME}.csv": comparison_csv(review.comparison)}
    return leaflet_files(review_page(review), "review.html.jinja", NAME, tables, with_pdf)


def comparison_csv(comparison: pd.DataFrame) -> str:
    """The comparison with the digits that are known; instants in ISO 8601 with Z."""
    frame = rounded_table(comparison)
    for name in frame.columns:
        if isinstance(frame[name].dtype, pd.DatetimeTZDtype):
            frame[name] = [stamp.strftime("%Y-%m-%dT%H:%M:%SZ") for stamp in frame[name]]
    return str(frame.to_csv(index=False, lineterminator="\n"))


def write_review(files: Mapping[str, bytes], out: Path) -> list[Path]:
    """Writes `review_files` into `out` itself; an older PDF does not stay beside a newer review without one.

    Raises OutputBlocked where another program holds one of them; then all old files stand.
    """
    return write_leaflet(out, NAME, files)
