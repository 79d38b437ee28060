"""What all commands share: the application, its options and exit codes, reading the inputs, and how they end.

Heavy libraries load inside the commands, so that `--help` answers at once.
"""

from __future__ import annotations

import datetime as dt
import os
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from pipeline.commands import console
from pipeline.commands.console import tell as tell
from pipeline.commands.finding import no_season_words, season_found
from pipeline.reports.folding import folded
from pipeline.wording.pasted import all_pasted, pasted

if TYPE_CHECKING:
    from pipeline.record.inputs import Inputs

DONE, DEFECT, BAD_INPUT, NOTHING_FOUND, UNCLEAR = 0, 1, 2, 3, 4
STOPPED = 130  # by Ctrl-C, as shells count it

app = typer.Typer(
    name="mutual-moon",
    no_args_is_help=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    help="Plans a season of moonbounce contacts: windows, nights, agenda, letters, sheets, review.",
)

SeasonFile = Annotated[
    Path,
    typer.Option("--season", callback=season_found, help="Season file; stations are read from its folder."),
]
OutFolder = Annotated[Path, typer.Option("--out", help="Folder for everything that is made.")]
DEFAULT_SEASON = Path("stations/season.yaml")
DEFAULT_OUT = Path("out")
MOST_NAMED = 6


def utc_today() -> dt.date:
    """The clock's date: it only ever says which month comes next and what to advise, never what a file holds."""
    return dt.datetime.now(dt.UTC).date()


def typed(command: str = "") -> str:
    """The command in the form in which the user started this program."""
    return f"{os.environ.get('MUTUAL_MOON_TYPED', 'mutual-moon')} {command}".strip()


def retyped(command: str, season: Path, out: Path = DEFAULT_OUT, month: str | None = None) -> str:
    """A command for the same season, folder and month as the one that was typed."""
    options = "" if season == DEFAULT_SEASON else f" --season {pasted(season)}"
    options += "" if out == DEFAULT_OUT else f" --out {pasted(out)}"
    return typed(command + options + (f" --month {month}" if month else ""))


def stop(message: str, code: int = BAD_INPUT) -> NoReturn:
    """Says what is wrong on the error stream and ends."""
    say(message, err=True)
    raise typer.Exit(code)


def stop_and_advise(
    problem: object, season: Path, out: Path, month: str | None = None, code: int = BAD_INPUT
) -> NoReturn:
    """The same for a sentence that ends in `run: COMMAND`, told in the form that the user typed."""
    stop(re.sub(r"run: (.+)$", lambda found: f"run: {retyped(found[1], season, out, month)}", str(problem)), code)


def advised(text: str, season: Path, out: Path = DEFAULT_OUT, month: str | None = None) -> str:
    """A text whose commands stand between backquotes, with each in the form in which the user types it."""
    return re.sub("`([^`]*)`", lambda found: retyped(found[1], season, out, month), text)


def say(text: str, err: bool = False) -> None:
    """Prints, folded to the terminal where there is one."""
    console.wipe()
    columns = console.known_columns()
    typer.echo(folded(text, columns, typed()) if columns else text, err=err)


def writing(write: Callable[[], list[Path]]) -> list[Path]:
    """Writes input files and names them, or ends with every fault."""
    from pipeline.inputs.faults import InputFaults

    try:
        files = write()
    except InputFaults as faults:
        stop(f"{faults}\nNothing was written.")
    for file in files:
        say(f"written: {file}")
    return files


def tell_warnings(inputs: Inputs) -> None:
    """What was odd in reading the inputs."""
    for warning in inputs.warnings:
        say(f"note: {warning}", err=True)


def tell_notes(inputs: Inputs, season: Path, with_remarks: bool = True) -> None:
    """What was odd in the inputs, which files were not read, and which stations the season leaves out."""
    from pipeline.commands.remarks import slip_lines, text_lines
    from pipeline.inputs.near_names import unread_files

    tell_warnings(inputs)
    for line in (*slip_lines(inputs, with_remarks, season.parent), *text_lines(season.parent)):
        say(f"note: {line}", err=True)
    for one in unread_files(season.parent):
        say(f"note: {one.path.relative_to(season.parent).as_posix()} was not read: {one.advice}", err=True)
    if inputs.left_out:
        calls = ", ".join(inputs.left_out[:6]) + (
            f" and {len(inputs.left_out) - 6} more" if inputs.left_out[6:] else ""
        )
        say(f"note: not a partner of this season: {calls}; the list `partners` in {season} decides", err=True)


def makes_pdf(no_pdf: bool) -> bool:
    """Whether PDFs are to be made: not where they are refused, and not, after a note, where no engine is there."""
    from pipeline.reports.pdf import PdfUnavailable, engine

    if no_pdf:
        return False
    try:
        engine()
    except PdfUnavailable as missing:
        say(f"note: no PDF is written: {missing}; until then print the HTML pages from any browser", err=True)
        return False
    return True


def read(season: Path, month: str | None, planned_from: dt.date | None = None, needs_partners: bool = True) -> Inputs:
    """The inputs, or an end with every fault of every file."""
    from pipeline.inputs.faults import InputFaults
    from pipeline.record.inputs import read_inputs

    if not season.is_file():
        stop(no_season_words(season, season == DEFAULT_SEASON, typed(), all_pasted(sys.argv[1:])))
    try:
        inputs = read_inputs(season, month, planned_from=planned_from)
    except InputFaults as faults:
        count = len(faults.faults)
        stop(f"{faults}\n{count} fault{'s' if count > 1 else ''}; nothing was written.")
    if needs_partners and not inputs.partners:
        example = typed(f"add CALL --season {pasted(season)} --locator GF25")
        stop(f"{season}: there is no partner in {season.parent}; {example} writes one")
    return inputs
