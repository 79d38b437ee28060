"""How close the lines of the set-up sheet must stand for one page to hold them, from how much there is to print.

Heights by the style sheet's own sizes, letters a line by its mean width of a letter; a little too high, never too low.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.sheets.alignment import LandmarkLine
from pipeline.sheets.setup_steps import StepLine

# Classes of the style sheet, the roomiest first.
USUAL, DENSE, PACKED = SPACINGS = ("", "is-dense", "is-dense is-packed")


@dataclass(frozen=True)
class Amount:
    """What stands on the page: lines of words as printed, and how many rows the tables have."""

    steps: Sequence[StepLine]
    energy: str
    place_notes: str
    checklist: Sequence[str]
    sky_rows: int
    sky_words: Sequence[str]
    shortfalls: int
    marks: Sequence[LandmarkLine]
    bodies: Sequence[tuple[str, str]]
    notes: str
    cautions: Sequence[str]


@dataclass(frozen=True)
class _Sizes:
    """Points of a row of each part, and of what a further line of words in it adds."""

    step: float
    sky: float
    mark: float
    mark_words: float
    caution: float
    head: float
    caution_letters: int


# In the order of SPACINGS.
_SIZES = (
    _Sizes(step=17.5, sky=18.5, mark=24.8, mark_words=5.6, caution=11.7, head=22.5, caution_letters=62),
    _Sizes(step=15.4, sky=15.6, mark=19.0, mark_words=3.2, caution=10.4, head=19.5, caution_letters=66),
    _Sizes(step=14.6, sky=14.4, mark=17.6, mark_words=2.4, caution=9.8, head=17.5, caution_letters=69),
)
_TITLE_PT, _WORDS_PT = 32.0, 11.3
# Letters of a line: a step without and with weekdays before it, the right column, a landmark's name, a line of notes.
_STEP, _STEP_WITH_DAY, _RIGHT, _NAME, _SURE, _NOTE = 60, 53, 50, 22, 30, 122
# A line of the checklist: one column of two beside the sky, of three below it.
_CHECK_ONE, _CHECK_TWO, _CHECK_THREE = 74, 35, 38
ONE_COLUMN = 3


def spacing(amount: Amount, text_height_pt: float) -> str:
    """The roomiest class with which the page holds all; the closest where none does."""
    fits = (name for name, sizes in zip(SPACINGS, _SIZES, strict=True) if _height(amount, sizes) <= text_height_pt)
    return next(fits, PACKED)


def _height(amount: Amount, sizes: _Sizes) -> float:
    left = 13.0 + _steps(amount.steps, sizes) + (3.0 + _WORDS_PT * _lines(amount.energy, 78) if amount.energy else 0.0)
    right = 46.0 + sizes.sky * amount.sky_rows + sum(2.0 + _WORDS_PT * _lines(one, _RIGHT) for one in amount.sky_words)
    right += 32.0 + 17.3 * amount.shortfalls if amount.shortfalls else 0.0
    is_packed = sizes is _SIZES[-1]
    own = _checklist(amount.checklist, sizes, is_packed) + _place_notes(amount.place_notes, is_packed)
    upper = max(left, right) + own if is_packed else max(left + own, right)
    lower = 2 * sizes.head + 34.0 + sum(_mark(one, sizes) for one in amount.marks)
    lower += sum(_body(words, sizes) for _, words in amount.bodies)
    lower += 3.0 + _WORDS_PT * _lines(amount.notes, _NOTE)
    return _TITLE_PT + upper + lower + _cautions(amount.cautions, sizes)


def _steps(steps: Iterable[StepLine], sizes: _Sizes) -> float:
    steps = list(steps)
    letters = _STEP_WITH_DAY if any(" " in one.local for one in steps) else _STEP
    return sum(sizes.step + 12.3 * (_lines(f"{one.title} {one.note}", letters) - 1) for one in steps)


def _checklist(lines: Sequence[str], sizes: _Sizes, is_packed: bool) -> float:
    if not lines:
        return 0.0
    columns, letters = (1, _CHECK_ONE) if len(lines) <= ONE_COLUMN else (2, _CHECK_TWO)
    if is_packed:
        columns, letters = (3, _CHECK_THREE) if len(lines) > 1 else (1, _NOTE)
    heights = [1.6 + _WORDS_PT * _lines(one, letters) for one in lines]
    # A column is as high as its share, and at worst by one line of the list more.
    return sizes.head + sum(heights) / columns + (max(heights) if columns > 1 and len(lines) % columns else 0.0)


def _place_notes(words: str, is_packed: bool) -> float:
    return 4.0 + _WORDS_PT * _lines(words, _NOTE if is_packed else _CHECK_ONE) if words else 0.0


def _mark(mark: LandmarkLine, sizes: _Sizes) -> float:
    words = f"{mark.distance}, {mark.note}"
    return max(sizes.mark, sizes.mark_words + _WORDS_PT * max(_lines(mark.name, _NAME), _lines(words, _SURE)))


def _body(words: str, sizes: _Sizes) -> float:
    return max(sizes.mark, sizes.mark_words + _WORDS_PT * _lines(words, _SURE))


def _cautions(words: Sequence[str], sizes: _Sizes) -> float:
    heights = [2.0 + sizes.caution * _lines(one, sizes.caution_letters) for one in words]
    return sum(heights) / 2 + max(heights, default=0.0) / 4


def _lines(words: str, letters: int) -> int:
    return max(math.ceil(len(words) / letters), 1)
