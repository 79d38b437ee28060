"""The calendar itself: read back by pypdf and as HTML, every window once, nothing lost, the same bytes again."""

import dataclasses
import datetime as dt
import gc
import html as html_module
import re
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from pipeline.plan.plan import Plan
from pipeline.reports import calendar, charts, pdf, places, rendering, writing
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from tests.reports.headings import Headings
from tests.reports.invented_plan import make, station


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Ten nights across the start of summer time in Europe, four partners, one of them without a window."""
    sites = [
        station("QF4LUM", "Lumme Fjord", "Aino Sarel", 60.90, 23.40, "Europe/Helsinki", 2.4),
        station("QJ2KAW", '<b>&"Kawa', None, 35.7, 139.8, "Asia/Tokyo", 1.2),
        station("QW7TID", "Tide Rock", None, -41.3, 174.8, None, 1.8),
        station("QX6ICE", "Ice Edge", "Siv Holm", 70.1, 25.8, "Europe/Oslo", 1.2),
    ]
    return make(dt.date(2027, 3, 22), dt.date(2027, 3, 31), sites=sites)


@pytest.fixture(scope="module")
def content(plan: Plan) -> bytes:
    return rendering.render_document(calendar.calendar_pages(plan)[1])


@pytest.fixture(scope="module")
def pages(content: bytes) -> list[str]:
    # No-break spaces and figure spaces are layout, not content.
    return [re.sub(r"\s+", " ", page.extract_text()) for page in PdfReader(BytesIO(content)).pages]


@pytest.fixture(scope="module")
def page_html(plan: Plan) -> str:
    return calendar.calendar_pages(plan, with_pdf=False)[0]


def bookmarks(content: bytes, outline: list[Any] | None = None) -> list[str]:
    """Every bookmark; those below another with a blank in front."""
    told = []
    for mark in PdfReader(BytesIO(content)).outline if outline is None else outline:
        told += [f" {name}" for name in bookmarks(content, mark)] if isinstance(mark, list) else [str(mark.title)]
    return told


def test_every_page_carries_footer_plan_number_and_count(pages: list[str]) -> None:
    for number, text in enumerate(pages, start=1):
        assert "Mutual Moon · 22 to 31 March 2027 · QM7TOR Basalt Tor · 3 cm · plan K7QD" in text
        assert f"page {number} of {len(pages)}" in text


def test_title_language_author_tags_and_bookmarks(plan: Plan, content: bytes) -> None:
    reader = PdfReader(BytesIO(content))
    root = reader.trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]
    assert reader.metadata is not None
    assert reader.metadata.title == "Mutual Moon, Autumn round, 22 to 31 March 2027, QM7TOR Basalt Tor, 3 cm"
    assert reader.metadata.author == "Ines Calder"
    assert b"pdfuaid" in root["/Metadata"].get_data()
    assert bookmarks(content) == [
        "March 2027 at Basalt Tor",
        "Agenda 3 slots on 2 nights",
        *(f" {formats.day_long(night)}" for night in plan.nights_with_slots),
        "Times of high margin 22 to 31 March 2027",
        "Carpets every window of 22 to 31 March 2027",
        "The Moon's course 22 to 31 March 2027",
        "Partners 21 times that both can use",
        " QF4LUM Lumme Fjord",
        ' QJ2KAW <b>&"Kawa',
        " QW7TID Tide Rock",
        calendar.LAST_HEADING,
    ]


def test_printed_windows_lie_inside_the_real_ones(plan: Plan) -> None:
    for row in plan.windows.to_dict("records"):
        real = as_instant(row["window_start_utc"]), as_instant(row["window_end_utc"])
        start, end = formats.inward(*real)
        assert real[0] <= start <= end <= real[1]


def test_clock_changes_and_unknown_zones_are_told(pages: list[str]) -> None:
    text = next(page for page in pages if "Partners 21 times" in page)
    assert "UTC+2, from Sun 28 Mar UTC+3" in text
    assert "time zone not known: times at QW7TID are UTC" in text


def test_no_line_parts_a_number_and_its_percent_sign(page_html: str) -> None:
    """Words of drawings do not break."""
    words = re.sub(r"<(svg|script|style)\b.*?</\1>", "", page_html, flags=re.DOTALL)
    assert not re.findall(r"\d[ \n]+%", words)
    assert len(re.findall("\\d\N{NO-BREAK SPACE}%", words)) > 10


def test_a_name_cannot_break_the_page(page_html: str, pages: list[str]) -> None:
    assert '<b>&"Kawa' not in page_html
    assert html_module.escape('<b>&"Kawa') in page_html.replace("&#34;", "&quot;")
    assert any('QJ2KAW <b>&"Kawa' in page for page in pages)


def test_true_minus_signs_only(pages: list[str]) -> None:
    assert not [found for page in pages for found in re.findall(r"(?:^|[\s(])-\d", page)]
    assert any("\u2212" in page for page in pages)


def test_a_month_page_a_calendar_month(monkeypatch: pytest.MonkeyPatch) -> None:
    view = calendar.calendar_view(make(dt.date(2027, 3, 5), dt.date(2027, 4, 2), partners=2))
    assert [month.title for month in view.months] == ["March 2027", "April 2027"]
    numbers = [cell.number for month in view.months for week in month.weeks for cell in week if cell]
    assert numbers == [*range(5, 32), 1, 2]
    # The Gregorian calendar: 5 March 2027 is a Friday.
    assert view.months[0].weeks[0].index(view.months[0].weeks[0][4]) == 4
    assert view.months[0].weeks[0][4].number == 5


def test_the_last_night_has_its_morning(plan: Plan) -> None:
    last = plan.windows[plan.windows["night"] == plan.last_night]
    assert len(last)
    for row in last.to_dict("records"):
        (carpet,) = [one for one in plan.carpets if one.partner == row["partner"]]
        morning = as_instant(row["window_start_utc"]).astimezone(plan.zone).date()
        assert carpet.shared[carpet.dates.index(morning)].any()
    assert len(calendar.calendar_view(plan).carpets.pages) == 1


def test_html_stands_alone_and_is_ordered(page_html: str) -> None:
    reader = Headings()
    reader.feed(page_html)
    assert reader.faults == []
    assert reader.levels[0] == 1
    assert all(after - before <= 1 for before, after in zip(reader.levels, reader.levels[1:], strict=False))
    assert not re.findall(r"url\((?!\"data:)", page_html)
    assert "file:" not in page_html
    assert page_html.count("<svg") == page_html.count("<title>") - 1


def test_the_same_plan_gives_the_same_bytes(plan: Plan, content: bytes, page_html: str) -> None:
    again, document = calendar.calendar_pages(plan)
    assert rendering.render_document(document) == content
    assert again == page_html


@pytest.mark.parametrize(
    "url",
    [
        "http://station.example/a.css",
        "https://station.example/a.png",
        "ftp://a.example/b",
        "file:///etc/hostname",
        "file://elsewhere.example/fonts/a.otf",
    ],
)
def test_nothing_is_fetched_from_outside(url: str) -> None:
    assert not pdf.allowed_url(url)
    from weasyprint.urls import FatalURLFetchingError

    with pytest.raises(FatalURLFetchingError):
        pdf.render(
            f'<html lang="en"><title>a</title><h1>a</h1><img alt="b" src="{url}"></html>',
            dt.date(2027, 3, 1),
            "K7QD",
            1,
            "a",
        )


def test_fonts_and_data_are_allowed() -> None:
    assert pdf.allowed_url((places.fonts_folder() / "SourceSansPro-Regular.otf").as_uri())
    assert not pdf.allowed_url((places.fonts_folder() / ".." / ".." / "x").as_uri())
    assert pdf.allowed_url("data:text/plain,a")


@pytest.mark.parametrize(
    ("page", "complaint"),
    [
        ('<html lang="en"><title>a</title><style>p { colour: red }</style><h1>a</h1></html>', "complained"),
        ('<html lang="en"><title>a</title><h1>b</h1></html>', "last bookmark"),
    ],
)
def test_warnings_and_lost_bookmarks_are_faults(page: str, complaint: str) -> None:
    with pytest.raises(pdf.PdfFault, match=complaint):
        pdf.render(page, dt.date(2027, 3, 1), "K7QD", 1, "a")


def test_a_letter_without_a_glyph_is_told_in_a_sentence() -> None:
    """U+E000 is for private use, so that no common font draws it: the user's name, no defect of ours."""
    page = '<html lang="en"><title>a</title><h1>a</h1><p>\ue000</html>'
    with pytest.raises(pdf.PdfUnavailable, match=r"no font on this machine draws \ue000 \(U\+E000\), which"):
        pdf.render(page, dt.date(2027, 3, 1), "K7QD", 1, "a")


@pytest.mark.parametrize("heading", ["a", "b"])
def test_the_collector_rests_while_a_page_is_laid_out(monkeypatch: pytest.MonkeyPatch, heading: str) -> None:
    """And works again afterwards, also where the page is at fault."""
    seen = []
    fetcher = pdf._fetcher
    monkeypatch.setattr(pdf, "_fetcher", lambda: (seen.append(gc.isenabled()), fetcher())[1])
    try:
        pdf.render(f'<html lang="en"><title>a</title><h1>{heading}</h1></html>', dt.date(2027, 3, 1), "K7QD", 1, "a")
    except pdf.PdfFault:
        assert heading == "b"
    assert seen == [False]
    assert gc.isenabled()


def test_missing_pages_are_a_fault() -> None:
    with pytest.raises(pdf.PdfFault, match="1 pages and should have 2"):
        pdf.render('<html lang="en"><title>a</title><h1>a</h1></html>', dt.date(2027, 3, 1), "K7QD", 2, "a")


def test_a_page_or_bookmark_lost_in_writing_is_a_fault(content: bytes) -> None:
    marks = bookmarks(content)
    pages = len(PdfReader(BytesIO(content)).pages)
    pdf._check(content, pages, 1, marks, marks[-1])
    with pytest.raises(pdf.PdfFault, match="pages were laid out"):
        pdf._check(content, pages + 1, 1, marks, marks[-1])
    with pytest.raises(pdf.PdfFault, match="bookmarks were laid out"):
        pdf._check(content, pages, 1, ["one more", *marks], marks[-1])


def test_a_missing_engine_is_told_in_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    pdf.engine.cache_clear()
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    monkeypatch.setattr(pdf.browser, "find", lambda: None)
    with pytest.raises(pdf.PdfUnavailable, match=r"Pango.* to have it, or install one of these browsers") as caught:
        pdf.render("", dt.date(2027, 3, 1), "K7QD", 1, "a")
    assert "\n" not in str(caught.value)


@pytest.fixture
def rendered(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Stands in for the PDF engine and notes what it was asked for."""
    asked: list[str] = []

    def quick(document: rendering.Document) -> bytes:
        asked.append(document.last_bookmark)
        return b"%PDF of " + document.key.encode()

    monkeypatch.setattr(rendering, "render_document", quick)
    return asked


def test_both_rooms_are_written_and_unchanged_documents_kept(plan: Plan, tmp_path: Path, rendered: list[str]) -> None:
    period = tmp_path / "out" / "2027-03-22_2027-03-31"
    files = writing.write_rooms(writing.plan_rooms(plan, with_pdf=True), period)
    assert files[0] == period / "calendar" / "calendar.pdf"
    assert sorted([*files, period / "rendered.json"]) == sorted(path for path in period.rglob("*") if path.is_file())
    before = {path: path.read_bytes() for path in files}
    assert writing.write_rooms(writing.plan_rooms(plan, with_pdf=True), period) == files
    assert {path: path.read_bytes() for path in files} == before
    assert len(rendered) == 1, "the second run took the document from the first"


@pytest.mark.parametrize("spoil", ["the file", "the index", "the plan"])
def test_what_changed_is_rendered_anew(plan: Plan, tmp_path: Path, rendered: list[str], spoil: str) -> None:
    period = tmp_path / "2027-03"
    writing.write_rooms(writing.plan_rooms(plan, with_pdf=True), period)
    first = (period / "calendar" / "calendar.pdf").read_bytes()
    if spoil == "the file":
        (period / "calendar" / "calendar.pdf").write_bytes(b"%PDF of something else")
    elif spoil == "the index":
        (period / "rendered.json").write_text("[]")
    changed = dataclasses.replace(plan, number="ABCD") if spoil == "the plan" else plan
    writing.write_rooms(writing.plan_rooms(changed, with_pdf=True), period)
    assert len(rendered) == 2
    assert ((period / "calendar" / "calendar.pdf").read_bytes() == first) == (spoil != "the plan")


def test_without_pdf_no_stale_one_is_left(plan: Plan, tmp_path: Path, rendered: list[str]) -> None:
    writing.write_rooms(writing.plan_rooms(plan, with_pdf=True), tmp_path / "2027-03")
    files = writing.write_rooms(writing.plan_rooms(plan, with_pdf=False), tmp_path / "2027-03")
    assert files[0].name == "calendar.html"
    assert not list(tmp_path.rglob("*.pdf"))


def test_the_moon_is_lit_on_the_side_that_the_hemisphere_sees() -> None:
    """Waxing: right in the north, left in the south (common knowledge of the sky; the sun sets in the west)."""

    def lit_arc(age_deg: float, southern: bool) -> str:
        arcs = r'<path d="M\S+ \S+A\S+ \S+ 0 0 (\d) .*?A(\S+) \S+ 0 0 (\d)'
        found = re.search(arcs, charts.moon_disc(age_deg, southern))
        assert found
        return found[1] + found[3]

    # First figure: outer limb clockwise from the top (right) or not; second: the terminator's turn.
    assert lit_arc(45, southern=False) == "10"
    assert lit_arc(135, southern=False) == "11"
    assert lit_arc(45, southern=True) == "01"
    assert lit_arc(225, southern=False) == "00"
    assert lit_arc(315, southern=False) == "01"
    assert charts.moon_words(90) == "Moon 50 % lit, waxing"
    assert charts.moon_words(181) == "full Moon"


def test_folders_inside_the_package_come_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A wheel carries `pipeline/templates` and `pipeline/demo`; a checkout has them beside the package."""
    monkeypatch.setattr(places, "PACKAGE", tmp_path / "pipeline")
    with pytest.raises(FileNotFoundError, match="install Mutual Moon again"):
        places.templates_folder()
    (tmp_path / "templates").mkdir()
    (tmp_path / "stations").mkdir()
    assert places.templates_folder() == tmp_path / "templates"
    assert places.demo_folder() == tmp_path / "stations"
    (tmp_path / "pipeline" / "demo").mkdir(parents=True)
    assert places.demo_folder() == tmp_path / "pipeline" / "demo"


@pytest.fixture(scope="module")
def season() -> Plan:
    """Three months with two partners, each with one slot, so that a month at least has none."""
    return make(dt.date(2027, 3, 1), dt.date(2027, 5, 31), partners=2)


def test_every_link_of_a_long_season_leads_somewhere(season: Plan) -> None:
    document = calendar.calendar_pages(season)[1]
    assert document is not None
    months = {night.month for night in season.nights_with_slots}
    assert len(months) < 3 <= len(calendar.calendar_view(season).months)
    for text in (document.html, calendar.calendar_pages(season, with_pdf=False)[0]):
        targets = re.findall(r'href="#([^"]+)"', text)
        assert len(targets) > 20
        assert set(targets) <= set(re.findall(r' id="([^"]+)"', text))


def test_a_long_season_of_few_partners_fills_its_sheets(season: Plan) -> None:
    """All months' carpets on one sheet, each with its name; no night without a time in the list of high margins."""
    view = calendar.calendar_view(season)
    (sheet,) = view.carpets.pages
    assert sheet.calls == ("QF4LUM",) * 3 + ("QJ2KAW",) * 3
    names = [re.findall(r">(Q\w+ \w+)<", str(square)) for square in sheet.squares]
    assert names == [[f"{call} {month}"] for call in ("QF4LUM", "QJ2KAW") for month in ("March", "April", "May")]
    assert view.high_margin is not None
    shown = [row.night for page in view.high_margin.pages for row in page.rows]
    usable = {one.night for one in season.usable_windows} | set(season.nights_with_slots)
    assert shown == [formats.day(night) for night in sorted(usable)]
    assert "Nights on which no slot fits are left out." in view.high_margin.key
