"""What the year command says when it is done: the best weekends in a line each and the files written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.reports.folding import WIDTH, folded
from pipeline.reports.year_view import months_title, no_weekend, told_weekends, weekend_dates, weekend_figures
from pipeline.wording.year import course_sentence

if TYPE_CHECKING:
    from pipeline.outlook.year import Year


def year_text(year: Year, files: list[Path], width: int = WIDTH) -> str:
    """The whole text; the last line names the file to open."""
    home = year.inputs.home
    lines = [f"{home.call} {home.title}, {months_title(year.months)}, plan {year.number}"]
    sentence = course_sentence(year.course, year.middle_year)
    lines += [sentence] if sentence else []
    told = told_weekends(year)
    if told:
        dates = [weekend_dates(row) for row in told]
        figures = [weekend_figures(row) for row in told]
        across, along = max(map(len, dates)), max(map(len, figures))
        lines += ["", "Best weekends, by the contacts to expect within everybody's hours:"]
        for row, date, figure in zip(told, dates, figures, strict=True):
            lines.append(f"  {row['rank']:2}  {date:{across}}  {figure:{along}}  {row['partners'] or 'nobody'}")
    else:
        lines += ["", f"No weekend that could be used. {no_weekend(year)}"]
    lines += ["", f"Written: {', '.join(file.name for file in files)} in {files[0].parent}", f"Open: {files[0]}"]
    return folded("\n".join(lines), width)
