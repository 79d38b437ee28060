"""`weather`: how often rain, cloud and damp air take the signal at each end, month by month, in an average year."""

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


@app.command(epilog="Example: mutual-moon weather")
def weather(
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    month: Annotated[str | None, typer.Option(help="A month instead of the season's: 2027-03.")] = None,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Write HTML and the table, no PDF.")] = False,
) -> None:
    """Says how often rain, cloud and damp air take the signal at each end, by month, from the ITU-R maps."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.outlook.weather import make_weather
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.pdf import PdfUnavailable
    from pipeline.reports.weather_pages import weather_text, write_weather
    from pipeline.windows.span import span_of

    inputs = read(season, month)
    tell_warnings(inputs)
    try:
        made = make_weather(inputs, span_of(inputs, utc_today()), tell)
        tell("Pages")
        files = write_weather(made, out, with_pdf=makes_pdf(no_pdf))
    except (EphemerisUnavailable, PdfUnavailable, OutputBlocked) as problem:
        stop(str(problem))
    say(weather_text(made, files, text_width()))
    if not made.stations:
        raise typer.Exit(NOTHING_FOUND)
