"""From the comparison of log and predictions to corrections of stations: one lesson a band.

Learning always starts from the station files: corrections that stood in the predictions are taken out first, so that
reviewing a log again gives the same.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.inputs.modes import Mode
from pipeline.pairs.assumed import presence_believed
from pipeline.pairs.corrections import SIDE_VARIANCE_DB2, correction_of, receive_db, transmit_db
from pipeline.record.inputs import Inputs
from pipeline.record.log_entry import LogEntry
from pipeline.record.model import Correction
from pipeline.review.compare import compare
from pipeline.review.learning import Before, Learnt, learn
from pipeline.review.likelihood import Attempts, luck_db, trust
from pipeline.review.periods import Periods

FloatArray = npt.NDArray[np.float64]

# Of a mode that the table does not know: minutes taken in turn, two decodes each way.
USUAL_MODE = Mode(mode="?", period_s=60.0, tone_spacing_hz=50.0, needed_snr_db=0.0, messages=4)
TWO_MINUTES = dt.timedelta(minutes=2)
# The Moon sets within the two minutes: at the edge of a horizon anything may be (judgement).
SET_MEANWHILE_DB = 6.0
# A correction is worth a line where it takes a twentieth at least off the doubt about one side.
WORTH_KEEPING = 0.95
# Presence is worth a line where it moved by so much, or where so many slots stand behind it.
PRESENCE_MOVED, SLOTS_ENOUGH = 0.04, 4.0
# A log of so many contacts and no failure tells contacts only, where the predictions hold two failures at least to be
# due: that they came about then says nothing, only their reports do (judgement).
ONLY_CONTACTS_FROM, FAILURES_DUE = 6, 2.0
# An attempt before noon belongs to the evening before.
HALF_DAY = dt.timedelta(hours=12)


@dataclass(frozen=True)
class Lesson:
    """What one band's attempts teach: `calls` are home and the partners met, in the order of `learnt`.

    `untold` are stations of which the attempts leave as much doubt as there was before.
    """

    band: str
    calls: tuple[str, ...]
    learnt: Learnt
    corrections: tuple[Correction, ...]
    untold: tuple[str, ...]
    reports: int
    attempts: int


def compared(entries: Sequence[LogEntry], inputs: Inputs) -> pd.DataFrame:
    """The comparison, and how much each prediction changes within two minutes.

    Columns `two_minutes_at_partner_db`, `two_minutes_at_home_db`: near a horizon decibels a minute, and a log's time is
    that of one minute of a contact that took many.
    """
    table = compare(entries, inputs)
    later = compare([replace(one, time_utc=one.time_utc + TWO_MINUTES) for one in entries], inputs)
    changes = {}
    for end in ("partner", "home"):
        change = (later[f"predicted_snr_at_{end}_db"] - table[f"predicted_snr_at_{end}_db"]).abs()
        changes[f"two_minutes_at_{end}_db"] = change.fillna(SET_MEANWHILE_DB)
    return table.assign(**changes)


def used_rows(comparison: pd.DataFrame) -> pd.DataFrame:
    """The attempts that can be learnt from."""
    return comparison[comparison["used"].astype(bool)].reset_index(drop=True)


def lessons_of(comparison: pd.DataFrame, inputs: Inputs) -> tuple[Lesson, ...]:
    """One lesson for each band in the log, in the order of the log; none where nothing is used."""
    rows = used_rows(comparison)
    bands = list(dict.fromkeys(rows["band"]))
    made = [_lesson(rows[rows["band"] == band].reset_index(drop=True), inputs, band) for band in bands]
    return tuple(one for one in made if one.corrections)


def attempts_of(rows: pd.DataFrame, inputs: Inputs, band: str, calls: list[str]) -> Attempts:
    """The rows as the likelihood takes them, as if no correction had stood in the predictions."""
    in_force = {call: correction_of(inputs, call, band) for call in calls}
    home = in_force[calls[0]]
    there = np.array([transmit_db(home) + receive_db(in_force[call]) for call in rows["call"]], dtype=float)
    here = np.array([transmit_db(in_force[call]) + receive_db(home) for call in rows["call"]], dtype=float)
    modes = [_mode(inputs, name) for name in rows["mode"]]
    slots_s = 60.0 * _numbers(rows["slot_minutes"])
    needed = np.array([(mode.messages + 1) // 2 for mode in modes], dtype=np.int64)
    tries = (slots_s // np.array([2.0 * mode.period_s for mode in modes])).astype(np.int64)
    return Attempts(
        partner=np.array([calls.index(call) for call in rows["call"]], dtype=np.int64),
        residual_at_partner_db=_numbers(rows["residual_at_partner_db"]) + there,
        residual_at_home_db=_numbers(rows["residual_at_home_db"]) + here,
        margin_at_partner_db=_numbers(rows["margin_at_partner_db"]) - there,
        margin_at_home_db=_numbers(rows["margin_at_home_db"]) - here,
        completed=rows["completed"].to_numpy(dtype=bool),
        heard=_numbers(rows["heard"]),
        doubt_at_partner_db=_numbers(rows["two_minutes_at_partner_db"]),
        doubt_at_home_db=_numbers(rows["two_minutes_at_home_db"]),
        tries=np.maximum(tries, needed),
        needed=needed,
        evening=np.array(
            [(when.astimezone(inputs.zone) - HALF_DAY).toordinal() for when in rows["time_utc"]], dtype=int
        ),
        silent=rows["silent"].to_numpy(dtype=bool),
        absent=rows["absent"].to_numpy(dtype=bool),
        chosen=np.full(len(rows), tells_contacts_only(rows)),
        periods=periods_of(rows),
    )


def periods_of(rows: pd.DataFrame) -> Periods:
    """Periods tried and heard of the rows, the way to the partner first."""
    tried, heard = (
        np.stack([rows[f"periods_{what}_at_{end}"].to_numpy(dtype=float) for end in ("partner", "home")])
        for what in ("tried", "heard")
    )
    guessed = np.stack([rows[f"guessed_at_{end}"].to_numpy(dtype=bool) for end in ("partner", "home")])
    return Periods(tried, heard, guessed)


def tells_contacts_only(rows: pd.DataFrame) -> bool:
    """Whether a log holds contacts alone although some attempts should have failed."""
    if len(rows) < ONLY_CONTACTS_FROM or not rows["completed"].all():
        return False
    return float((1.0 - rows["predicted_chance"].to_numpy(dtype=float)).sum()) >= FAILURES_DUE


def _numbers(column: pd.Series) -> FloatArray:
    """Floats with NaN for what is missing; True is 1 and False 0."""
    return np.array([np.nan if pd.isna(value) else float(value) for value in column], dtype=float)


def _mode(inputs: Inputs, name: str) -> Mode:
    return next((mode for mode in inputs.modes if mode.mode == name), USUAL_MODE)


def _lesson(rows: pd.DataFrame, inputs: Inputs, band: str) -> Lesson:
    calls = [inputs.home.call, *dict.fromkeys(rows["call"])]
    attempts = attempts_of(rows, inputs, band, calls)
    places = {station.call: place for place, station in enumerate(inputs.partners)}
    believed = [inputs.season.policy.presence, *(presence_believed(inputs, places[call]) for call in calls[1:])]
    learnt = learn(attempts, len(calls), Before(presence=np.array(believed)))
    given = np.isfinite(attempts.residual_at_partner_db).astype(int) + np.isfinite(attempts.residual_at_home_db)
    corrections, untold = [], []
    for index, call in enumerate(calls):
        if min(learnt.side(index, receive)[1] for receive in (False, True)) > WORTH_KEEPING * SIDE_VARIANCE_DB2**0.5:
            untold.append(call)
            if not _tells_presence(learnt, index, believed[index]):
                continue
        mine = ((attempts.partner == index) | (index == 0)) & ~attempts.silent
        if not mine.any():
            continue
        last = max(stamp for stamp, own in zip(rows["time_utc"], mine, strict=True) if own)
        words = reviewed_words(int(given[mine].sum()), int(mine.sum()), last.date())
        made = _correction(call, band, learnt, index, words)
        if not _tells_presence(learnt, index, believed[index]):
            made = replace(made, presence=None)
        corrections.append(replace(made, tells_sides=call not in untold))
    return Lesson(band, tuple(calls), learnt, tuple(corrections), tuple(untold), int(given.sum()), len(rows))


def _tells_presence(learnt: Learnt, index: int, believed: float) -> bool:
    moved = abs(float(learnt.presence[index]) - believed)
    return moved >= PRESENCE_MOVED or float(learnt.slots[index]) >= SLOTS_ENOUGH


def reviewed_words(reports: int, attempts: int, last: dt.date) -> str:
    """`14 reports in 8 attempts up to 2027-03-28`; by ear a report is no figure."""
    tried = f"{attempts} attempt{'' if attempts == 1 else 's'}"
    if not reports:
        return f"{tried} without a figure up to {last}"
    return f"{reports} report{'' if reports == 1 else 's'} in {tried} up to {last}"


def _correction(call: str, band: str, learnt: Learnt, index: int, words: str) -> Correction:
    (sends, sends_doubt), (hears, hears_doubt) = learnt.side(index, False), learnt.side(index, True)
    # To the digits of the record, so that what is told and what the next plan reads are one.
    return Correction(
        call=call,
        band=band,
        transmit_db=round(sends, 2) + 0.0,
        receive_db=round(hears, 2) + 0.0,
        transmit_uncertainty_db=round(sends_doubt, 2),
        receive_uncertainty_db=round(hears_doubt, 2),
        reviewed=words,
        presence=round(float(learnt.presence[index]), 2),
        evening_db=round(learnt.evening_db, 2),
    )


def residuals_left(comparison: pd.DataFrame, lessons: tuple[Lesson, ...], inputs: Inputs) -> pd.DataFrame:
    """The used rows with what the corrections leave of each residual, and which reports are doubted.

    Of weak signals only lucky periods are reported; what that adds on average is taken off. Columns
    `left_at_partner_db`, `left_at_home_db`, `doubted_at_partner`, `doubted_at_home`.
    """
    rows = used_rows(comparison)
    ends = ("partner", "home")
    left = {f"left_at_{end}_db": np.full(len(rows), np.nan) for end in ends}
    doubted = {f"doubted_at_{end}": np.zeros(len(rows), dtype=bool) for end in ends}
    for lesson in lessons:
        mine = (rows["band"] == lesson.band).to_numpy()
        attempts = attempts_of(rows[mine], inputs, lesson.band, list(lesson.calls))
        sides = lesson.learnt.mean_db.reshape(-1, 2)
        for end, error, residual, margin, doubt in (
            (
                "partner",
                sides[0, 0] + sides[attempts.partner, 1],
                attempts.residual_at_partner_db,
                attempts.margin_at_partner_db,
                attempts.doubt_at_partner_db,
            ),
            (
                "home",
                sides[attempts.partner, 0] + sides[0, 1],
                attempts.residual_at_home_db,
                attempts.margin_at_home_db,
                attempts.doubt_at_home_db,
            ),
        ):
            left[f"left_at_{end}_db"][mine] = residual - error - luck_db(margin, error)
            sound = trust(np.nan_to_num(residual), margin, error, np.hypot(lesson.learnt.scatter_db, doubt))
            doubted[f"doubted_at_{end}"][mine] = np.isfinite(residual) & (sound < 0.5)
    return rows.assign(**left, **doubted)
