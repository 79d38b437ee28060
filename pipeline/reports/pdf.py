"""HTML to PDF by WeasyPrint: pdf/ua-1, fonts from their package, the same bytes for the same HTML.

Nothing is fetched from a network, and whatever WeasyPrint warns about is a failure: a page that lost a rule or a glyph
is worse than no page. Where its libraries do not load, the machine's browser prints the same pages (`browser.py`).
"""

from __future__ import annotations

import atexit
import datetime as dt
import gc
import io
import logging
import os
import re
import sys
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, redirect_stdout
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from types import ModuleType
from typing import Any
from urllib.parse import unquote, urlsplit

from pipeline.reports import browser, pango_help
from pipeline.reports.places import fonts_folder, templates_folder
from pipeline.reports.views import PAPERS


class PdfUnavailable(RuntimeError):
    """The PDF engine does not load on this machine; the text is one sentence for the user."""


class GlyphsMissing(PdfUnavailable):
    """A name in the inputs holds letters that no font of this machine has; the text is one sentence for the user."""


class PdfFault(RuntimeError):
    """A page came out wrong: a defect of ours, never silently printed."""


@dataclass(frozen=True)
class Engine:
    """What makes PDFs on this machine: its name with its version, and the browser's program; None is WeasyPrint."""

    name: str
    program: Path | None = None


@cache
def engine() -> Engine:
    """WeasyPrint where it loads, else the machine's browser; PdfUnavailable where neither is there.

    Found once for the process.
    """
    try:
        _weasyprint()
    except PdfUnavailable:
        program = browser.find()
        if program is None:
            raise
        return Engine(browser.version_of(program), program)
    return Engine(f"WeasyPrint {version('weasyprint')}")


def _weasyprint() -> ModuleType:
    """WeasyPrint, or one sentence on what is missing (its text engine Pango is a system library)."""
    pango_help.look_into_mac_folders(sys.platform, os.environ)
    try:
        # Where a library is missing WeasyPrint prints a banner of its own.
        with redirect_stdout(io.StringIO()):
            import weasyprint
    except (ImportError, OSError) as error:
        raise PdfUnavailable(
            "a PDF needs the system library Pango or a browser (Edge, Chrome or Chromium), and neither is found here; "
            f"{pango_help.sentence_for_this_system()}, or install one of these browsers, or set {browser.VARIABLE} to "
            "the path of its program"
        ) from error
    return weasyprint


def allowed_url(url: str) -> bool:
    """`data:` always; `file:` inside the fonts' and the templates' folders only."""
    parts = urlsplit(url)
    if parts.scheme == "data":
        return True
    if parts.scheme != "file" or parts.netloc not in ("", "localhost"):
        return False
    from urllib.request import url2pathname

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

    # Its folder goes with it, which must be before the library is taken apart.
    atexit.register(_font_configuration.cache_clear)
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
def collector_off() -> Iterator[None]:
    """No search for unused cycles while a page is laid out: it takes a fifth of the time and finds next to nothing."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


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
    where no engine is there. `identifier` (the plan number) and `dated` stand for clock and chance.
    """
    program = engine().program
    if program is not None:
        return _printed(html, program, least_pages, last_bookmark)
    return _laid_out(html, dated, identifier, least_pages, last_bookmark)


def _printed(html: str, program: Path, least_pages: int, last_bookmark: str) -> bytes:
    """By the browser: no promise of same bytes or PDF/UA, but whole, on the right sheets, down to the last heading."""
    try:
        content = browser.print_page(html, program)
    except browser.BrowserFailed as failure:
        raise PdfUnavailable(f"{failure}; run again, or add --no-pdf and print the HTML pages by hand") from failure
    sizes, labels = browser.page_sizes(content), browser.outline(content)
    if len(sizes) < least_pages:
        raise PdfFault(f"the document has {len(sizes)} pages and should have {least_pages} at least")
    if not labels or labels[-1] != last_bookmark:
        raise PdfFault(f"the last bookmark should be '{last_bookmark}' and is '{labels[-1] if labels else ''}'")
    sheets = _sheets(html)
    for width, height in sizes:
        # Browsers lay out in pixels of 0.75 pt.
        if sheets and not any(abs(width - wide) < 1.0 and abs(height - high) < 1.0 for wide, high in sheets):
            raise PdfFault(f"a page of {width:g} by {height:g} points was printed, on none of the sheets asked for")
    return content


def _sheets(html: str) -> set[tuple[float, float]]:
    """Width and height of the sheets that a page's own rules ask for, points."""
    found = set()
    for name, turned in re.findall(r"size: (\w+) (portrait|landscape)", html):
        paper = PAPERS[name]
        found.add((paper.height, paper.width) if turned == "landscape" else (paper.width, paper.height))
    return found


def _laid_out(html: str, dated: dt.date, identifier: str, least_pages: int, last_bookmark: str) -> bytes:
    """By WeasyPrint."""
    weasyprint = _weasyprint()
    with _dated(dated), _warnings_are_faults(), collector_off():
        page = weasyprint.HTML(string=html, base_url=templates_folder().as_uri() + "/", url_fetcher=_fetcher())
        document = page.render(font_config=_font_configuration(), pdf_variant="pdf/ua-1")
        labels = _labels(document.make_bookmark_tree())
        pages = len(document.pages)
        content: bytes = document.write_pdf(
            pdf_variant="pdf/ua-1", pdf_identifier=f"mutual-moon-{identifier}-{dated}".encode()
        )
    _check(content, pages, least_pages, labels, last_bookmark)
    return content


def _labels(tree: Iterable[Any]) -> list[str]:
    """Every bookmark of the engine's tree, those below another behind it."""
    return [label for name, _, below, _ in tree for label in (str(name), *_labels(below))]


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
