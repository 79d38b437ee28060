"""`sites`: where to set up: home's sites night by night, a month at each, and the best choice of a site a night."""

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
    tell_notes,
    typed,
    utc_today,
)
from pipeline.commands.console import text_width

EXAMPLE = "sites: {quarry: {position: {locator: GF25cl}, hours_to_get_there: 0.5}}"


@app.command(epilog="Example: mutual-moon sites --month 2027-03")
def sites(
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    month: Annotated[str | None, typer.Option(help="Compare over this month instead of the season's: 2027-03.")] = None,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Write HTML and table, no PDF.")] = False,
) -> None:
    """Compares home's sites: contacts night by night, hours lost to each skyline, the best choice and why."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.outlook.sites import NoSites, make_sites
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.pdf import PdfUnavailable
    from pipeline.reports.sites_pages import sites_text, write_sites
    from pipeline.windows.nights import NoNight

    inputs = read(season, month)
    tell_notes(inputs, season)
    try:
        made = make_sites(inputs, utc_today(), tell)
        tell("Pages")
        files = write_sites(made, out, with_pdf=makes_pdf(no_pdf))
    except NoSites:
        stop(
            f"{inputs.home.file}: home has no sites to compare; name other places below `sites`, for instance "
            f"`{EXAMPLE}`. {typed('new FOLDER')} lays out a file with every key explained."
        )
    except (EphemerisUnavailable, NoNight, PdfUnavailable, OutputBlocked) as problem:
        stop(str(problem))
    say(sites_text(made, files, text_width()))
    if not made.choice.slots:
        raise typer.Exit(NOTHING_FOUND)
