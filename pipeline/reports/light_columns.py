"""Columns that the PDF engine need not find: of lines, told in advance, and of figures, several in one cell.

Where the engine has to find the height of two columns it lays them out eight times; and it pays by the cell.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, groupby

from pipeline.reports import fonts
from pipeline.reports.views import HighCell

FIGURE_SPACE, SPACE = "\N{FIGURE SPACE}", "\N{NO-BREAK SPACE}"
# Between two columns of one cell, ems.
GAP_EM = 0.75


def in_halves(lines: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The lines in their order, so parted that the longer part is as short as it can be; a line alone is the first."""
    lengths = list(accumulate((len(line) for line in lines), initial=0))
    place = min(range(len(lengths)), key=lambda at: (max(lengths[at], lengths[-1] - lengths[at]), -at))
    return tuple(lines[:place]), tuple(lines[place:])


def in_runs(cells: Sequence[HighCell]) -> list[tuple[str, str, int]]:
    """Class, text and columns of a row's cells; neighbours with nothing but a dot are one, with tabs between them."""
    found = []
    for blank, run in groupby(cells, lambda cell: cell.css_class in ("", "dot")):
        if blank:
            texts = [str(cell.text) for cell in run]
            found.append(("dot", "\t".join(texts), len(texts)))
        else:
            found += [(cell.css_class, str(cell.text), 1) for cell in run]
    return found


def set_right(rows: Sequence[Sequence[str]]) -> list[str]:
    """The cells of each row as one text, for a cell that is aligned right: every column ends where it does in all rows.

    To a tenth of an em: blanks of two widths fill the room.
    """
    behind = [max(map(_width_em, column)) + GAP_EM for column in list(zip(*rows, strict=True))[1:]]
    return [row[0] + "".join(map(_filled, row[1:], behind)) for row in rows]


def _filled(words: str, width_em: float) -> str:
    """Words with blanks before them."""
    wide, narrow = (_width_em(blank) for blank in (FIGURE_SPACE, SPACE))
    room = width_em - _width_em(words)
    counts = ((many, round((room - many * wide) / narrow)) for many in range(int(room / wide) + 1))
    many, few = min(counts, key=lambda count: (abs(room - count[0] * wide - count[1] * narrow), count[1]))
    return FIGURE_SPACE * many + SPACE * few + words


def _width_em(words: str) -> float:
    widths = fonts.widths(400)
    return sum(widths.get(letter, fonts.USUAL_WIDTH) for letter in words)
