"""`new`, `add`, `import`, `check`: station files are laid out, written and looked at."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from pipeline.commands.asking import asked
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
from pipeline.commands.station_options import (
    Dish,
    Height,
    Latitude,
    Locator,
    Longitude,
    MailAddress,
    OperatorName,
    Power,
    SiteName,
    TimeZone,
)


@app.command(
    epilog="Example: mutual-moon new stations --call QA0NEW --locator JO22oc --dish-diameter-m 1.8 --power-w 40"
)
def new(
    folder: Annotated[Path, typer.Argument(help="Folder to lay out; made if it is not there.")],
    call: Annotated[str | None, typer.Option(help="Your call.")] = None,
    locator: Locator = None,
    latitude_deg: Latitude = None,
    longitude_deg: Longitude = None,
    height_m: Height = None,
    band: Annotated[str | None, typer.Option(help="Band; 3cm where left out.")] = None,
    dish_diameter_m: Dish = None,
    power_w: Power = None,
    name: SiteName = None,
    operator: OperatorName = None,
    email: MailAddress = None,
    time_zone: TimeZone = None,
) -> None:
    """Lays out a station file with every key explained, and a season; on a terminal asks for what is missing."""
    from pipeline.inputs.laying_out import NewHome, new_folder, with_zone

    home = NewHome(
        call,
        locator=locator,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        height_m=height_m,
        dish_diameter_m=dish_diameter_m,
        power_w=power_w,
        operator=operator,
        email=email,
        name=name,
        time_zone=time_zone,
        band=band,
    )
    if sys.stdin.isatty() and sys.stderr.isatty() and not folder.exists():
        home = asked(home)
    placed = with_zone(home)
    files = writing(lambda: new_folder(folder, placed))
    if placed.time_zone != home.time_zone:
        say(f"time_zone is taken to be {placed.time_zone}, by the place; change it in {files[0]} if it is another")
    season = files[1]
    fill = f"Fill in {files[0]}" if home.is_empty else f"Look through {files[0]}"
    steps = [retyped(step, season) for step in ("check", "add CALL --locator GF25", "plan")]
    lines = [f"{fill}, name the months in {season}, then look at it, add partners and plan:", *steps]
    say("\n  ".join(lines))


@app.command(epilog="Example: mutual-moon add QF4LUM --locator KP10 --dish-diameter-m 2.4 --power-w 40")
def add(
    call: Annotated[str, typer.Argument(help="The partner's call.")],
    season: SeasonFile = DEFAULT_SEASON,
    locator: Locator = None,
    latitude_deg: Latitude = None,
    longitude_deg: Longitude = None,
    height_m: Height = None,
    band: Annotated[str | None, typer.Option(help="Band; the season's where left out.")] = None,
    dish_diameter_m: Dish = None,
    gain_dbi: Annotated[str | None, typer.Option(help="Gain, where it is no dish.")] = None,
    power_w: Power = None,
    noise_figure_db: Annotated[str | None, typer.Option(help="Noise figure of the preamplifier.")] = None,
    polarization: Annotated[str | None, typer.Option(help="horizontal, vertical, rotatable or circular.")] = None,
    mode: Annotated[list[str] | None, typer.Option(help="A mode they have; repeatable.")] = None,
    name: SiteName = None,
    operator: OperatorName = None,
    email: MailAddress = None,
    time_zone: TimeZone = None,
    language: Annotated[str | None, typer.Option(help="Language of its letters: de.")] = None,
) -> None:
    """Writes a partner's file from what one learns in a chat."""
    from pipeline.inputs.writing import NewPartner, add_partner

    if not (locator or latitude_deg or longitude_deg):
        example = retyped(f"add {call} --locator GF25", season)
        stop(f"add {call}: the place is missing; write for instance {example}\nNothing was written.")
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
    (file,) = writing(lambda: [add_partner(season.parent, partner)])
    _say_next(season, call.upper(), file)


def _say_next(season: Path, call: str, file: Path) -> None:
    """What comes after a new partner; and that it is none yet where the season lists its partners."""
    from pipeline.inputs.faults import InputFaults
    from pipeline.inputs.reading import read_season_files
    from pipeline.inputs.zones_said import zone_of

    if not season.is_file():
        say(f"there is no {season} yet; {typed('new FOLDER')} lays one out")
        return
    try:
        read = read_season_files(season)
    except InputFaults:
        read = None
    if read is not None and read.files is not None:
        partners = [one.call for one in read.files.partners]
        if call in read.files.left_out:
            say(
                f"note: {season} lists its partners and {call} is not among them, so no plan counts it yet; "
                f"write under partners: - {{call: {call}}}"
            )
        elif call in partners and not read.files.partner(call).time_zone:
            place = read.files.partner(call).position
            zone = zone_of(place.latitude_deg, place.longitude_deg)
            say(f"its clock is not known: by its place write into {file}: time_zone: {zone}")
    say(f"next: {retyped(f'check {call}', season)}, more partners, then {retyped('plan', season)}")


@app.command("import", epilog="Example: mutual-moon import roster.csv")
def import_(
    roster: Annotated[Path, typer.Argument(help="CSV: a row a station, columns named like the keys.")],
    season: SeasonFile = DEFAULT_SEASON,
) -> None:
    """Turns a table of stations into station files beside the season file, all or none."""
    from pipeline.inputs.roster import import_roster, notes_of

    writing(lambda: import_roster(roster, season.parent))
    for note in notes_of(roster, season.parent):
        say(f"note: {note}", err=True)


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

    inputs = read(season, None, needs_partners=False)
    tell_notes(inputs, season, with_remarks=False)
    period = span_of(inputs, utc_today())
    try:
        checks = check_stations(inputs, period.first_night.month, call)
    except NotPossible as problem:
        stop(obstacle_words(problem.obstacle))
    if call is None:
        say(check_table_text(checks, text_width()))
        say(f"\n{typed('check ' + inputs.home.call)} tells all of one station.")
        if not inputs.partners:
            say(f"There is no partner yet: {retyped('add CALL --locator GF25', season)} writes one.")
    else:
        say("\n\n".join(station_check_text(one, text_width()) for one in checks))
