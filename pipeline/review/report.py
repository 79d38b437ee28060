"""The review as files: one template for PDF and HTML, the comparison as CSV; each put in place whole.

Same logs and inputs, same bytes: the log's last attempt dates the document.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
from markupsafe import Markup

from pipeline.reports import fonts, pdf
from pipeline.reports.calendar import FONTS_HERE, environment
from pipeline.reports.views import Paper
from pipeline.reports.writing import OutputBlocked
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


def write_review(review: Review, out: Path, with_pdf: bool = True) -> list[Path]:
    """Writes the files into `out` itself; an older PDF does not stay beside a newer review without one.

    Raises OutputBlocked where another program holds one of them; then all old files stand.
    """
    files = review_files(review, with_pdf)
    out.mkdir(parents=True, exist_ok=True)
    fresh = {out / name: out / f"{name}.new" for name in files}
    try:
        for (target, new), content in zip(fresh.items(), files.values(), strict=True):
            new.write_bytes(content)
            _must_be_free(target)
        for target, new in fresh.items():
            new.replace(target)
        if not with_pdf:
            (out / f"{NAME}.pdf").unlink(missing_ok=True)
    except PermissionError as error:
        name = Path(error.filename or f"{NAME}.pdf").name.removesuffix(".new")
        raise OutputBlocked(f"close {name} and run again; nothing was lost") from error
    finally:
        for new in fresh.values():
            new.unlink(missing_ok=True)
    return list(fresh)


def _must_be_free(target: Path) -> None:
    """A viewer that holds one file (Windows) stops the whole before the first is moved."""
    if target.exists():
        with target.open("r+b"):
            pass


def _html(page: ReviewPage, for_pdf: bool) -> str:
    text = (
        environment()
        .get_template("review.html.jinja")
        .render(
            page=page,
            for_pdf=for_pdf,
            last_heading=LAST_HEADING,
            fonts_here=Markup(FONTS_HERE),
            page_css=Markup(_page_css(page.paper)),
        )
    )
    faces = fonts.faces_by_file() if for_pdf else fonts.faces_embedded(text)
    return text.replace(FONTS_HERE, faces, 1)


def _page_css(paper: Paper) -> str:
    margins = f"margin: {paper.top:g}pt {paper.side:g}pt {paper.bottom:g}pt"
    return f"@page {{ size: {paper.css_name} portrait; {margins}; }}"
