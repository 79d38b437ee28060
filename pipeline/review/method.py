"""The rules of learning for the page: this review's own figures and those that the likelihood takes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.pairs.corrections import SIDE_VARIANCE_DB2
from pipeline.review.calibration import LEVEL, TOLD_FROM
from pipeline.review.corrections import FAILURES_DUE, ONLY_CONTACTS_FROM
from pipeline.review.evenings import WILD_EVENING_SHARE
from pipeline.review.learning import ALL_COUNTS_FOR, MOST_COUNTED, STATION_COUNTS_FOR
from pipeline.review.likelihood import NOT_SO, UNTRIED_SHARE, WILD_SHARE
from pipeline.review.periods import GUESSED_COUNTS_FOR
from pipeline.wording import formats
from pipeline.wording.learnt import Rules, method_paragraphs

if TYPE_CHECKING:
    from pipeline.review.review import Review


def method_words(review: Review) -> tuple[tuple[str, str], ...]:
    """A heading and a paragraph for each rule."""
    learnt = [lesson.learnt for lesson in review.lessons]
    return method_paragraphs(
        Rules(
            side_db=SIDE_VARIANCE_DB2**0.5,
            scatter_db=formats.listed([f"{one.scatter_db:.1f} dB" for one in learnt]),
            evening_db=formats.listed([f"{one.evening_db:.1f} dB" for one in learnt]),
            most_attempts=MOST_COUNTED,
            presence_slots=ALL_COUNTS_FOR,
            partner_slots=(float(STATION_COUNTS_FOR[0]), float(STATION_COUNTS_FOR[-1])),
            untried=UNTRIED_SHARE,
            contacts_from=ONLY_CONTACTS_FROM,
            failures_due=FAILURES_DUE,
            not_so=NOT_SO,
            guessed=GUESSED_COUNTS_FOR,
            wild=WILD_SHARE,
            wild_evening=WILD_EVENING_SHARE,
            level=LEVEL,
            trend_errors=TOLD_FROM,
        )
    )
