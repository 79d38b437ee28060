"""Embedded fonts: the ready-made letters are there and draw as the font's own, others are cut when needed."""

from __future__ import annotations

import base64
import datetime as dt
import re
import shutil
from io import BytesIO
from pathlib import Path

import pytest
from fontTools.pens.recordingPen import RecordingPen
from fontTools.ttLib import TTFont

from pipeline.reports import fonts, rendering
from pipeline.reports.places import fonts_folder


def embedded(text: str) -> dict[int, TTFont]:
    """The fonts that a page with this text carries, by weight."""
    rules = re.findall(r"font-weight: (\d+).*?base64,([^\"]+)", fonts.faces_embedded(text))
    return {int(weight): TTFont(BytesIO(base64.b64decode(data))) for weight, data in rules}


def outline(font: TTFont, letter: str) -> list[object]:
    pen = RecordingPen()
    font.getGlyphSet()[font.getBestCmap()[ord(letter)]].draw(pen)
    return pen.value


def test_the_usual_letters_are_ready_made() -> None:
    for weight, font in embedded("Moon").items():
        whole = TTFont(fonts_folder() / f"SourceSansPro-{fonts.WEIGHTS[weight]}.otf")
        wanted = {letter for letter in fonts.USUAL if ord(letter) in whole.getBestCmap()}
        assert {ord(letter) for letter in wanted} <= set(font.getBestCmap())
        for letter in "Mø7−":
            assert outline(font, letter) == outline(whole, letter), letter


def test_other_letters_are_cut_for_the_page() -> None:
    """They come after the usual ones, each rule for its own letters: CSS Fonts 4, unicode-range."""
    other = "ЛунаΣελήνη"
    for font in embedded(f"Moon {other}").values():
        assert set(font.getBestCmap()) == {ord(letter) for letter in other}
    ranges = re.findall(r"unicode-range: ([^;]*);", fonts.faces_embedded(f"Moon {other}"))
    assert [{int(one.removeprefix("U+"), 16) for one in each.split(", ")} for each in ranges] == [
        set(map(ord, other))
    ] * 3


def test_letters_that_the_font_has_not_cost_nothing() -> None:
    """Hebrew and a picture of the Moon are drawn in the reader's own font."""
    assert fonts.faces_embedded("אב 🌕") == fonts.faces_embedded("Moon")


def test_the_same_text_gives_the_same_bytes() -> None:
    first = fonts.faces_embedded("Луна")
    fonts._cut.cache_clear()
    assert fonts.faces_embedded("Луна") == first


def test_where_the_fonts_lie_makes_no_other_document(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same fonts in another folder, as in another installation: what was rendered there is not rendered anew."""
    elsewhere = tmp_path / "fonts"
    shutil.copytree(fonts_folder(), elsewhere)
    keys, pages = [], []
    for folder in (fonts_folder(), elsewhere):
        for user in ("fonts", "rendering"):
            monkeypatch.setattr(f"pipeline.reports.{user}.fonts_folder", lambda folder=folder: folder)
        rendering._renderer.cache_clear()
        pages.append(f"<style>{fonts.faces_by_file()}</style>")
        keys.append(rendering.Document(pages[-1], dt.date(2027, 3, 13), "a", 1, "").key)
    rendering._renderer.cache_clear()
    assert pages[0] != pages[1]
    assert keys[0] == keys[1]
    assert rendering.Document(pages[0] + "x", dt.date(2027, 3, 13), "a", 1, "").key != keys[0]
