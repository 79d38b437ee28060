"""One review: logs and inputs to comparison, corrections, honesty and what the corrections would change.

Nothing is read or written here, and no clock is asked: the log's last attempt dates the review.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import pandas as pd

from pipeline.pairs.mode_choice import pair_mode
from pipeline.pairs.outcomes import NO_WINDOW
from pipeline.pairs.survey import make_survey
from pipeline.record.attempts import LABEL, together
from pipeline.record.corrections_writing import merged
from pipeline.record.inputs import Inputs
from pipeline.record.log_entry import Finding, LogEntry
from pipeline.record.model import AGENDA, FOLDER, RAINED, Correction
from pipeline.record.outcomes import KnownSlot
from pipeline.record.silence import agreed_slots, entry_of_slot, outcome_noted, unlogged
from pipeline.review.calibration import Honesty, Trend, honesty_of, trends_of
from pipeline.review.corrections import HALF_DAY, Lesson, compared, lessons_of, residuals_left, used_rows
from pipeline.windows.span import Span, month_after, plan_number


@dataclass(frozen=True)
class Review:
    """All that the report is made of. `corrections` is the whole record as it would be written.

    `known_before`: the record has learnt from these attempts already, so that predictions are those of the files alone.
    `learnt_from` are the attempts behind it: those of the logs that could be compared and those of earlier reviews.
    `used` are the logs' own, `logged` all that they hold. `unlogged` are agreed slots in the logs' time of which nobody
    has said how they went; they stand among `learnt_from` as silent entries.
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
    unlogged: tuple[KnownSlot, ...] = ()
    logged: tuple[LogEntry, ...] = ()

    @property
    def first(self) -> dt.date:
        """Date of the first attempt used, UTC."""
        return min(self.used["time_utc"]).date()

    @property
    def last(self) -> dt.date:
        """Date of the last attempt used, UTC."""
        return max(self.used["time_utc"]).date()


@dataclass(frozen=True)
class Silences:
    """Agreed slots without a line in a log: those that nobody has answered for, all as entries, those lost to rain."""

    slots: tuple[KnownSlot, ...] = ()
    entries: tuple[LogEntry, ...] = ()
    rained: tuple[KnownSlot, ...] = ()

    def answers(self, entry: LogEntry) -> bool:
        """Whether a silence that was remembered has turned out to be rain."""
        return entry.silent and any(
            (one.partner, one.start_utc) == (entry.call, entry.slot_start_utc) for one in self.rained
        )


def silences_of(entries: Sequence[LogEntry], inputs: Inputs, planned: Sequence[KnownSlot], said: str) -> Silences:
    """The silences of these logs, given the slots of the plan; `said` is how all went of which the record is silent."""
    record = inputs.record
    found = unlogged(entries, agreed_slots(record, planned))
    known = [one for one in found if one.partner in {station.call for station in inputs.partners}]
    told = {one: outcome_noted(record, one) or said for one in known}
    made = [_entry(inputs, slot, outcome) for slot, outcome in told.items()]
    return Silences(
        slots=tuple(slot for slot, outcome in told.items() if not outcome),
        entries=tuple(one for one in made if one is not None),
        rained=tuple(slot for slot, outcome in told.items() if outcome == RAINED),
    )


def _entry(inputs: Inputs, slot: KnownSlot, outcome: str) -> LogEntry | None:
    place = inputs.place_of(slot.partner)
    mode = pair_mode(inputs, inputs.partners[place], inputs.bands[place])
    return entry_of_slot(slot, outcome, inputs.bands[place], mode.mode if mode else "", f"{FOLDER}/{AGENDA}")


class NothingToReview(Exception):
    """No record of the logs can be compared; the text is one sentence for the user."""


def make_review(
    entries: Sequence[LogEntry],
    findings: Sequence[Finding],
    inputs: Inputs,
    progress: Callable[[str], None] | None = None,
    remembered: Sequence[LogEntry] = (),
    silences: Silences | None = None,
) -> Review:
    """The review of all entries; `remembered` are those of earlier reviews, which teach as well, and so do silences.

    Raises NothingToReview where no entry can be used and EphemerisUnavailable for dates beyond the kernel.
    """
    tell = progress or (lambda _: None)
    tell(f"Predictions of {len(entries)} attempts")
    comparison = compared(entries, inputs) if entries else pd.DataFrame({"used": []})
    # What cannot be compared, a contact over the ground above all, teaches nothing and is not remembered.
    counted = [entry for entry, usable in zip(entries, comparison["used"], strict=True) if usable]
    quiet = silences or Silences()
    every = together([*counted, *quiet.entries], [one for one in remembered if not quiet.answers(one)])
    # What was learnt from these very attempts did not predict them.
    told_before = [one for one in remembered if not one.silent]
    known_before = len(together(counted, told_before)) < len(counted) + len(told_before)
    known_before &= bool(inputs.record.corrections)
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
    earlier = [one for one in every if one.file == LABEL and not one.silent]
    lessons = lessons_of(comparison if len(every) == len(counted) else compared(every, told_by), told_by)
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
        unlogged=quiet.slots,
        logged=tuple(entries),
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
    windows = make_survey(inputs, period, lambda _: None, shifts=False).windows
    best = windows.sort_values("chance", ascending=False, kind="stable").drop_duplicates("partner")
    return {row.partner: (float(row.chance), str(row.outcome)) for row in best.itertuples()}
