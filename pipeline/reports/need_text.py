"""What the need command says when it is done: nights, the least that does, a decibel's worth, and the files written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.reports.folding import WIDTH, folded, in_columns
from pipeline.reports.leaflet import written_lines
from pipeline.reports.need_view import NeedView, need_view

if TYPE_CHECKING:
    from pipeline.need.need import Need


def need_text(need: Need, files: list[Path], width: int = WIDTH) -> str:
    """The whole text; the last line names the file to open. Changes to try stand between backquotes."""
    view = need_view(need)
    lines = [f"{view.heading}: {view.subtitle}, plan {view.number}", "", view.nights]
    lines += [view.named] if view.named else []
    lines += ["", *_least(view)] if view.reaches else []
    lines += ["", "Other modes:", *(f"  {line}" for line in view.modes)] if view.modes else []
    lines += ["", *view.decibel] if view.reaches else []
    lines += ["", f"{view.roster_title}, at whatever hour:", *(f"  {call:8}{words}" for call, words, *_ in view.roster)]
    lines += ["", *view.assumed[:-1]] if view.assumed[:-1] else []
    lines += ["", *written_lines(files)]
    lines += [f"To see the agenda with one: `plan --what-if {view.tries[0]}`"] if view.tries else []
    return folded("\n".join(lines), width)


def _least(view: NeedView) -> list[str]:
    """The least that does, a figure a line."""
    head = ("", "", "now", *view.reach_heads)
    rows = [head, *((row.whose, row.figure, row.now, row.workable, row.strong) for row in view.reaches)]
    return in_columns(rows)
