"""The commands. Thin: each reads its inputs, calls one function of the rooms below and says where the result lies.

Heavy libraries load inside the commands, so that `--help` answers at once.
"""

from __future__ import annotations

import datetime as dt
import os
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

if TYPE_CHECKING:
    from pipeline.inputs.model import Inputs

DONE, DEFECT, BAD_INPUT, NOTHING_FOUND, UNCLEAR = 0, 1, 2, 3, 4

app = typer.Typer(
    name="mutual-moon",
    add_completion=False,
    no_args_is_help=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    help="Plans a season of moonbounce contacts: mutual windows, a calendar on paper, data files.",
)

SeasonFile = Annotated[Path, typer.Option("--season", help="Season file; stations are read from its folder.")]
OutFolder = Annotated[Path, typer.Option("--out", help="Folder for everything that is made.")]
DEFAULT_SEASON = Path("stations/season.yaml")
DEFAULT_OUT = Path("out")


def typed(command: str = "") -> str:
    """The command in the form in which the user started this program."""
    return f"{os.environ.get('MUTUAL_MOON_TYPED', 'mutual-moon')} {command}".strip()


def stop(message: str, code: int = BAD_INPUT) -> NoReturn:
    """Says what is wrong on the error stream and ends."""
    typer.echo(message, err=True)
    raise typer.Exit(code)


def tell(message: str) -> None:
    """Progress: only where someone watches."""
    if sys.stderr.isatty():
        typer.echo(f"  {message}", err=True)


@app.callback(invoke_without_command=True)
def overview(
    context: typer.Context, version: Annotated[bool, typer.Option("--version", help="Say the version.")] = False
) -> None:
    """What this program does and what to do next."""
    if version:
        from pipeline import __version__

        typer.echo(f"Mutual Moon {__version__}")
        raise typer.Exit(DONE)
    if context.invoked_subcommand is None:
        typer.echo(_what_next())
        raise typer.Exit(DONE)


def _what_next() -> str:
    lines = ["Mutual Moon plans a season of moonbounce contacts from station files to a calendar on paper.", ""]
    if DEFAULT_SEASON.is_file():
        lines += [f"  {typed('plan')}", "      computes the season in stations/ and writes its calendar into out/"]
    else:
        lines += [
            f"  {typed('plan --demo')}",
            "      plans an invented season, to see what comes out",
            f"  {typed('new FOLDER')}",
            "      lays out a folder with a station file and a season file to fill in",
        ]
    lines += [
        f"  {typed('add CALL --locator GF25 --dish-diameter-m 1.2 --power-w 20')}",
        "      writes a partner's file from what one learns in a chat",
        f"  {typed('import ROSTER.csv')}",
        "      turns a table of stations into station files",
        f"  {typed('check')}",
        "      shows what follows from each station file: gain, noise, own echo, exposure, oddities",
        f"  {typed('explain CALL 2027-03-13T23:10Z')}",
        "      works out the link with a partner at one instant, line by line",
        "",
        f"{typed('--help')} lists all commands, {typed('plan --help')} explains one.",
    ]
    return "\n".join(lines)


@app.command(epilog="Example: mutual-moon plan --month 2027-03")
def plan(
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    month: Annotated[str | None, typer.Option(help="Plan this month instead of the season's: 2027-03.")] = None,
    demo: Annotated[bool, typer.Option("--demo", help="Plan the invented season that comes with the program.")] = False,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Write HTML and data, no PDF.")] = False,
) -> None:
    """Computes a period's mutual windows and writes the calendar and the data files."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.planning.plan import make_plan
    from pipeline.reports.pdf import PdfUnavailable
    from pipeline.reports.places import demo_folder
    from pipeline.reports.plan_text import plan_text
    from pipeline.reports.writing import OutputBlocked, write_reports

    inputs = read(demo_folder() / "season.yaml" if demo else season, month)
    for warning in inputs.warnings:
        typer.echo(f"note: {warning}", err=True)
    try:
        made = make_plan(inputs, dt.datetime.now(dt.UTC).date(), tell)
        tell("Pages")
        files = write_reports(made, out, pdf=not no_pdf)
    except (EphemerisUnavailable, PdfUnavailable, OutputBlocked) as problem:
        stop(str(problem))
    typer.echo(plan_text(made, files))
    if made.windows.empty:
        raise typer.Exit(NOTHING_FOUND)


@app.command(epilog="Example: mutual-moon new my-season")
def new(folder: Annotated[Path, typer.Argument(help="Folder to lay out; made if it is not there.")]) -> None:
    """Lays out a station file with every key explained, and a season file."""
    from pipeline.inputs.writing import new_folder

    files = writing(lambda: new_folder(folder))
    season = next(file for file in files if file.name == "season.yaml")
    typer.echo(f"Fill in your station, then: {typed(f'plan --season {season}')}")


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
) -> None:
    """Writes a partner's file from what one learns in a chat."""
    from pipeline.inputs.writing import add_partner

    writing(
        lambda: [
            add_partner(
                season.parent,
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
            )
        ]
    )


@app.command("import", epilog="Example: mutual-moon import roster.csv")
def import_(
    roster: Annotated[Path, typer.Argument(help="CSV: a row a station, columns named like the keys.")],
    season: SeasonFile = DEFAULT_SEASON,
) -> None:
    """Turns a table of stations into station files beside the season file, all or none."""
    from pipeline.inputs.roster import import_roster

    writing(lambda: import_roster(roster, season.parent))


def writing(write: Callable[[], list[Path]]) -> list[Path]:
    """Writes input files and names them, or ends with every fault."""
    from pipeline.inputs.faults import InputFaults

    try:
        files = write()
    except InputFaults as faults:
        stop(f"{faults}\nNothing was written.")
    for file in files:
        typer.echo(f"written: {file}")
    return files


@app.command(epilog="Example: mutual-moon explain QF4LUM 2027-03-13T23:10Z")
def explain(
    partner: Annotated[str, typer.Argument(help="Call of a partner of the season.")],
    time: Annotated[str, typer.Argument(help="Instant in ISO 8601 with Z: 2027-03-13T23:10Z. The Moon may be down.")],
    season: SeasonFile = DEFAULT_SEASON,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON: the keys of samples.csv and the lines.")] = False,
) -> None:
    """Works out the whole link with a partner at one instant, line by line, with formulas and sources."""
    import json

    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.planning import explain as working
    from pipeline.planning.explanation import NotPossible
    from pipeline.reports.plain import explanation_text

    instant = _instant(time)
    try:
        made = working.explain(read(season, None), partner, instant)
    except (EphemerisUnavailable, NotPossible) as problem:
        stop(str(problem))
    typer.echo(json.dumps(made.as_json(), indent=2, ensure_ascii=False) if as_json else explanation_text(made))


def _instant(text: str) -> dt.datetime:
    """An instant with its zone, or an end that says how one is written."""
    try:
        instant = dt.datetime.fromisoformat(text)
    except ValueError:
        stop(f"{text}: not a time; ISO 8601 in UTC is meant, such as 2027-03-13T23:10Z.")
    if instant.tzinfo is None:
        meant = f"{instant:%Y-%m-%dT%H:%M}Z"
        stop(f"{text}: a time without a zone; end it with Z for UTC, such as {meant}.")
    return instant


@app.command(epilog="Example: mutual-moon check QF4LUM")
def check(
    call: Annotated[str | None, typer.Argument(help="One station in full; without it all, a line each.")] = None,
    season: SeasonFile = DEFAULT_SEASON,
) -> None:
    """Shows what follows from each station file, and what looks odd in it."""
    from zoneinfo import ZoneInfo

    from pipeline.planning.explanation import NotPossible
    from pipeline.planning.period import make_period
    from pipeline.planning.station_check import check_stations
    from pipeline.reports.plain import check_table_text, station_check_text

    inputs = read(season, None)
    for warning in inputs.warnings:
        typer.echo(f"note: {warning}", err=True)
    period = make_period(inputs.season, ZoneInfo(inputs.home.time_zone or "UTC"), dt.datetime.now(dt.UTC).date())
    try:
        checks = check_stations(inputs, period.first_night.month, call)
    except NotPossible as problem:
        stop(str(problem))
    if call is None:
        typer.echo(check_table_text(checks))
        typer.echo(f"\n{typed('check ' + inputs.home.call)} tells all of one station.")
    else:
        typer.echo("\n\n".join(station_check_text(one) for one in checks))


def read(season: Path, month: str | None) -> Inputs:
    """The inputs, or an end with every fault of every file."""
    from pipeline.inputs.faults import InputFaults
    from pipeline.inputs.reading import read_inputs

    if not season.is_file():
        stop(
            f"{season}: no such season file; {typed('new FOLDER')} lays one out, {typed('plan --demo')} "
            "plans the invented season, --season FILE names another"
        )
    try:
        inputs = read_inputs(season, month)
    except InputFaults as faults:
        count = len(faults.faults)
        stop(f"{faults}\n{count} fault{'s' if count > 1 else ''}; nothing was written.")
    if not inputs.partners:
        example = typed(f"add CALL --season {season} --locator GF25")
        stop(f"{season}: there is no partner in {season.parent}; {example} writes one")
    return inputs


def run() -> int:
    """Runs the command line and returns the exit code; a defect leaves a report to send, not a traceback."""
    try:
        result = app(prog_name=typed(), standalone_mode=False)
    except typer.Exit as ending:
        return ending.exit_code
    except typer.Abort:
        typer.echo("stopped", err=True)
        return 130
    except Exception as error:
        return _say(error)
    return result if isinstance(result, int) else DONE


def _say(error: Exception) -> int:
    show = getattr(error, "format_message", None)
    if show is not None:  # a mistyped option or command
        typer.echo(f"{show().rstrip(chr(46))}; {typed('--help')} lists what there is", err=True)
        return BAD_INPUT
    if isinstance(error, OSError) and error.strerror:
        typer.echo(f"{error.filename or 'a file'}: {error.strerror.lower()}", err=True)
        return BAD_INPUT
    if os.environ.get("MUTUAL_MOON_TRACEBACK"):
        traceback.print_exception(error)
    place = traceback.extract_tb(error.__traceback__)[-1]
    typer.echo(
        f"a defect of this program, not of your files: {type(error).__name__}: {error} "
        f"({Path(place.filename).name}, line {place.lineno}); set MUTUAL_MOON_TRACEBACK=1 to see all of it",
        err=True,
    )
    return DEFECT
