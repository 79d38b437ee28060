"""What the PDF engine is spared: words of drawings as few elements in their old places, columns told in advance."""

from __future__ import annotations

import datetime as dt
import re
from html import unescape
from io import BytesIO

import numpy as np
import pypdfium2 as pdfium
import pytest

from pipeline.reports import fonts, pdf, rendering
from pipeline.reports.light_columns import in_halves, in_runs, set_right
from pipeline.reports.light_drawings import with_few_texts
from pipeline.reports.svg import GREY, INK, path, svg, text
from pipeline.reports.views import HighCell

WORDS = [
    text(20, 20, "QN1PIK", 8.0, INK),
    text(90, 20, "A < B & C", 8.0, INK, "middle"),
    text(150, 40, "21:15–22:15", 8.0, INK, "end"),
    text(20, 60, "grey", 7.0, GREY, weight=600),
    text(90, 60, "two  blanks", 7.0, GREY, weight=600),
    text(20, 90, "", 8.0, INK),
]


def page(drawing: str) -> str:
    """A page with one drawing."""
    face = f"<style>{fonts.faces_by_file()}</style>"
    return f'<html lang="en"><head><title>t</title>{face}</head><body><h1>Drawing</h1>{drawing}</body></html>'


def letters(html: str) -> dict[tuple[str, int], tuple[float, ...]]:
    """Where each letter of a page stands, as another program reads its PDF."""
    content = pdf.render(html, dt.date(2027, 3, 1), "K7QD", 1, "Drawing")
    found = pdfium.PdfDocument(BytesIO(content))[0].get_textpage()
    count: dict[str, int] = {}
    places = {}
    for index in range(found.count_chars()):
        letter = found.get_text_range(index, 1)
        if letter.strip():
            count[letter] = count.get(letter, 0) + 1
            places[letter, count[letter]] = found.get_charbox(index)
    return places


def test_words_stay_where_they_were() -> None:
    """To a twentieth of a point, whatever their anchor and weight; and there are fewer elements."""
    before = page(svg(170, 100, "words", WORDS, "chart"))
    after = with_few_texts(before)
    assert before.count("<text") == len(WORDS)
    assert after.count("<text") == 2
    old, new = letters(before), letters(after)
    assert old.keys() == new.keys()
    assert np.abs(np.array(list(old.values())) - np.array([new[key] for key in old])).max() < 0.05


def test_words_are_read_apart() -> None:
    """In the page's own text and in its PDF, by whoever searches or reads aloud."""
    after = with_few_texts(page(svg(170, 100, "words", WORDS, "chart")))
    said = [unescape(words) for words in re.findall(r"<text[^>]*>([^<]*)</text>", after)]
    assert said == ["QN1PIK A < B & C 21:15–22:15", "grey two blanks"]
    content = pdf.render(after, dt.date(2027, 3, 1), "K7QD", 1, "Drawing")
    read = pdfium.PdfDocument(BytesIO(content))[0].get_textpage().get_text_range()
    assert read.split() == ["Drawing", *" ".join(said).split()]


def test_what_lies_between_keeps_its_place() -> None:
    """A plate over a word stays over it: only words that follow one another are joined."""
    parts = [*WORDS[:2], path("M0 0H9V9z", fill="#fff"), *WORDS[3:5]]
    after = with_few_texts("".join(parts))
    assert re.findall(r"<(\w+)", after) == ["text", "path", "text"]
    assert with_few_texts(WORDS[0]) == WORDS[0]


def test_letters_that_the_face_has_not_stay_by_themselves() -> None:
    """Nobody knows how wide they will be."""
    other = text(20, 80, "月", 8.0, INK)
    after = with_few_texts("".join([*WORDS[:2], other]))
    assert after.count("<text") == 2
    assert after.endswith(other)


@pytest.mark.parametrize(
    ("lines", "first"),
    [((), 0), (("one",), 1), (("long" * 5, "a", "b"), 1), (("a", "b", "long" * 5), 2), (("ab",) * 4, 2)],
)
def test_halves(lines: tuple[str, ...], first: int) -> None:
    """No other place to part them gives a shorter longer half."""
    parts = in_halves(lines)
    assert parts[0] + parts[1] == lines
    assert len(parts[0]) == first
    longest = max(len("".join(part)) for part in parts)
    cuts = ((lines[:cut], lines[cut:]) for cut in range(len(lines) + 1))
    assert longest <= min((max(map(len, ("".join(a), "".join(b)))) for a, b in cuts), default=0)


@pytest.mark.parametrize(
    ("cores", "letters", "processes"),
    [(8, 9_000, 1), (8, 799_999, 1), (8, 2_000_000, 5), (2, 10**8, 2), (None, 10**8, 1)],
)
def test_processes_go_by_the_work(
    monkeypatch: pytest.MonkeyPatch, cores: int | None, letters: int, processes: int
) -> None:
    """A demo's pages (541,000 letters when this was measured) are one's; each more has work that pays for its start."""
    monkeypatch.setattr("os.cpu_count", lambda: cores)
    assert rendering._processes_for(letters) == processes


def test_columns_of_one_cell_end_under_each_other() -> None:
    """By the widths of the face, to a tenth of an em counted from the right; no two columns touch."""
    rows = [
        ("5 h 05 min", "116.2°", "−3.0°"),
        ("45 min", "9.9°", "10.0°"),
        ("length", "Moon at the start", "at the end"),
    ]
    widths = fonts.widths(400)
    for place in (1, 2):
        ends = []
        for row, words in zip(rows, set_right(rows), strict=True):
            assert [words.index(cell) for cell in row] == sorted(words.index(cell) for cell in row)
            behind = words[words.rindex(row[place - 1]) + len(row[place - 1]) :]
            ends.append(sum(widths[letter] for letter in behind))
        assert max(ends) - min(ends) < 0.2
        assert min(ends) > max(sum(map(widths.__getitem__, row[place])) for row in rows) + 0.5


def test_neighbours_with_a_dot_are_one_cell() -> None:
    """What has a figure or a slot stays by itself; every column is there."""
    cells = [HighCell("·", "dot"), HighCell("", ""), HighCell("17:45 +5.9", "good"), HighCell("·", "dot")]
    assert in_runs(cells) == [("dot", "·\t", 2), ("good", "17:45 +5.9", 1), ("dot", "·", 1)]
