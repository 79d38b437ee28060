"""What the plan command says when it is done: partner by partner, the best nights, and the file to open.

From the plan's tables; plain text of at most 100 columns.
"""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.windows.frames import as_date, records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.absences import partner_absence_words
from pipeline.wording.nights import month_sentence, night_words
from pipeline.wording.no_windows import no_window_words
from pipeline.wording.remedies import typed_changes

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan
    from pipeline.windows.no_window import NoWindow

WIDTH = 100
BEST_NIGHTS = 3


def plan_text(made: Plan, files: list[Path], folder: Path) -> str:
    """The whole text; the last line names the file to open, `folder` is the period's."""
    home, period = made.inputs.home, made.period
    call_width = max(len(station.call) for station in made.inputs.partners)
    nights = f"nights of {period.first_night} to {period.last_night}"
    if period.first_night == period.last_night:
        nights = f"night of {period.first_night}"
    lines = [textwrap.fill(f"{home.call} {home.title}, {nights}, plan {made.number}", WIDTH), ""]
    lines += [
        _partner_line(made, row, no_window, call_width)
        for row, no_window in zip(records(made.partners), made.no_windows, strict=True)
    ]
    if len(made.agenda):
        lines += ["", *_agenda_lines(made)]
    elif not made.windows.empty:
        lines += ["", f"Best nights ({month_sentence(made.nights).rstrip('.').lower()}):"]
        each = zip(records(made.nights), made.night_facts, strict=True)
        best = sorted(each, key=lambda night: night[0]["rank"])[:BEST_NIGHTS]
        lines += [_wrapped(f"{formats.day(as_date(row['night']))}  ", night_words(facts)) for row, facts in best]
    rooms = dict.fromkeys(file.relative_to(folder).parts[0] for file in files)
    lines += ["", f"Written: {len(files)} files in {folder}: {', '.join(rooms)}", f"Open: {files[0]}"]
    return "\n".join(lines)


def _agenda_lines(made: Plan) -> list[str]:
    """A line a slot, in home's time, and why whom is left out."""
    rows = records(made.agenda)
    nights = len({as_date(row["night"]) for row in rows})
    expected = float(made.agenda.drop_duplicates(["partner", "operator"])["joint_chance_met"].sum())
    head = f"{formats.count(len(rows), 'slot')} on {formats.count(nights, 'night')}, about {expected:.1f} contacts"
    width = max(len(row["partner"]) for row in rows)
    lines = [f"Agenda, {head}, local time:"]
    for row in rows:
        edges = as_instant(row["slot_start_utc"]), as_instant(row["slot_end_utc"])
        when = formats.slot_span(*edges, made.zone)
        lines.append(f"  {when:24}  {row['partner']:{width}}  chance {_chance(made, row['chance']):10}  {row['state']}")
    home, each = made.inputs.home.call, zip(made.inputs.partners, made.absences, made.no_windows, strict=True)
    limits = made.inputs.season.policy.outcome_thresholds.limits
    for station, absence, no_window in each:
        if absence is not None and no_window is None:
            head = f"{'for' if absence.has else 'no slot for'} {station.call}: "
            why = partner_absence_words(absence, home, station.call, made.zone, limits)
            lines.append(_wrapped(head, why))
            if absence.tried is not None:
                lines.append(f"  to see it: plan {typed_changes(absence.tried.change)}")
    return lines


def _chance(made: Plan, chance: float) -> str:
    return formats.chance(float(chance), made.inputs.season.policy.outcome_thresholds.limits)


def _partner_line(made: Plan, row: dict[str, Any], no_window: NoWindow | None, call_width: int) -> str:
    head = f"{row['partner']:{call_width}}  "
    if no_window is not None:
        return _wrapped(head, f"no window: {no_window_words(no_window, made.inputs.home.call, row['partner'])}")
    counted = f"{formats.count(int(row['windows']), 'window'):10}  {row['hours']:5.1f} h"
    if not made.windows.loc[made.windows["partner"] == row["partner"], "mode"].astype(bool).any():
        return f"  {head}{counted}   no mode in common with home"
    return f"  {head}{counted}   best {formats.day(as_date(row['best_night']))}, chance {_chance(made, row['chance'])}"


def _wrapped(head: str, words: str) -> str:
    indent = " " * (len(head) + 2)
    return textwrap.fill(words, WIDTH, initial_indent=f"  {head}", subsequent_indent=indent)
