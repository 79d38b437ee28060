"""`year`: up to two years of weekends by what can be worked, the best ones and why, nights and partners by months."""

from __future__ import annotations

from typing import Annotated

import typer

from pipeline.commands.common import (
    DEFAULT_OUT,
    DEFAULT_SEASON,
    NOTHING_FOUND,
    OutFolder,
    SeasonFile,
    app,
    makes_pdf,
    read,
    say,
    stop,
    tell,
    tell_warnings,
    utc_today,
)
from pipeline.commands.console import text_width


@app.command(epilog="Example: mutual-moon year --months 12")
def year(
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    months: Annotated[int, typer.Option(help="How many months, from the season's first month on.")] = 12,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Write HTML and tables, no PDF.")] = False,
) -> None:
    """Shows a year's weekends by what can be worked, the best ones and why, nights and partners by months."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.outlook.year import MOST_MONTHS, make_year
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.pdf import PdfUnavailable
    from pipeline.reports.year_pages import write_year
    from pipeline.reports.year_text import year_text

    if not 1 <= months <= MOST_MONTHS:
        stop(f"--months is {months}; a number from 1 to {MOST_MONTHS} is meant")
    inputs = read(season, None)
    tell_warnings(inputs)
    try:
        made = make_year(inputs, months, utc_today(), tell)
        tell("Pages")
        files = write_year(made, out, with_pdf=makes_pdf(no_pdf))
    except (EphemerisUnavailable, PdfUnavailable, OutputBlocked) as problem:
        stop(str(problem))
    say(year_text(made, files, text_width()))
    if not made.partner_months["windows"].any():
        raise typer.Exit(NOTHING_FOUND)
