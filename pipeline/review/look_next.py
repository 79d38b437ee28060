"""Which stations of a review are worth a look at their equipment, and what to look at: lines for page and terminal.

From the corrections that the review has learnt and the kinds of readings that the record holds.
"""

from __future__ import annotations

from pipeline.record.model import Correction
from pipeline.review.review import Review
from pipeline.wording.worse import look_next

# A side that is off by so much is worth a walk to the dish, if it is off by twice its doubt.
WORTH_A_LOOK_DB, SURE_TWICE = 1.5, 2.0
MOST_LINES = 4


def look_next_lines(review: Review) -> tuple[str, ...]:
    """A line for each station that stands out, the furthest first; none where none does."""
    home, held = review.inputs.home.call, review.inputs.record.measurements
    lines = []
    for one in (correction for lesson in review.lessons for correction in lesson.corrections):
        sends = standing_out(one.transmit_db, one.transmit_uncertainty_db)
        hears = standing_out(one.receive_db, one.receive_uncertainty_db)
        if not one.tells_sides or (sends is None and hears is None):
            continue
        kinds = frozenset(each.what for each in held if (each.call, each.band) == (one.call, one.band))
        lines.append((-furthest(one), look_next(one.call, sends, hears, kinds, one.call == home)))
    return tuple(words for _, words in sorted(lines)[:MOST_LINES])


def standing_out(value_db: float, doubt_db: float) -> float | None:
    """A side's decibels where they are worth a look, else None."""
    return value_db if abs(value_db) >= max(WORTH_A_LOOK_DB, SURE_TWICE * doubt_db) else None


def furthest(one: Correction) -> float:
    """How far the side that is further off is off, dB."""
    return max(abs(one.transmit_db), abs(one.receive_db))
