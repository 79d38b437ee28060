"""What the year command says when it is done: the best weekends in a line each and the files written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.reports.folding import WIDTH, folded
from pipeline.reports.leaflet import written_lines
from pipeline.reports.year_view import months_title
from pipeline.reports.year_weekends_view import no_weekend, row_noun, told_weekends, weekend_dates
from pipeline.wording import formats
from pipeline.wording.year import course_sentence, with_whom

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
        across = max(map(len, dates))
        lines += ["", f"Best {row_noun(year)}s, by the contacts to expect within everybody's hours:"]
        lines += [f"      {'nights named':{across}}  contacts  if free  with whom, most certain first"]
        for row, partners, date in zip(told, year.weekend_partners, dates, strict=False):
            contacts, free = (formats.contacts(float(row[name])) for name in ("contacts_expected", "contacts_if_free"))
            calls = with_whom([partner.call for partner in partners])
            lines.append(f"  {row['rank']:2}  {date:{across}}  {contacts:>8}  {free:>7}  {calls}")
    else:
        lines += ["", f"No {row_noun(year)} that could be used. {no_weekend(year)}"]
    lines += ["", *written_lines(files)]
    return folded("\n".join(lines), width)
