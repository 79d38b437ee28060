"""HTML to PDF by WeasyPrint: pdf/ua-1, fonts from their package, the same bytes for the same HTML.

Nothing is fetched from a network, and whatever WeasyPrint warns about is a failure: a page that lost a rule or a glyph
is worse than no page.
"""

from __future__ import annotations

import datetime as dt
import io
import logging
import os
import re
import sys
import zlib
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any
from urllib.parse import unquote, urlsplit
from urllib.request import url2pathname

from pipeline.reports import pango_help
from pipeline.reports.places import fonts_folder, templates_folder


class PdfUnavailable(RuntimeError):
    """The PDF engine does not load on this machine; the text is one sentence for the user."""


class GlyphsMissing(PdfUnavailable):
    """A name in the inputs holds letters that no font of this machine has; the text is one sentence for the user."""


class PdfFault(RuntimeError):
    """A page came out wrong: a defect of ours, never silently printed."""


def _weasyprint() -> ModuleType:
    """WeasyPrint, or one sentence on what is missing (its text engine Pango is a system library)."""
    pango_help.look_into_mac_folders(sys.platform, os.environ)
    try:
        # Where a library is missing WeasyPrint prints a banner of its own.
        with redirect_stdout(io.StringIO()):
            import weasyprint
    except (ImportError, OSError) as error:
        raise PdfUnavailable(
            "the PDF engine needs the system library Pango, which does not load here; "
            f"{pango_help.sentence_for_this_system()}, "
            "or add --no-pdf to write the HTML calendar and the data files alone"
        ) from error
    return weasyprint


def allowed_url(url: str) -> bool:
    """`data:` always; `file:` inside the fonts' and the templates' folders only."""
    parts = urlsplit(url)
    if parts.scheme == "data":
        return True
    if parts.scheme != "file" or parts.netloc not in ("", "localhost"):
        return False
    path = Path(url2pathname(unquote(parts.path))).resolve()
    return any(path.is_relative_to(folder.resolve()) for folder in (fonts_folder(), templates_folder()))


@cache
def _fetcher() -> Any:
    from weasyprint.urls import FatalURLFetchingError, URLFetcher

    class HouseFetcher(URLFetcher):  # type: ignore[misc,unused-ignore]
        """Reads what the house carries and stops the rendering at anything else."""

        def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
            if not allowed_url(url):
                raise FatalURLFetchingError(f"a page asked for {url}; pages use only what the package carries")
            return super().fetch(url, headers)

    return HouseFetcher(allowed_protocols=("file", "data"), allow_redirects=False, fail_on_errors=True)


@cache
def _font_configuration() -> Any:
    """One for the process: WeasyPrint registers each font file in it."""
    from weasyprint.text.fonts import FontConfiguration

    return FontConfiguration()


# How WeasyPrint says that a letter has no glyph in any font at hand; the code point follows in brackets.
UNDRAWN = re.compile(r"\.notdef glyph rendered .*\(U\+([0-9A-F]+)\)$", re.DOTALL)


def _undrawn(points: list[str]) -> str:
    letters = " ".join(f"{chr(int(point, 16))} (U+{point})" for point in points[:6])
    more = f" and {len(points) - 6} more" if len(points) > 6 else ""
    return (
        f"no font on this machine draws {letters}{more}, which stand in the season or station files; install a font "
        "that has them, write them in other letters, or add --no-pdf"
    )


class _Collector(logging.Handler):
    """Keeps WeasyPrint's warnings."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.lines.append(record.getMessage())


@contextmanager
def _warnings_are_faults() -> Iterator[None]:
    collector = _Collector()
    loggers = [logging.getLogger(name) for name in ("weasyprint", "fontTools")]
    for logger in loggers:
        logger.addHandler(collector)
    try:
        yield
    finally:
        for logger in loggers:
            logger.removeHandler(collector)
    lost = [UNDRAWN.match(line) for line in collector.lines]
    if lost and all(lost):
        raise GlyphsMissing(_undrawn(sorted({found[1] for found in lost if found})))
    if collector.lines:
        raise PdfFault("the PDF engine complained: " + "; ".join(sorted(set(collector.lines))))


@contextmanager
def _dated(date: dt.date) -> Iterator[None]:
    """The font subsetter stamps what it writes; the stamp is the plan's first night, not the clock."""
    before = os.environ.get("SOURCE_DATE_EPOCH")
    midnight = dt.datetime.combine(date, dt.time(), tzinfo=dt.UTC)
    os.environ["SOURCE_DATE_EPOCH"] = str(int(midnight.timestamp()))
    try:
        yield
    finally:
        if before is None:
            del os.environ["SOURCE_DATE_EPOCH"]
        else:
            os.environ["SOURCE_DATE_EPOCH"] = before


def render(html: str, dated: dt.date, identifier: str, least_pages: int, last_bookmark: str) -> bytes:
    """The PDF of one HTML page; raises PdfFault where pages or the last bookmark are missing, PdfUnavailable
    where the engine does not load. `identifier` (the plan number) and `dated` stand for clock and chance.
    """
    weasyprint = _weasyprint()
    with _dated(dated), _warnings_are_faults():
        page = weasyprint.HTML(string=html, base_url=templates_folder().as_uri() + "/", url_fetcher=_fetcher())
        document = page.render(font_config=_font_configuration(), pdf_variant="pdf/ua-1")
        labels = [str(bookmark[0]) for bookmark in document.make_bookmark_tree()]
        pages = len(document.pages)
        content: bytes = document.write_pdf(
            pdf_variant="pdf/ua-1", pdf_identifier=f"mutual-moon-{identifier}-{dated}".encode()
        )
    _check(content, pages, least_pages, labels, last_bookmark)
    return content


def _objects(content: bytes) -> bytes:
    """The PDF's own dictionaries as text: WeasyPrint packs them into one compressed stream."""
    packed = re.search(rb"/Type /ObjStm\b.*?stream\n(.*?)\nendstream", content, re.DOTALL)
    return content + (zlib.decompressobj().decompress(packed[1]) if packed else b"")


def _check(content: bytes, pages: int, least_pages: int, labels: list[str], last_bookmark: str) -> None:
    """What was laid out is what was written, down to the last bookmark."""
    objects = _objects(content)
    written = len(re.findall(rb"/Type /Page\b", objects))
    if written != pages:
        raise PdfFault(f"{pages} pages were laid out and {written} written")
    if pages < least_pages:
        raise PdfFault(f"the document has {pages} pages and should have {least_pages} at least")
    if not labels or labels[-1] != last_bookmark:
        raise PdfFault(f"the last bookmark should be '{last_bookmark}' and is '{labels[-1] if labels else ''}'")
    # Every entry of the outline leads somewhere, the document's own title does not; an object is one line.
    marks = len(re.findall(rb"/Title [^\n]*?/Dest \[", objects))
    if marks != len(labels):
        raise PdfFault(f"{len(labels)} bookmarks were laid out and {marks} written")
