"""`new`, `add`, `import`, `check`: station files are laid out, written and looked at."""

from __future__ import annotations

import sys
from functools import partial
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
        _say_zone(placed.time_zone, files[0], "your clock")
    _say_own(files[0])
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
    from pipeline.commands.remarks import new_lines
    from pipeline.inputs.writing import NewPartner, add_partner, with_zone_of_place

    if not (locator or latitude_deg or longitude_deg):
        if there := _file_of(call, season):
            stop(f"add {call}: {call.upper()} has a file already; change it there, in {there}\nNothing was written.")
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
    partner = with_zone_of_place(partner)
    (file,) = writing(lambda: [add_partner(season.parent, partner)])
    if not partner.zone_is_told:
        _say_zone(partner.time_zone, file, "its clock")
    for line in new_lines([file]):
        say(f"note: {line}", err=True)
    _say_next(season, call.upper(), file)


def _file_of(call: str, season: Path) -> Path | None:
    """The file of a station that is there already."""
    path = season.parent / f"{call.casefold().replace('/', '-')}.yaml"
    return path if path.is_file() else None


def _say_own(file: Path) -> None:
    """What of the new home is assumed until its file says it: the skyline, the equipment."""
    from pipeline.inputs.lengths import AssumedSkyline
    from pipeline.inputs.station import read_station
    from pipeline.inputs.yaml_tree import load_tree, read_bytes
    from pipeline.wording.assumed import own_assumed_words

    station = read_station(load_tree(read_bytes(file), file.name, file.parent)).station
    if station is not None:
        for line in own_assumed_words(station, station.bands, AssumedSkyline().nine_in_ten_deg):
            say(line)


def _say_zone(zone: str | None, file: Path, clock: str) -> None:
    """Which zone was taken by the place, and what its clock shows, for people to hold it against theirs."""
    from pipeline.inputs.zone_of_place import clock_told

    if zone:
        say(f"time_zone is taken to be {zone}, by the place: {clock_told(zone)}")
        say(f"  if {clock} differs, change it in {file}")


def _say_next(season: Path, call: str, file: Path) -> None:
    """What comes after a new partner; and that it is none yet where the season lists its partners."""
    from pipeline.inputs.faults import InputFaults
    from pipeline.inputs.reading import read_season_files
    from pipeline.inputs.zone_of_place import zones_open, zones_told

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
            zones = zones_open(place.latitude_deg, place.longitude_deg, place.locator)
            say(f"its clock is not known: by its place {zones_told(zones)}; ask it, and write into {file}:")
            say(f"  time_zone: {zones[0]}")
    say(f"next: {retyped(f'check {call}', season)}, more partners, then {retyped('plan', season)}")


def _say_left_out(season: Path, files: list[Path]) -> None:
    """Which of the new stations the season's list of partners leaves out."""
    from pipeline.inputs.faults import InputFaults
    from pipeline.inputs.reading import read_season_files

    try:
        read = read_season_files(season).files if season.is_file() else None
    except InputFaults:
        return
    stems = {file.name: file for file in files}
    others = [one.call for one in read.others if one.file in stems and one.call in read.left_out] if read else []
    if others:
        lines = ", ".join(f"- {{call: {call}}}" for call in others)
        told = f"note: {season} lists its partners, so no plan counts these yet"
        say(f"{told}; write under partners, a line each: {lines}")


@app.command("import", epilog="Example: mutual-moon import roster.csv")
def import_(
    roster: Annotated[Path, typer.Argument(help="CSV: a row a station, columns named like the keys.")],
    season: SeasonFile = DEFAULT_SEASON,
) -> None:
    """Turns a table of stations into station files beside the season file, all or none."""
    from pipeline.commands.remarks import new_lines
    from pipeline.inputs.roster import import_roster, notes_of
    from pipeline.inputs.writing import NOT_TOLD

    files = writing(lambda: import_roster(roster, season.parent))
    by_place = [path for path in files if f"# {NOT_TOLD}" in path.read_text(encoding="utf-8")]
    if by_place:
        told = f"{len(by_place)} of {len(files)} {'files' if len(files) > 1 else 'file'}"
        say(f"time_zone is taken by the place in {told}, marked there; change it where somebody's clock differs")
    for note in (*notes_of(roster, season.parent), *new_lines(files)):
        say(f"note: {note}", err=True)
    _say_left_out(season, files)


@app.command(epilog="Example: mutual-moon check QF4LUM")
def check(
    call: Annotated[str | None, typer.Argument(help="One station in full; without it all, a line each.")] = None,
    season: SeasonFile = DEFAULT_SEASON,
) -> None:
    """Shows what follows from each station file, and what looks odd in it."""
    from pipeline.commands.remarks import in_its_line
    from pipeline.explain.explanation import NotPossible
    from pipeline.explain.station_check import check_stations
    from pipeline.reports.plain import check_table_text, station_check_text
    from pipeline.windows.span import span_of
    from pipeline.wording.assumed import own_assumed_words
    from pipeline.wording.explain import obstacle_words

    inputs = read(season, None, needs_partners=False)
    tell_notes(inputs, season, with_remarks=False)
    period = span_of(inputs, utc_today())
    try:
        checks = check_stations(inputs, period.first_night.month, call)
    except NotPossible as problem:
        stop(obstacle_words(problem.obstacle))
    in_line = partial(in_its_line, folder=season.parent)
    if call is None:
        say(check_table_text(checks, text_width(), in_line))
        bands = [one.band for one in checks if one.station.call == inputs.home.call]
        for line in own_assumed_words(inputs.home, bands, inputs.season.policy.assumed_skyline.nine_in_ten_deg):
            say(f"\n{line}")
        say(f"\n{retyped(f'check {inputs.home.call}', season)} tells all of one station.")
        if not inputs.partners:
            say(f"There is no partner yet: {retyped('add CALL --locator GF25', season)} writes one.")
    else:
        say("\n\n".join(station_check_text(one, text_width(), in_line) for one in checks))
