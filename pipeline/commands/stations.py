"""`new`, `add`, `import`, `check`: station files are laid out, written and looked at."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipeline.commands.common import (
    DEFAULT_SEASON,
    SeasonFile,
    app,
    read,
    retyped,
    say,
    stop,
    tell_notes,
    typed,
    utc_today,
    writing,
)
from pipeline.commands.console import text_width


@app.command(epilog="Example: mutual-moon new my-season")
def new(folder: Annotated[Path, typer.Argument(help="Folder to lay out; made if it is not there.")]) -> None:
    """Lays out a station file with every key explained, and a season file."""
    from pipeline.inputs.writing import new_folder

    files = writing(lambda: new_folder(folder))
    season = next(file for file in files if file.name == "season.yaml")
    add = retyped("add CALL --locator GF25", season)
    say(f"Fill in both, add partners, then plan:\n  {add}\n  {retyped('plan', season)}")


@app.command(epilog="Example: mutual-moon add QF4LUM --locator KP10 --dish-diameter-m 2.4 --power-w 40")
def add(
    call: Annotated[str, typer.Argument(help="The partner's call.")],
    season: SeasonFile = DEFAULT_SEASON,
    locator: Annotated[str | None, typer.Option(help="Maidenhead locator: GF25 or finer.")] = None,
    latitude_deg: Annotated[str | None, typer.Option(help="Latitude, north positive, instead of a locator.")] = None,
    longitude_deg: Annotated[str | None, typer.Option(help="Longitude, east positive.")] = None,
    height_m: Annotated[str | None, typer.Option(help="Height above sea level.")] = None,
    band: Annotated[str | None, typer.Option(help="Band; the season's where left out.")] = None,
    dish_diameter_m: Annotated[str | None, typer.Option(help="Diameter of the dish.")] = None,
    gain_dbi: Annotated[str | None, typer.Option(help="Gain, where it is no dish.")] = None,
    power_w: Annotated[str | None, typer.Option(help="Power at the feed.")] = None,
    noise_figure_db: Annotated[str | None, typer.Option(help="Noise figure of the preamplifier.")] = None,
    polarization: Annotated[str | None, typer.Option(help="horizontal, vertical, rotatable or circular.")] = None,
    mode: Annotated[list[str] | None, typer.Option(help="A mode they have; repeatable.")] = None,
    name: Annotated[str | None, typer.Option(help="Name of the site.")] = None,
    operator: Annotated[str | None, typer.Option(help="Name of the operator.")] = None,
    email: Annotated[str | None, typer.Option(help="Mail address.")] = None,
    time_zone: Annotated[str | None, typer.Option(help="IANA time zone: Europe/Helsinki.")] = None,
    language: Annotated[str | None, typer.Option(help="Language of its letters: de.")] = None,
) -> None:
    """Writes a partner's file from what one learns in a chat."""
    from pipeline.inputs.writing import NewPartner, add_partner

    partner = NewPartner(
        call,
        locator=locator,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        height_m=height_m,
        band=band,
        dish_diameter_m=dish_diameter_m,
        gain_dbi=gain_dbi,
        power_w=power_w,
        noise_figure_db=noise_figure_db,
        polarization=polarization,
        modes=mode or (),
        name=name,
        operator=operator,
        email=email,
        time_zone=time_zone,
        language=language,
    )
    writing(lambda: [add_partner(season.parent, partner)])


@app.command("import", epilog="Example: mutual-moon import roster.csv")
def import_(
    roster: Annotated[Path, typer.Argument(help="CSV: a row a station, columns named like the keys.")],
    season: SeasonFile = DEFAULT_SEASON,
) -> None:
    """Turns a table of stations into station files beside the season file, all or none."""
    from pipeline.inputs.roster import import_roster

    writing(lambda: import_roster(roster, season.parent))


@app.command(epilog="Example: mutual-moon check QF4LUM")
def check(
    call: Annotated[str | None, typer.Argument(help="One station in full; without it all, a line each.")] = None,
    season: SeasonFile = DEFAULT_SEASON,
) -> None:
    """Shows what follows from each station file, and what looks odd in it."""
    from pipeline.explain.explanation import NotPossible
    from pipeline.explain.station_check import check_stations
    from pipeline.reports.plain import check_table_text, station_check_text
    from pipeline.windows.span import span_of
    from pipeline.wording.explain import obstacle_words

    inputs = read(season, None)
    tell_notes(inputs, season)
    period = span_of(inputs, utc_today())
    try:
        checks = check_stations(inputs, period.first_night.month, call)
    except NotPossible as problem:
        stop(obstacle_words(problem.obstacle))
    if call is None:
        say(check_table_text(checks, text_width()))
        say(f"\n{typed('check ' + inputs.home.call)} tells all of one station.")
    else:
        say("\n\n".join(station_check_text(one, text_width()) for one in checks))
