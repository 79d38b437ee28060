"""What the plan command says when it is done: partner by partner, the best nights, and the file to open.

From the plan's tables; plain text of at most 100 columns.
"""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.planning.reasons import month_sentence
from pipeline.reports import formats
from pipeline.reports.views import as_date, records

if TYPE_CHECKING:
    from pipeline.planning.plan import Plan

WIDTH = 100
BEST_NIGHTS = 3


def plan_text(made: Plan, files: list[Path]) -> str:
    """The whole text; the last line names the file to open."""
    home, period = made.inputs.home, made.period
    call_width = max(len(station.call) for station in made.inputs.partners)
    nights = f"nights of {period.first_night} to {period.last_night}"
    if period.first_night == period.last_night:
        nights = f"night of {period.first_night}"
    lines = [textwrap.fill(f"{home.call} {home.title}, {nights}, plan {made.number}", WIDTH), ""]
    lines += [_partner_line(made, row, call_width) for row in records(made.partners)]
    if not made.windows.empty:
        lines += ["", f"Best nights ({month_sentence(made.nights).rstrip('.').lower()}):"]
        best = sorted(records(made.nights), key=lambda row: row["rank"])[:BEST_NIGHTS]
        lines += [_wrapped(f"{formats.day(as_date(row['night']))}  ", str(row["reason"])) for row in best]
    folders = dict.fromkeys(str(file.parent) for file in files)
    lines += ["", f"Written: {len(files)} files in {' and '.join(folders)}", f"Open: {files[0]}"]
    return "\n".join(lines)


def _partner_line(made: Plan, row: dict[str, Any], call_width: int) -> str:
    head = f"{row['partner']:{call_width}}  "
    if not row["windows"]:
        return _wrapped(head, f"no window: {row['no_window_reason']}")
    counted = f"{formats.count(int(row['windows']), 'window'):10}  {row['hours']:5.1f} h"
    if not made.windows.loc[made.windows["partner"] == row["partner"], "mode"].astype(bool).any():
        return f"  {head}{counted}   no mode in common with home"
    limits = made.inputs.season.policy.outcome_thresholds
    chance = formats.chance(float(row["chance"]), (limits.strong, limits.workable, limits.marginal))
    return f"  {head}{counted}   best {formats.day(as_date(row['best_night']))}, chance {chance}"


def _wrapped(head: str, words: str) -> str:
    indent = " " * (len(head) + 2)
    return textwrap.fill(words, WIDTH, initial_indent=f"  {head}", subsequent_indent=indent)
