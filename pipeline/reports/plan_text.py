"""What the plan command says when it is done: partner by partner, the best nights, and the file to open.

From the plan's tables; plain text, folded to the terminal.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.agenda.notes import KeptAsAgreed
from pipeline.agenda.spares import starts_before
from pipeline.pairs.assumed import assumed_figures, skyline_is_assumed
from pipeline.record.model import MADE
from pipeline.reports.folding import WIDTH, folded
from pipeline.reports.learnt import rests_on
from pipeline.windows.frames import as_date, is_missing, records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.absences import partner_absence_words
from pipeline.wording.agenda import note_words, only_if_words, reserve_words, slot_words, worked_words
from pipeline.wording.assumed import (
    SKYLINE_UNKNOWN,
    equipment_assumed_words,
    hours_assumed_words,
    no_best_night_words,
    own_assumed_words,
    own_hours_assumed_words,
    skylines_assumed_words,
    sun_hours_words,
)
from pipeline.wording.corrections import counted_words
from pipeline.wording.nights import month_sentence, night_words
from pipeline.wording.no_windows import no_window_words
from pipeline.wording.remedies import typed_changes
from pipeline.wording.sites import places_words, siting_words
from pipeline.wording.terrain import terrain_words

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan
    from pipeline.windows.no_window import NoWindow

BEST_NIGHTS = 3


def plan_text(made: Plan, files: list[Path], folder: Path, width: int = WIDTH) -> str:
    """The whole text; the last line names the file to open, `folder` is the period's."""
    home, period = made.inputs.home, made.period
    call_width = max(len(station.call) for station in made.inputs.partners)
    nights = f"nights of {period.first_night} to {period.last_night}"
    if period.first_night == period.last_night:
        nights = f"night of {period.first_night}"
    begun = "" if made.inputs.planned_from is None else f", planned from {made.inputs.planned_from}"
    lines = [f"{home.call} {places_words(made.inputs)}, {nights}{begun}, plan {made.number}", ""]
    lines += [
        _partner_line(made, row, no_window, call_width)
        for row, no_window in zip(records(made.partners), made.no_windows, strict=True)
    ]
    assumed = _assumed_lines(made)
    lines += ["", *(f"  {line}" for line in assumed)] if assumed else []
    if len(made.agenda):
        lines += ["", *_agenda_lines(made)]
    elif not made.windows.empty:
        worth = month_sentence(made.nights, made.inputs.planned_from)
        lines += ["", f"Best nights ({worth.rstrip('.').lower()}):"]
        each = zip(records(made.nights), made.night_facts, strict=True)
        ahead = [night for night in each if not made.inputs.is_past(as_date(night[0]["night"]))]
        best = sorted(ahead, key=lambda night: night[0]["rank"])[:BEST_NIGHTS]
        lines += [f"  {formats.day(as_date(row['night']))}  {night_words(facts)}" for row, facts in best]
    rooms = dict.fromkeys(file.relative_to(folder).parts[0] for file in files)
    lines += ["", f"Written: {len(files)} files in {folder}: {', '.join(rooms)}", f"Open: {files[0]}"]
    return folded("\n".join(lines), width)


def _assumed_lines(made: Plan) -> list[str]:
    """A line each for what no file states, with whom to ask, and for what counts beside the files."""
    inputs = made.inputs
    skyline = inputs.season.policy.assumed_skyline
    unknown = [one.call for one in inputs.partners if skyline_is_assumed(one)]
    figures = {
        station.call: figures
        for station, band in zip(inputs.partners, inputs.bands, strict=True)
        if (figures := assumed_figures(station, band))
    }
    lines = (
        own_hours_assumed_words(inputs.home.file) if inputs.home.available is None else "",
        *own_assumed_words(inputs.home, dict.fromkeys(inputs.bands), skyline.nine_in_ten_deg),
        hours_assumed_words([one.call for one in inputs.partners if one.available is None and one.time_zone]),
        *sun_hours_words(inputs.partners),
        skylines_assumed_words(unknown, skyline.nine_in_ten_deg),
        equipment_assumed_words(figures),
        terrain_words((inputs.home, *inputs.partners)),
        counted_words(*rests_on(inputs)),
    )
    return [line for line in lines if line]


def _agenda_lines(made: Plan) -> list[str]:
    """A line a slot, in home's time, and why whom is left out."""
    rows = records(made.agenda)
    ahead = [row for row in rows if not row["slot_outcome"]]
    nights = len({as_date(row["night"]) for row in ahead})
    head = f"{formats.count(len(ahead), 'slot')} on {formats.count(nights, 'night')}" if ahead else "no slot to come"
    if ahead:
        head += f", about {made.contacts_expected:.1f} contacts" + ("" if len(ahead) == len(rows) else " to come")
    width = max(len(row["partner"]) for row in rows)
    lines, firsts = [f"Agenda, {head}, local time ({_clock_words(made)}):"], starts_before(rows, made.inputs.wishes)
    for row in rows:
        edges = as_instant(row["slot_start_utc"]), as_instant(row["slot_end_utc"])
        when = formats.slot_span(*edges, made.zone)
        line = f"  {when:24}  {row['partner']:{width}}  chance {_chance(made, row['chance']):11}  {slot_words(row)}"
        unknown = skyline_is_assumed(made.inputs.partner(row["partner"])) and not row["slot_outcome"]
        spare = only_if_words(firsts.get((row["partner"], row["label"])), edges[0], made.zone)
        lines.append(", ".join(filter(None, (line, spare, SKYLINE_UNKNOWN if unknown else ""))))
    # What was agreed and breaks a rule by now is to be asked about before anything is set up for it.
    lines += [f"  {note_words(note)}" for note in made.agenda_notes if isinstance(note, KeptAsAgreed)]
    lines += [f"  {words}" for words in siting_words(made.inputs, made.nights_with_slots, made.siting)]
    lines += [f"  {reserve_words(reserve)}" for reserve in made.reserves]
    home, each = made.inputs.home.call, zip(made.inputs.partners, made.absences, made.no_windows, strict=True)
    limits = made.inputs.season.policy.outcome_thresholds.limits
    for station, absence, no_window in each:
        if absence is not None and no_window is None:
            head = f"{'for' if absence.has else 'no slot for'} {station.call}"
            lines.append(f"  {head}: {partner_absence_words(absence, home, station.call, made.zone, limits)}")
            if absence.tried is not None:
                lines.append(f"  to see it: plan {typed_changes(absence.tried.change)}")
    return lines


def _contacts_made(made: Plan, call: str) -> list[dt.date]:
    """The dates by home's clock on which a partner was worked."""
    rows = made.agenda[(made.agenda["partner"] == call) & (made.agenda["slot_outcome"] == MADE)]
    return [as_instant(start).astimezone(made.zone).date() for start in rows["slot_start_utc"]]


def _clock_words(made: Plan) -> str:
    """`Pacific/Auckland, UTC+13`: home's zone and how far its clock is from UTC, `later` another where it changes."""
    starts = [as_instant(row["slot_start_utc"]).astimezone(made.zone) for row in records(made.agenda)]
    offsets = dict.fromkeys(formats.offset(start.utcoffset()) for start in sorted(starts))
    return f"{made.inputs.home.time_zone}, {', later '.join(offsets)}"


def _chance(made: Plan, chance: float) -> str:
    return formats.chance(float(chance), made.inputs.season.policy.outcome_thresholds.limits)


def _partner_line(made: Plan, row: dict[str, Any], no_window: NoWindow | None, call_width: int) -> str:
    head = f"{row['partner']:{call_width}}  "
    if no_window is not None:
        return f"  {head}no window: {no_window_words(no_window, made.inputs.home.call, row['partner'])}"
    counted = f"{formats.count(int(row['windows']), 'window'):10}  {row['hours']:5.1f} h"
    if not made.windows.loc[made.windows["partner"] == row["partner"], "mode"].astype(bool).any():
        return f"  {head}{counted}   no mode in common with home"
    if made.is_worked(row["partner"]):
        return f"  {head}{counted}   {worked_words(_contacts_made(made, row['partner']))}"
    if is_missing(row["best_night"]):
        nights = made.windows.loc[made.windows["partner"] == row["partner"], "night"]
        if all(made.inputs.is_past(as_date(night)) for night in nights):
            return f"  {head}{counted}   all of it past"
        heard = any(row["partner"] in calls.split() for calls in made.nights["partners_heard"])
        return f"  {head}{counted}   {no_best_night_words(heard)}"
    best = formats.day(as_date(row["best_night"]))
    return f"  {head}{counted}   best night {best}, chance {_chance(made, row['chance'])}"
