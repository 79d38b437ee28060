"""The machine's browser prints what WeasyPrint lays out: same pages, sheets, words, outline and links.

Read with pypdf, which neither engine uses. Structure tags and links: ISO 32000-1, 14.7 and 12.5.6.5.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import os
import re
import sys
import tempfile
import unicodedata
from collections import Counter
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from pipeline.cli import app
from pipeline.commands.common import makes_pdf
from pipeline.letters.templates import Templates
from pipeline.plan.plan import Plan, make_plan
from pipeline.reports import browser, pdf, year_pages
from pipeline.reports.calendar import calendar_pages, footer_text
from pipeline.reports.page import margin_rule
from pipeline.reports.places import demo_folder
from pipeline.reports.rendering import Document, render_document
from pipeline.review import report
from pipeline.review.reading_logs import read_logs
from pipeline.review.review import make_review
from pipeline.sheets.document import night_rooms
from tests.hostile.small_season import PERIOD, lay_out
from tests.reports.test_year_pages import year

PROGRAM = browser.find()
needs_browser = pytest.mark.skipif(PROGRAM is None, reason="no browser on this machine")


@cache
def demo() -> Plan:
    from pipeline.record.inputs import read_inputs

    return make_plan(read_inputs(demo_folder() / "season.yaml"), dt.date(2026, 11, 1), lambda _: None)


def document_of(name: str) -> Document:
    """Of the demo: the calendar, its first night's sheets, the first partner's page, the year, the review."""
    if name == "calendar":
        calendar = calendar_pages(demo())[1]
        assert calendar is not None
        return calendar
    if name == "sheets":
        return night_rooms(demo(), Path("nowhere"), with_pdf=True)[0].documents["sheets.pdf"]
    if name == "sheets on US letter":
        return night_rooms(on_us_letter(demo()), Path("nowhere"), with_pdf=True)[0].documents["sheets.pdf"]
    return letter() if name == "letter" else rendered_by(name)


def on_us_letter(plan: Plan) -> Plan:
    season = plan.inputs.season
    season = dataclasses.replace(season, report=dataclasses.replace(season.report, paper="letter"))
    return dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, season=season))


def rendered_by(name: str) -> Document:
    """What the year or the review hands to the PDF engine itself."""
    handed: list[Document] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pdf, "render", lambda *words: handed.append(Document(*words)) or b"")
        if name == "year":
            year_pages.year_files(year(), with_pdf=True)
        else:
            logs = [demo_folder() / "log" / "2027-03.adi"]
            report.review_files(make_review(*read_logs(logs, demo().inputs), demo().inputs), with_pdf=True)
    return handed[0]


def letter() -> Document:
    from pipeline.letters.building import build_letter
    from pipeline.letters.windows_page import windows_document

    view = demo().for_partner(demo().inputs.partners[0].call)
    return windows_document(view, build_letter(view), Templates(demo_folder()))


def flat(entries: list[Any]) -> list[Any]:
    return [one for entry in entries for one in (flat(entry) if isinstance(entry, list) else [entry])]


def titles(entries: list[Any]) -> list[str]:
    return [str(entry.title) for entry in flat(entries)]


def letters_of(text: str) -> Counter[str]:
    """Each letter and how often, ligatures taken apart: the engines put spaces and line ends elsewhere."""
    return Counter(one for one in unicodedata.normalize("NFKC", text) if one.isalnum())


def links(reader: PdfReader) -> int:
    return sum(len(page.get("/Annots") or []) for page in reader.pages)


@needs_browser
@pytest.mark.parametrize("name", ["calendar", "sheets", "sheets on US letter", "letter", "year", "review"])
def test_both_engines_make_the_same_pages(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    document = document_of(name)
    laid = PdfReader(BytesIO(render_document(document)))
    engine = pdf.Engine("the browser", PROGRAM)
    monkeypatch.setattr(pdf, "engine", lambda: engine)
    printed = PdfReader(BytesIO(render_document(document)))
    assert len(printed.pages) == len(laid.pages)
    # A browser makes bookmarks of headings alone: some of what stands below another is none.
    told = titles(printed.outline)
    assert told == [one for one in titles(laid.outline) if one in told]
    assert {str(entry.title) for entry in laid.outline if not isinstance(entry, list)} <= set(told)
    assert links(printed) >= links(laid)
    assert "/StructTreeRoot" in printed.trailer["/Root"]
    for number, (ours, theirs) in enumerate(zip(laid.pages, printed.pages, strict=True), 1):
        assert [float(edge) for edge in theirs.mediabox] == pytest.approx(
            [float(edge) for edge in ours.mediabox], abs=1
        )
        text = theirs.extract_text()
        assert letters_of(text) == letters_of(ours.extract_text()), number
        assert f"plan {document.identifier}" in text
        if name == "calendar":
            assert footer_text(demo()).split(" · ")[1] in text
            assert f"page {number} of {len(laid.pages)}" in text


@needs_browser
def test_a_calendar_on_us_letter_spills_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """A partner's page without a heading goes on with the windows; none is there for the notes below them."""
    document = calendar_pages(on_us_letter(demo()))[1]
    assert document is not None
    engine = pdf.Engine("the browser", PROGRAM)
    monkeypatch.setattr(pdf, "engine", lambda: engine)
    printed = PdfReader(BytesIO(render_document(document)))
    calls = tuple(station.call for station in demo().inputs.partners)
    entries = flat(printed.outline)
    headed = {printed.get_destination_page_number(entry) for entry in entries}
    tables = min(printed.get_destination_page_number(entry) for entry in entries if str(entry.title).startswith(calls))
    for number, page in list(enumerate(printed.pages))[tables:]:
        assert number in headed or len(re.findall(r"\b\d\d:\d\d\b", page.extract_text())) > 10, number
    assert {tuple(map(float, page.mediabox[2:])) for page in printed.pages} == {(612.0, 792.0), (792.0, 612.0)}


def fake_browser(folder: Path, does: str) -> Path:
    program = folder / "browser"
    program.write_text(f"#!/bin/sh\n{does}\n")
    program.chmod(0o755)
    return program


@pytest.mark.skipif(sys.platform == "win32", reason="the stand-in is a shell script")
@pytest.mark.parametrize(
    ("does", "bound_s", "words"),
    [
        ("sleep 600 & echo $! > {pid}; wait", 0.5, "printed nothing within 0.5 seconds"),
        ("exit 3", browser.BOUND_S, "ended with code 3"),
    ],
)
def test_a_browser_that_hangs_or_fails_leaves_nothing(
    does: str, bound_s: float, words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    places = tmp_path / "temporary"
    places.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(places))
    pid = tmp_path / "pid"
    with pytest.raises(browser.BrowserFailed, match=words):
        browser.print_page("<h1>a</h1>", fake_browser(tmp_path, does.format(pid=pid)), bound_s)
    assert list(places.iterdir()) == []
    if pid.exists():
        state = Path(f"/proc/{pid.read_text().strip()}/stat")
        # A process that has ended may wait for its new parent to take note of it.
        assert not state.exists() or state.read_text().rpartition(")")[2].split()[0] in "ZX"


def test_headings_kept_out_of_the_outline_keep_their_look() -> None:
    assert browser.printable('<h2>a</h2><h2 class="care">b</h2><h1 class="again">c</h1>') == (
        '<p class="h2">a</p><p class="h2 care">b</p><p class="again">c</p>'
    )
    assert browser.printable('<h2 class="kept">a</h2><h2>b</h2>') == '<h2 class="kept">a</h2><p class="h2">b</p>'


def test_usual_places() -> None:
    """The folders of Windows and Mac: common practice, from memory."""
    windows = browser.places("win32", {"ProgramFiles": r"C:\Program Files"})
    assert windows[0] == r"C:\Program Files\Microsoft\Edge\Application\msedge.exe"
    mac = browser.places("darwin", {})
    assert mac[0] == "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome"


def test_the_browser_named_is_taken_or_none(tmp_path: Path) -> None:
    program = fake_browser(tmp_path, "exit 0")
    assert browser.find("linux", {browser.VARIABLE: str(program), "PATH": os.environ["PATH"]}) == program
    assert browser.find("linux", {browser.VARIABLE: str(tmp_path / "gone"), "PATH": os.environ["PATH"]}) is None
    assert browser.find("linux", {"PATH": str(tmp_path)}) is None
    assert browser.find("linux", {"PATH": str(program.rename(tmp_path / "chromium").parent)}) == tmp_path / "chromium"


def test_margin_text_cannot_leave_its_string() -> None:
    assert margin_rule('a "b" </style>\\') == (
        '@page { @bottom-left { content: "a \\22 b\\22  \\3c /style\\3e \\5c "; } }'
    )


@pytest.fixture
def no_engine(monkeypatch: pytest.MonkeyPatch) -> Any:
    pdf.engine.cache_clear()
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    monkeypatch.setenv(browser.VARIABLE, "/no/such/program")
    yield
    pdf.engine.cache_clear()


@pytest.mark.usefixtures("no_engine")
def test_without_an_engine_html_is_written_and_one_sentence_told(tmp_path: Path) -> None:
    season = lay_out(tmp_path / "small") / "stations" / "season.yaml"
    result = CliRunner().invoke(app, ["plan", "--season", str(season), "--out", str(tmp_path)])
    assert result.exit_code == 0, result.output
    notes = [line for line in result.stderr.splitlines() if "no PDF is written" in line]
    assert len(notes) == 1
    assert "to have it, or install one of these browsers" in notes[0]
    assert (tmp_path / PERIOD / "calendar" / "calendar.html").is_file()
    assert not list(tmp_path.rglob("*.pdf"))
    assert '"pdf_engine": null' in (tmp_path / PERIOD / "data" / "run.json").read_text(encoding="utf-8")


@pytest.mark.usefixtures("no_engine")
def test_a_refused_pdf_needs_no_note(capsys: pytest.CaptureFixture[str]) -> None:
    assert makes_pdf(no_pdf=True) is False
    assert capsys.readouterr().err == ""
