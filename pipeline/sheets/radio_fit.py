"""How large the words of the radio sheet can be, so that a page holds its slots: from how much there is to read.

Heights by the style sheet's own sizes, letters a line by the mean width of a letter; a little too high, never too low.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Protocol

from pipeline.reports.views import Paper

# Points, the largest first: what is dialled has 12 whatever there is to read.
SIZES_PT = (12.0, 11.0, 10.4, 9.8, 9.3, 8.8, 8.3)
# From here down lines and the log stand closer as well.
TIGHT_PT = 8.3
LINE, TIGHT_LINE = 1.26, 1.2
# Mean width of a letter as a share of the type's size.
LETTER = 0.405
# The dial table with and without figures that move on the side of sending, its head and its rows.
TABLE_PT, MOVING_TABLE_PT, TABLE_HEAD_PT, ROW_PT, TIGHT_ROW_PT = 218.0, 252.0, 11.0, 14.0, 13.4
# The slot's head on one line and what a second adds (the rest is in the white around); its log, the white, the title.
HEAD_PT, HEAD_MORE_PT, LOG_PT, TIGHT_LOG_PT, BETWEEN_PT, TITLE_PT = 12.0, 15.0, 27.5, 24.5, 9.5, 66.0
HEAD_LETTERS = 88


class Words(Protocol):
    """A head and its words."""

    @property
    def head(self) -> str: ...
    @property
    def words(self) -> str: ...


class Block(Protocol):
    """What a slot prints, as far as its height goes."""

    @property
    def title(self) -> str: ...
    @property
    def facts(self) -> Sequence[Words]: ...
    @property
    def rows(self) -> Sequence[object]: ...
    @property
    def spots(self) -> Sequence[object]: ...
    @property
    def there(self) -> str: ...
    @property
    def transmit_moves(self) -> bool: ...


def text_size_pt(pages: Sequence[Sequence[Block]], paper: Paper, first_page_words: str = "") -> float:
    """The largest of the sizes with which every page holds its slots; the smallest where none does."""
    above = 4.0 + 12.0 * math.ceil(len(first_page_words) / 110) if first_page_words else 0.0

    def fits(size: float) -> bool:
        heights = [sum(_block_pt(one, size, paper.text_width) for one in page) for page in pages]
        room = paper.text_height - TITLE_PT
        return all(height <= room - (above if number == 0 else 0.0) for number, height in enumerate(heights))

    return next((size for size in SIZES_PT if fits(size)), SIZES_PT[-1])


def _block_pt(slot: Block, size: float, width_pt: float) -> float:
    is_tight = size <= TIGHT_PT
    line = size * (TIGHT_LINE if is_tight else LINE)
    beside = width_pt - (MOVING_TABLE_PT if slot.transmit_moves else TABLE_PT)
    table = TABLE_HEAD_PT + (len(slot.rows) + len(slot.spots)) * (TIGHT_ROW_PT if is_tight else ROW_PT) + 4.0
    down = 0.0
    for words in (*(f"{one.head}  {one.words}" for one in slot.facts), slot.there):
        # Below the dial table the words have the whole width.
        down += _lines(words, beside if down < table else width_pt, size) * line + (1.0 if is_tight else 1.5)
    head = HEAD_PT + (HEAD_MORE_PT if len(slot.title) > HEAD_LETTERS else 0.0)
    return head + max(down, table) + (TIGHT_LOG_PT if is_tight else LOG_PT) + BETWEEN_PT


def _lines(words: str, width_pt: float, size: float) -> int:
    return max(math.ceil(len(words) * LETTER * size / width_pt), 1)
