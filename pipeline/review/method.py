"""How corrections, presence and evenings are learnt, in words, with this review's own figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.review.calibration import LEVEL, TOLD_FROM
from pipeline.wording import formats

if TYPE_CHECKING:
    from pipeline.review.review import Review


def method_words(review: Review) -> tuple[str, ...]:
    """A paragraph each."""
    scatter = formats.listed([f"{lesson.learnt.scatter_db:.1f} dB" for lesson in review.lessons])
    evenings = formats.listed([f"{lesson.learnt.evening_db:.1f} dB" for lesson in review.lessons])
    return (
        "Each way has one error: the sender's sending side plus the listener's receiving side. Before any log each "
        "side is taken as 0 ± 1.4 dB, a station's two sides alike by a half, as the chance takes them. All reports, "
        "contacts and failures together then say what each side most likely is; the figure behind ± is one standard "
        "deviation.",
        "Home's sides come out of what all partners have in common. A few partners tell home from partner poorly: the "
        "sum is then better known than its parts, and the record, which keeps the doubt of each side alone, claims "
        "less than is known.",
        "Only periods that decode are reported, so that reports of weak signals are the lucky ones; this is reckoned "
        "with. A failed attempt counts with care: the other end may not have been there, or something gross was amiss. "
        "How often that is so is learnt too, for all and for each partner; before any log the season's figure counts "
        "for twenty slots, and what all partners have shown for ten of each partner's. An agreed slot without a line "
        "in a log is no contact: nineteen in twenty are taken to have failed until somebody says how they went. "
        "Where a log holds contacts only although failures were due, that they came about says nothing. A "
        "report far from all the others is doubted and loses its weight, and so does one near a horizon, where two "
        "minutes are decibels.",
        "Evenings differ: each station has one term for each, alike for sending and hearing, and now and then one is "
        f"quite another. From the log one station differs by {evenings} from evening to evening; the plan counts that "
        "as doubt on top of what is left of each side.",
        f"Single reports scatter by {scatter} about what was learnt. Corrections are learnt against the station files, "
        "never against earlier corrections. Reviews that were applied keep their attempts in record/attempts.csv, and "
        "later ones learn from these as well; whoever changes a station's equipment deletes its lines.",
        f"In the picture of chances the upright lines are Wilson's intervals of {LEVEL * 100:.0f} %. Of five honest "
        "steps one often lies outside, the more so as attempts with one partner share that partner's errors; two or "
        f"more on the same side are a sign. A trend is told from {TOLD_FROM:g} standard errors.",
    )
