"""One review: logs and inputs to comparison, corrections, honesty and what the corrections would change.

Nothing is read or written here, and no clock is asked: the log's last attempt dates the review.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import pandas as pd

from pipeline.pairs.outcomes import NO_WINDOW
from pipeline.pairs.survey import make_survey
from pipeline.record.attempts import LABEL, together
from pipeline.record.corrections_writing import merged
from pipeline.record.inputs import Inputs
from pipeline.record.log_entry import Finding, LogEntry
from pipeline.record.model import Correction
from pipeline.review.calibration import Honesty, Trend, honesty_of, trends_of
from pipeline.review.corrections import Lesson, compared, lessons_of, residuals_left, used_rows
from pipeline.windows.span import Span, month_after, plan_number

# An attempt before noon belongs to the evening before.
HALF_DAY = dt.timedelta(hours=12)


@dataclass(frozen=True)
class Review:
    """All that the report is made of. `corrections` is the whole record as it would be written.

    `known_before`: the record has learnt from these attempts already, so that predictions are those of the files alone.
    `learnt_from` are the attempts behind it: those of the logs that could be compared and those of earlier reviews.
    `used` are the logs' own.
    `prospects` has a row a partner: partner, chance_before, chance_after, outcome_before, outcome_after, of the best
    window of `period` (NaN and `no window` where there is none).
    """

    inputs: Inputs
    number: str
    period: Span
    learnt_from: tuple[LogEntry, ...]
    earlier: int
    known_before: bool
    findings: tuple[Finding, ...]
    comparison: pd.DataFrame
    used: pd.DataFrame
    lessons: tuple[Lesson, ...]
    corrections: tuple[Correction, ...]
    honesty: Honesty | None
    trends: tuple[Trend, ...]
    prospects: pd.DataFrame

    @property
    def first(self) -> dt.date:
        """Date of the first attempt used, UTC."""
        return min(self.used["time_utc"]).date()

    @property
    def last(self) -> dt.date:
        """Date of the last attempt used, UTC."""
        return max(self.used["time_utc"]).date()


class NothingToReview(Exception):
    """No record of the logs can be compared; the text is one sentence for the user."""


def make_review(
    entries: Sequence[LogEntry],
    findings: Sequence[Finding],
    inputs: Inputs,
    progress: Callable[[str], None] | None = None,
    remembered: Sequence[LogEntry] = (),
) -> Review:
    """The review of all entries; `remembered` are those of earlier reviews, which teach as well.

    Raises NothingToReview where no entry can be used and EphemerisUnavailable for dates beyond the kernel.
    """
    tell = progress or (lambda _: None)
    tell(f"Predictions of {len(entries)} attempts")
    comparison = compared(entries, inputs) if entries else pd.DataFrame({"used": []})
    # What cannot be compared, a contact over the ground above all, teaches nothing and is not remembered.
    counted = [entry for entry, usable in zip(entries, comparison["used"], strict=True) if usable]
    every = together(counted, remembered)
    # What was learnt from these very attempts did not predict them.
    known_before = len(every) < len(counted) + len(remembered) and bool(inputs.record.corrections)
    told_by = with_corrections(inputs, ()) if known_before else inputs
    if known_before:
        comparison = compared(entries, told_by)
    used = used_rows(comparison)
    if used.empty:
        raise NothingToReview(
            f"none of {len(entries)} records can be compared with a prediction; the findings above say why"
            if entries
            else "the logs hold no attempt with a partner of this season"
        )
    tell("Corrections")
    earlier = [one for one in every if one.file == LABEL]
    lessons = lessons_of(comparison if not earlier else compared(every, told_by), told_by)
    learnt = [one for lesson in lessons for one in lesson.corrections]
    corrections = merged(inputs.record.corrections, learnt)
    left = residuals_left(comparison, lessons, told_by)
    period = period_ahead(inputs, max(used["time_utc"]))
    tell("Chances before and after")
    return Review(
        inputs=inputs,
        number=plan_number(inputs, period),
        period=period,
        learnt_from=every,
        earlier=len(earlier),
        known_before=known_before,
        findings=tuple(findings),
        comparison=comparison,
        used=left,
        lessons=lessons,
        corrections=corrections,
        honesty=honesty_of(used["predicted_chance"].to_numpy(float), used["completed"].to_numpy(bool)),
        trends=trends_of(left),
        prospects=prospects_of(inputs, with_corrections(inputs, corrections), period),
    )


def period_ahead(inputs: Inputs, last: dt.datetime) -> Span:
    """The month after that of the last attempt's evening at home: what the next plan can still change."""
    evening = (last.astimezone(inputs.zone) - HALF_DAY).date()
    first = month_after(evening.replace(day=1))
    return Span(first, month_after(first) - dt.timedelta(days=1), inputs.zone)


def with_corrections(inputs: Inputs, corrections: tuple[Correction, ...]) -> Inputs:
    """The same inputs as if the record held these corrections."""
    return dataclasses.replace(inputs, record=dataclasses.replace(inputs.record, corrections=corrections))


def prospects_of(before: Inputs, after: Inputs, period: Span) -> pd.DataFrame:
    """Chance and outcome word of each partner's best window under both inputs."""
    found = {name: _best_windows(inputs, period) for name, inputs in (("before", before), ("after", after))}
    calls = [one.call for one in before.partners]
    columns: dict[str, list[object]] = {"partner": list(calls)}
    for name, best in found.items():
        columns[f"chance_{name}"] = [best.get(call, (float("nan"), NO_WINDOW))[0] for call in calls]
        columns[f"outcome_{name}"] = [best.get(call, (float("nan"), NO_WINDOW))[1] for call in calls]
    return pd.DataFrame(columns)


def _best_windows(inputs: Inputs, period: Span) -> dict[str, tuple[float, str]]:
    windows = make_survey(inputs, period, lambda _: None).windows
    best = windows.sort_values("chance", ascending=False, kind="stable").drop_duplicates("partner")
    return {row.partner: (float(row.chance), str(row.outcome)) for row in best.itertuples()}
