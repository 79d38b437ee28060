"""A review in words, as the template prints it: what was tried and worked, how the promises held, what was learnt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from markupsafe import Markup

from pipeline.record.model import Correction
from pipeline.reports.charts import outcome_mark
from pipeline.reports.leaflet import Leaflet
from pipeline.reports.views import PAPERS
from pipeline.review import charts
from pipeline.review.calibration import AGAINST, FEWEST, Step
from pipeline.review.likelihood import luck_db
from pipeline.review.look_next import look_next_lines
from pipeline.review.method import method_words
from pipeline.review.review import Review
from pipeline.windows.frames import is_missing, records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.corrections import side_words
from pipeline.wording.silences import presence_words, share_words, silence_advice, silence_question

LAST_HEADING = "How the corrections are learnt"
GAP = 14.0
# Half a decibel on average, over a season, is worth a sentence.
WORTH_SAYING_DB = 0.5
# What is learnt of a side is told first where it stands so many standard deviations from none, the surest so many.
SURE_FROM, MOST_SURE = 1.5, 3
# One report in twenty is a slip; where a quarter of them are doubted, something else is wrong.
FEW_DOUBTED, DOUBTED_SHARE = 3, 0.25
# A partner's presence is told where it stands so far from that of all.
APART = 0.05
UNITS = {"elevation": "°", "declination": "°", "Doppler spread, Hz": "", "Sun separation": "°"}


@dataclass(frozen=True)
class AttemptRow:
    """One attempt: predicted, reported and difference for each way, in whole decibels."""

    when: str
    call: str
    operator: str
    mode: str
    chance: str
    result: str
    completed: bool
    there: tuple[str, str, str]
    here: tuple[str, str, str]
    degradation: str


@dataclass(frozen=True)
class CorrectionRow:
    """One station: both sides, what they rest on, and what stood in the record before."""

    call: str
    band: str
    sends: str
    hears: str
    rests: str
    before: str


@dataclass(frozen=True)
class ProspectRow:
    """A partner's best window with the record as it stands and with what was learnt, where these differ."""

    call: str
    before: str
    before_mark: Markup
    after: str
    after_mark: Markup


@dataclass(frozen=True)
class ReviewPage(Leaflet):
    """Everything the template prints."""

    heading: str
    subtitle: str
    summary: tuple[str, ...]
    learnt_words: str
    to_do: str
    middle_words: str
    attempts: tuple[AttemptRow, ...]
    unused: int
    operators: bool
    corrections: tuple[CorrectionRow, ...]
    kept: tuple[str, ...]
    untold: tuple[str, ...]
    doubted: bool
    earlier: int
    prospects_title: str
    prospects: tuple[ProspectRow, ...]
    unchanged: tuple[str, ...]
    reports: Markup
    chances: Markup | None
    chances_words: str
    trends: Markup | None
    trend_words: tuple[str, ...]
    presence_words: str
    look_next: tuple[str, ...]
    findings: tuple[str, ...]
    method: tuple[tuple[str, str], ...]


def review_page(review: Review) -> ReviewPage:
    """The words of a review."""
    home = review.inputs.home
    dates = formats.period_title(review.first, review.last)
    bands = formats.listed([formats.band(band) for band in dict.fromkeys(review.used["band"])])
    site = f"{home.call} {formats.short(home.title)}"
    paper = PAPERS[review.inputs.season.report.paper]
    half = (paper.text_width - GAP) / 2.0
    used, prospects = review.used, _prospects(review)
    return ReviewPage(
        title=f"Mutual Moon, review, {dates}, {home.call} {home.title}, {bands}",
        author=home.operator or home.call,
        heading=dates,
        subtitle=f"{site} · {bands} · predictions and corrections for plan {review.number}",
        footer=f"Mutual Moon · review of {dates} · {site} · {bands} · plan {review.number}",
        number=review.number,
        paper=paper,
        dated=review.last,
        last_heading=LAST_HEADING,
        summary=_summary(review),
        learnt_words=_learnt_words(review),
        to_do=_to_do(review),
        middle_words=_middle_words(review),
        attempts=tuple(_attempt(row) for row in records(used)),
        unused=len(review.comparison) - len(used),
        operators=used["operator"].nunique() > 1,
        corrections=_corrections(review),
        kept=_kept(review),
        untold=tuple(call for lesson in review.lessons for call in lesson.untold),
        doubted=bool(used[["doubted_at_partner", "doubted_at_home"]].to_numpy().any()),
        earlier=review.earlier,
        prospects_title=formats.period_title(review.period.first_night, review.period.last_night),
        prospects=prospects,
        unchanged=tuple(call for call in review.prospects["partner"] if call not in {one.call for one in prospects}),
        reports=charts.reports_chart(_given(review, "partner"), _given(review, "home"), half),
        chances=None if review.honesty is None else charts.chances_chart(review.honesty, half),
        chances_words=_chances_words(review),
        trends=_trends(review, paper.text_width),
        trend_words=_trend_words(review),
        presence_words=_presence_words(review),
        look_next=look_next_lines(review),
        findings=(
            *(str(finding) for finding in review.findings),
            *(silence_question(one) for one in review.unlogged),
        ),
        method=method_words(review),
    )


def _given(review: Review, end: str) -> tuple[np.ndarray, np.ndarray]:
    used = review.used
    return used[f"predicted_snr_at_{end}_db"].to_numpy(float), used[f"reported_snr_at_{end}_db"].to_numpy(float)


def _summary(review: Review) -> tuple[str, ...]:
    """What came of it."""
    used = review.used
    done, tried = int(used["completed"].astype(bool).sum()), len(used)
    contacts = formats.count(done, "contact")
    lines = [
        f"{contacts[0].upper()}{contacts[1:]} completed in {formats.count(tried, 'attempt')} with "
        f"{formats.count(used['call'].nunique(), 'partner')}."
    ]
    if review.honesty is not None:
        known = review.honesty
        were = "was" if round(known.expected) == 1 else "were"
        lines.append(f"By the predicted chances {known.expected:.0f} of {known.attempts} {were} to be expected.")
    return tuple(lines)


def _learnt_words(review: Review) -> str:
    """The stations that stand out, the surest first."""
    if not review.lessons:
        return "The log does not teach anything of the stations yet."
    found = [_outstanding(one) for lesson in review.lessons for one in lesson.corrections if one.tells_sides]
    surest = [words for _, words in sorted(found, key=lambda one: -one[0])[:MOST_SURE] if words]
    if not surest:
        return "No station stands out from what its file says."
    return f"Against the files, {formats.listed(surest)}."


def _outstanding(one: Correction) -> tuple[float, str]:
    """How sure the surer side of a station is, and what to say of those that stand out: nothing where none does."""
    told = []
    for verb, value, doubt in (
        ("sends", one.transmit_db, one.transmit_uncertainty_db),
        ("hears", one.receive_db, one.receive_uncertainty_db),
    ):
        if abs(value) >= max(WORTH_SAYING_DB, SURE_FROM * doubt) and doubt > 0.0:
            amount = _better(value, f"{formats.signed(abs(value), 1)} dB")
            told.append((abs(value) / doubt, f"{verb} {amount}"))
    if not told:
        return 0.0, ""
    return max(sure for sure, _ in told), f"{one.call} {' and '.join(words for _, words in told)}"


def _to_do(review: Review) -> str:
    """What is left for the operator: the questions first, then the record."""
    lines = []
    left_out = len({(one.file, one.line) for one in review.findings if not one.used})
    if left_out:
        lines.append(f"Look at the questions first: {formats.count(left_out, 'line')} of the log could not be used.")
    if review.unlogged:
        lines.append(silence_advice(review.unlogged))
    used = review.used
    given = int(used[["residual_at_partner_db", "residual_at_home_db"]].notna().to_numpy().sum())
    doubted = int(used[["doubted_at_partner", "doubted_at_home"]].to_numpy(bool).sum())
    if doubted >= max(FEW_DOUBTED, DOUBTED_SHARE * given):
        lines.append(
            f"{doubted} of {given} reports are far off and were doubted: see whether they are decibels in 2500 Hz, and "
            "whether the files' power and gain are right."
        )
    if review.corrections != review.inputs.record.corrections:
        lines.append("The next plan counts what was learnt once review --apply has put it into the record.")
    elif review.lessons:
        lines.append("The record holds what was learnt; the next plan counts it.")
    return " ".join(lines)


def _middle_words(review: Review) -> str:
    """How the middle report of each way compares, luck of weak signals aside: a wild one does not move it."""
    told = []
    for end, words in (("partner", "by partners"), ("home", "by home")):
        residual = review.used[f"residual_at_{end}_db"].to_numpy(float)
        margin = review.used[f"margin_at_{end}_db"].to_numpy(float)
        off = (residual - luck_db(margin, np.zeros_like(margin)))[np.isfinite(residual)]
        if off.size:
            told.append(f"the middle one of {off.size} {words} is {_middle(float(np.median(off)))}")
    return f"With that taken off, {formats.listed(told)}." if told else ""


def _middle(off_db: float) -> str:
    if abs(off_db) < WORTH_SAYING_DB / 2.0:
        return "as predicted"
    return f"{_better(off_db, formats.decibels_in_words(abs(off_db)))} than predicted"


def _better(off_db: float, amount: str) -> str:
    return f"{amount} {'better' if off_db > 0 else 'worse'}"


def _attempt(row: dict[str, Any]) -> AttemptRow:
    moment = as_instant(row["time_utc"])
    chance = row["predicted_chance"]
    return AttemptRow(
        when=f"{formats.day(moment.date())} {moment:%H:%M}",
        call=str(row["call"]),
        operator=str(row["operator"]),
        mode=str(row["mode"]),
        chance="" if is_missing(chance) else formats.chance(float(chance)),
        result=result_words(row),
        completed=bool(row["completed"]),
        there=_way(row, "partner"),
        here=_way(row, "home"),
        degradation="" if is_missing(row["degradation_db"]) else formats.decibels(row["degradation_db"]),
    )


def result_words(row: dict[str, Any]) -> str:
    """`completed`, `nobody there`, `heard, not completed`, `nothing heard` or `not completed`."""
    if row["completed"]:
        return "completed"
    if row["absent"]:
        return "nobody there"
    if is_missing(row["heard"]):
        return "not completed"
    return "heard, not completed" if row["heard"] else "nothing heard"


def _way(row: dict[str, Any], end: str) -> tuple[str, str, str]:
    values = [row[f"{what}_{end}_db"] for what in ("predicted_snr_at", "reported_snr_at", "residual_at")]
    predicted, reported = ("" if is_missing(value) else formats.signed(float(value), 0) for value in values[:2])
    off = "" if is_missing(values[2]) else formats.signed(float(values[2]), 0, plus=True)
    return predicted, reported, f"? {off}" if row[f"doubted_at_{end}"] else off


def _corrections(review: Review) -> tuple[CorrectionRow, ...]:
    """What this review teaches, against what the record held."""
    known = {(one.call, one.band): one for one in review.inputs.record.corrections}
    return tuple(
        CorrectionRow(
            call=one.call,
            band=formats.band(one.band),
            sends=side_words(one.transmit_db, one.transmit_uncertainty_db),
            hears=side_words(one.receive_db, one.receive_uncertainty_db),
            rests=one.reviewed,
            before=_before(known.get((one.call, one.band)), one),
        )
        for lesson in review.lessons
        for one in lesson.corrections
        if one.tells_sides
    )


def _presence_words(review: Review) -> str:
    """How often partners were there: over all, and those that stand out from it."""
    told = []
    for lesson in review.lessons:
        shares = {one.call: one.presence for one in lesson.corrections if one.presence is not None}
        of_all, band = shares.pop(lesson.calls[0], None), formats.band(lesson.band)
        if of_all is None:
            # Of all together too little is learnt; of whom something was, that stands here.
            told += [f"On {band} {call} was {share_words(share)}." for call, share in shares.items()]
            continue
        others = [f"{call} {share * 100:.0f} %" for call, share in shares.items() if abs(share - of_all) >= APART]
        beside = f" ({formats.listed(others)})" if others else ""
        told.append(f"On {band} {presence_words(of_all)}{beside}.")
    return " ".join(told)


def _before(known: Correction | None, learnt: Correction) -> str:
    if known is None:
        return "none"
    if known == learnt:
        return "the same"
    return f"{formats.signed(known.transmit_db, 1, plus=True)}, {formats.signed(known.receive_db, 1, plus=True)} dB"


def _kept(review: Review) -> tuple[str, ...]:
    """Stations whose corrections in the record this log does not touch."""
    met = {(one.call, one.band) for lesson in review.lessons for one in lesson.corrections}
    return tuple(one.call for one in review.corrections if (one.call, one.band) not in met)


def _prospects(review: Review) -> tuple[ProspectRow, ...]:
    limits = review.inputs.season.policy.outcome_thresholds.limits

    def words(row: dict[str, Any], name: str) -> str:
        chance = row[f"chance_{name}"]
        return "no window" if is_missing(chance) else formats.chance(float(chance), limits)

    return tuple(
        ProspectRow(
            call=str(row["partner"]),
            before=words(row, "before"),
            before_mark=outcome_mark(str(row["outcome_before"])),
            after=words(row, "after"),
            after_mark=outcome_mark(str(row["outcome_after"])),
        )
        for row in records(review.prospects)
        if words(row, "before") != words(row, "after")
    )


def _chances_words(review: Review) -> str:
    known = review.honesty
    if known is None:
        return "No attempt has a predicted chance: their modes are not in the mode table."
    if known.attempts < FEWEST:
        few = formats.count(known.attempts, "attempt")
        return f"{_told_words(review)}{few} cannot tell whether the chances are honest."
    off = [step for step in known.steps if not step.holds]
    verdict = "Every step holds the chance that was told." if not off else f"Outside its interval: {_steps_words(off)}."
    return (
        f"{_told_words(review)}{verdict} Brier score {known.brier:.2f}, "
        f"where always saying the log's own {known.completed} of "
        f"{known.attempts} would get {known.base_rate_brier:.2f}; 0 is perfect."
    )


def _told_words(review: Review) -> str:
    """By what the predictions were made, where a reader could take them for better than they were."""
    if review.known_before:
        return "The record has learnt from this log before; predictions are those of the station files alone. "
    return "Predictions have the record's corrections in them. " if review.inputs.record.corrections else ""


def _steps_words(steps: list[Step]) -> str:
    return formats.listed([f"chances of {step.low * 100:.0f} to {step.high * 100:.0f} %" for step in steps])


def _trends(review: Review, width: float) -> Markup | None:
    trends = tuple(trend for trend in review.trends if trend.x.size)
    if not trends:
        return None
    return charts.trends_chart(trends, tuple(UNITS[trend.name] for trend in trends), width)


def _trend_words(review: Review) -> tuple[str, ...]:
    """A sentence for each trend that chance alone would hardly give; else that there is none."""
    scales = {name: (unit, words) for name, _, unit, words in AGAINST}
    told = []
    for trend in review.trends:
        if trend.told:
            unit, words = scales[trend.name]
            change = f"{formats.signed(trend.slope * unit, 1, plus=True)} ± {trend.error * unit:.1f} dB"
            told.append(f"Reports change by {change} with each {words}: predictions may err there.")
    return tuple(told) or ("None of these bends the reports by more than chance would.",)
