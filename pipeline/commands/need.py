"""`need`: what it would take to work a partner, at either end, and what a decibel is worth."""

from __future__ import annotations

from typing import Annotated

import typer

from pipeline.commands.common import (
    DEFAULT_OUT,
    DEFAULT_SEASON,
    NOTHING_FOUND,
    OutFolder,
    SeasonFile,
    advised,
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


@app.command(epilog="Example: mutual-moon need QF4LUM")
def need(
    partner: Annotated[str, typer.Argument(metavar="CALL", help="Call of the partner.")],
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    month: Annotated[str | None, typer.Option(help="A month instead of the season's: 2027-03.")] = None,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Write HTML and tables, no PDF.")] = False,
) -> None:
    """Says which dish, power, noise figure or mode at either end would make a partner workable or strong."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.letters.answers import partner_call
    from pipeline.letters.offered import AnswerFault
    from pipeline.need.need import make_need
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.need_pages import write_need
    from pipeline.reports.need_text import need_text
    from pipeline.reports.pdf import PdfUnavailable
    from pipeline.windows.span import span_of

    inputs = read(season, month)
    tell_warnings(inputs)
    try:
        call = partner_call(inputs, partner)
        made = make_need(inputs, call, span_of(inputs, utc_today()), tell)
        tell("Pages")
        files = write_need(made, out, with_pdf=makes_pdf(no_pdf))
    except (AnswerFault, EphemerisUnavailable, PdfUnavailable, OutputBlocked) as problem:
        stop(str(problem))
    say(advised(need_text(made, files, text_width()), season, out, month))
    if not made.windows:
        raise typer.Exit(NOTHING_FOUND)
