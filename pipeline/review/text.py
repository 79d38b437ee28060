"""A review in the terminal: findings with their lines, counts, corrections with uncertainty, what they would change."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.record.attempts import LABEL
from pipeline.record.log_entry import Finding
from pipeline.review.review import Review
from pipeline.review.view import review_page
from pipeline.windows.frames import is_missing, records
from pipeline.wording import formats
from pipeline.wording.corrections import side_words
from pipeline.wording.silences import silence_advice, silence_question


def findings_text(findings: Sequence[Finding]) -> str:
    """One line each, in the order of the log."""
    return "\n".join(str(finding) for finding in findings)


def review_text(review: Review) -> str:
    """What came of the log, then what it teaches."""
    page = review_page(review)
    lines = [*page.summary, page.chances_words, page.learnt_words]
    learnt = [one for lesson in review.lessons for one in lesson.corrections if one.tells_sides]
    if learnt:
        lines += ["", "Against the station files:"]
    lines += [
        f"  {one.call:<10} {one.band:<5} sends {side_words(one.transmit_db, one.transmit_uncertainty_db):>14}   "
        f"hears {side_words(one.receive_db, one.receive_uncertainty_db):>14}   {one.reviewed}"
        for one in learnt
    ]
    if review.earlier:
        lines.append(f"{formats.count(review.earlier, 'attempt')} of earlier reviews, in {LABEL}, count as well.")
    if page.presence_words:
        lines.append(page.presence_words)
    if review.unlogged:
        lines += ["", silence_advice(review.unlogged), *(f"  {silence_question(one)}" for one in review.unlogged), ""]
    if page.untold:
        lines.append(f"Too little is told yet of {formats.listed(list(page.untold))}.")
    if page.look_next:
        lines += ["", *page.look_next]
    lines += _changes(review)
    return "\n".join(lines)


def _changes(review: Review) -> list[str]:
    """Partners whose printed chance in the season's period changes."""
    rows = []
    for row in records(review.prospects):
        if is_missing(row["chance_before"]):
            continue
        before, after = (formats.chance(float(row[f"chance_{name}"])) for name in ("before", "after"))
        if before != after:
            rows.append(f"  {row['partner']:<10} {before} now, {after} with these corrections")
    period = formats.period_title(review.period.first_night, review.period.last_night)
    return ["", f"Best chance of each partner, {period}:", *rows, ""] if rows else [""]
