"""Where every letter and line of a PDF stands, read back by pypdfium2 (Google's PDFium, apart from what wrote it)."""

from __future__ import annotations

import ctypes
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pypdfium2 as pdfium
import pypdfium2.raw as raw

# Letters set close come this near each other in both directions, points; words have at least this between them.
TOUCH_PT, APART_PT = 0.7, 1.0


@dataclass(frozen=True)
class Page:
    """A page in points from its lower left corner: its size, its words, and a box (left, bottom, right, top) a letter.

    Letters of one `runs` number were set together as one piece of text. `drawn` holds the boxes of all that is painted,
    letters, rules and drawings alike, (n, 4).
    """

    size: tuple[float, float]
    text: str
    letters: str
    boxes: npt.NDArray[np.float64]
    runs: npt.NDArray[np.int64]
    drawn: npt.NDArray[np.float64]

    def overprints(self) -> list[str]:
        """Pairs of letters that stand on each other, or of words that run together, each with the letters around it.

        Ligatures and kerning do not count, nor the letters of a drawing, each a piece of its own, for running together.
        """
        first, second = self._side_by_side()
        left, bottom, right, top = self.boxes.T
        wide = np.minimum(right[first], right[second]) - np.maximum(left[first], left[second])
        high = np.minimum(top[first], top[second]) - np.maximum(bottom[first], bottom[second])
        is_word = np.bincount(self.runs)[self.runs] > 1
        least = np.where(is_word[first] & is_word[second], -APART_PT, TOUCH_PT)
        found = (wide > least) & (high > TOUCH_PT) & (self.runs[first] != self.runs[second])
        return [f"{self._around(a)} on {self._around(b)}" for a, b in zip(first[found], second[found], strict=True)]

    def _side_by_side(self) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
        """Indices (n,) of the two letters of each pair that stand at one height: no other pair can meet."""
        _, bottom, _, top = self.boxes.T
        upwards = np.argsort(bottom, kind="stable")
        # Of the letters that begin higher than one, those that begin below its top.
        others = np.searchsorted(bottom[upwards], top[upwards]) - np.arange(upwards.size) - 1
        others = np.maximum(others, 0)
        lower = np.repeat(np.arange(upwards.size), others)
        higher = lower + 1 + np.arange(lower.size) - np.repeat(np.cumsum(others) - others, others)
        pair = np.sort(upwards[np.stack([lower, higher])], axis=0)
        first, second = pair[:, np.lexsort(pair[::-1])]
        return first, second

    def _around(self, index: int) -> str:
        return f"'{self.letters[max(index - 8, 0) : index + 8]}'"

    def outside(self, margin_pt: float) -> int:
        """How many letters and drawings reach beyond the page less a margin."""
        everything = np.concatenate([self.boxes, self.drawn])
        low, high = everything[:, :2].min(axis=1), (np.array(self.size) - everything[:, 2:]).min(axis=1)
        return int(np.count_nonzero(np.minimum(low, high) < margin_pt))


def pages_of(content: bytes) -> list[Page]:
    """All pages of a PDF."""
    document = pdfium.PdfDocument(content)
    try:
        return [_page(document[number]) for number in range(len(document))]
    finally:
        document.close()


def _page(page: pdfium.PdfPage) -> Page:
    text = page.get_textpage()
    letters = [text.get_text_range(index, 1) for index in range(text.count_chars())]
    places = [
        index for index, one in enumerate(letters)
        if one.strip() and not raw.FPDFText_IsGenerated(text, index)
    ]  # fmt: skip
    boxes = np.array([text.get_charbox(index) for index in places]).reshape(-1, 4)
    pieces = [ctypes.addressof(raw.FPDFText_GetTextObject(text, index).contents) for index in places]
    drawn = [item.get_bounds() for item in page.get_objects(max_depth=1) if item.type != raw.FPDF_PAGEOBJ_FORM]
    return Page(
        size=page.get_size(),
        text=text.get_text_range(),
        letters="".join(letters[index] for index in places),
        boxes=boxes,
        runs=np.unique(pieces, return_inverse=True)[1],
        drawn=np.array(drawn).reshape(-1, 4),
    )
