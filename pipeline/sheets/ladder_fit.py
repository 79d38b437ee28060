"""How large the words of the ladder sheet can be, so that a page holds them: from how much there is to read.

Heights by the style sheet's own sizes, letters a line by the mean width of a letter; a little too high, never too low.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from pipeline.reports.views import Paper

SIZES_PT = (11.0, 10.4, 9.8, 9.2, 8.6, 8.0, 7.6)
LINE, ROW_WHITE_PT, GAP_PT = 1.18, 1.9, 5.0
# Mean width of a letter as a share of the type's size; some words are bold.
LETTER = 0.43
# The share of the width that the steps take; the rest is the slots'.
STEP_SHARE = 0.28
# Title and table head, the messages with their rule, a line of marks.
HEAD_PT, MESSAGES_LINES, MESSAGES_PT, MARKS_PT = 72.0, 4, 10.0, 15.5


def text_size_pt(rows: Sequence[tuple[str, ...]], mark_lines: int, paper: Paper) -> float:
    """The largest of the sizes at which a page holds its rows (a step and a cell a slot); the smallest where none."""
    room = paper.text_height - HEAD_PT - MARKS_PT * mark_lines - MESSAGES_PT

    def height(size: float) -> float:
        down = MESSAGES_LINES * size * LINE
        for step, *cells in rows:
            widths = [STEP_SHARE * paper.text_width, *[(1 - STEP_SHARE) * paper.text_width / len(cells)] * len(cells)]
            each = [
                math.ceil((len(words) + 2) * LETTER * size / (width - GAP_PT))
                for words, width in zip((step, *cells), widths, strict=True)
            ]
            down += max(each) * size * LINE + ROW_WHITE_PT
        return down

    return next((size for size in SIZES_PT if height(size) <= room), SIZES_PT[-1])
