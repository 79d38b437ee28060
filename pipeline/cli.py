"""The command line: what it says when called alone, the commands it has, and how it ends.

The commands stand in `commands/`, a module each; importing one adds its commands to the application. A line that begins
with a command and plainly stands loads no other.
"""

from __future__ import annotations

import importlib
import os
import sys
import traceback
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Annotated, Any

import typer

from pipeline.commands import common
from pipeline.commands.common import BAD_INPUT, DEFAULT_SEASON, DEFECT, DONE, STOPPED, say, typed
from pipeline.commands.console import watched
from pipeline.commands.options_meant import Command, commands_of
from pipeline.commands.put_right import put_right, stands
from pipeline.inputs.faults import InputFaults

# The module that adds each command, in the order of the help.
MODULES = {
    "answer": "answer", "explain": "explain", "letters": "letters", "measure": "measure", "need": "need",
    "night": "night", "plan": "plan", "propose": "propose", "replies": "replies", "review": "review", "send": "send",
    "sites": "sites", "new": "stations", "add": "stations", "import": "stations", "check": "stations",
    "survey": "survey", "weather": "weather", "year": "year",
}  # fmt: skip
# Set in the environment: defects are shown whole, also where a user is served without what has them. Tests set it.
SHOW_DEFECTS = "MUTUAL_MOON_TRACEBACK"


def __getattr__(name: str) -> typer.Typer:
    """The application, `app`, with all commands."""
    if name != "app":
        raise AttributeError(name)
    load(MODULES)
    return common.app


def load(names: Iterable[str]) -> Any:
    """The group of all commands loaded so far, in the order of the help, with some more by their names."""
    for name in names:
        importlib.import_module(f"pipeline.commands.{MODULES[name]}")
    known, order = common.app.registered_commands, {name: place for place, name in enumerate(MODULES)}
    known.sort(key=lambda one: order.get(one.name or str(getattr(one.callback, "__name__", "")), len(order)))
    return _group(len(known))


@cache
def _group(_: int) -> Any:
    """The group of so many commands; to read their signatures takes as long as a short command."""
    return typer.main.get_command(common.app)


@common.app.callback(invoke_without_command=True)
def overview(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", "-V", help="Say the version.")] = False,
) -> None:
    """What this program does and what to do next."""
    if version:
        from pipeline import __version__

        typer.echo(f"Mutual Moon {__version__}")
        raise typer.Exit(DONE)
    if context.invoked_subcommand is None:
        say(_what_next())
        raise typer.Exit(DONE)


# In the order of a season: what to type, and what it does.
SEASON_STEPS = (
    ("year", "a year at a glance: the best weekends, and why"),
    ("plan", "a month: windows, nights and an agenda, as a calendar and data files"),
    ("letters", "a letter for each partner with their slots in their own time"),
    ("send", "who would get what; with --yes it sends what is new, once; --by-hand CALL notes what you told"),
    ("replies FOLDER", "notes the answers saved from your mail"),
    ("answer CALL A=yes B=no", "notes an answer given in words"),
    ("propose CALL 2027-03-13T19:00Z", "whether a time that a partner proposed would do; --take agrees to it"),
    ("night 2027-03-13", "the sheets for one night; --after 23:10Z plans the rest of it again"),
    ("measure 2027-03-13T18:20Z sun 11.2", "notes what ground, Sun, Moon or own echo read, and says what it means"),
    ("review LOG.adi", "the log against the predictions; with --apply the next plan learns from it"),
)
STATION_STEPS = (
    ("add CALL --locator GF25 --dish-diameter-m 1.2 --power-w 20", "a partner's file from what one learns in a chat"),
    ("sites", "where to set up: home's sites compared night by night"),
    ("import ROSTER.csv", "a table of stations to station files"),
    ("check", "what follows from each station file: gain, noise, own echo, exposure, oddities"),
    ("need CALL", "what it would take to work a partner: dish, power, noise figure, mode, and what a decibel is worth"),
    ("survey", "a card on which to measure the skyline where it costs most; --heights 300=6 takes what you measured"),
    ("weather", "how often rain and cloud take the signal at each end, month by month, in an average year"),
    ("explain CALL 2027-03-13T23:10Z", "the link with a partner at one instant, line by line"),
)


def _what_next() -> str:
    first = [
        ("plan --demo", "plans an invented season, to see what comes out"),
        ("new FOLDER", "lays out a folder with a station file and a season file to fill in"),
    ]
    lines = ["Mutual Moon plans a season of moonbounce contacts, from station files to the sheets at the dish.", ""]
    if not DEFAULT_SEASON.is_file():
        lines += ["There is no stations/season.yaml here. To begin:", "", *_steps(first), ""]
    lines += ["Through a season:", "", *_steps(SEASON_STEPS), "", "Stations:", "", *_steps(STATION_STEPS), ""]
    lines.append(f"{typed('--help')} lists all commands, {typed('plan --help')} explains one.")
    return "\n".join(lines)


def _steps(steps: Sequence[tuple[str, str]]) -> list[str]:
    return [line for command, words in steps for line in (f"  {typed(command)}", f"      {words}")]


def run() -> int:
    """Runs the command line and returns the exit code; a defect leaves a report to send, not a traceback."""
    alone = [word for word in sys.argv[1:2] if word in MODULES]
    group = load(alone or MODULES)
    words = put_right(sys.argv[1:], commands_of(group))
    if alone and not _stands(words, commands_of(group)):
        group = load(MODULES)
        words = put_right(sys.argv[1:], commands_of(group))
    commands = commands_of(group)
    try:
        wrong = _slip_in(words, commands)
    except Exception as error:
        if os.environ.get(SHOW_DEFECTS):
            return _defect(error)
        wrong = ""  # what the parser and the command say serves, where the reader of slips has a defect of its own
    if wrong:
        say(wrong, err=True)
        return BAD_INPUT
    try:
        with watched():
            result = group.main(words, prog_name=typed(), standalone_mode=False)
    except typer.Exit as ending:
        result = ending.exit_code
    except typer.Abort:
        result = STOPPED
    except Exception as error:
        return _say(error, words)
    if result == STOPPED:
        # Ctrl-C comes back as this code and without a word.
        say("stopped", err=True)
    return result if isinstance(result, int) else DONE


def _stands(words: Sequence[str], commands: Mapping[str, Command]) -> bool:
    try:
        return stands(words, commands)
    except Exception:
        return False  # told where the line is looked at for slips


def _slip_in(words: Sequence[str], commands: Mapping[str, Command]) -> str:
    """What is wrong with the words; empty where nothing is."""
    if stands(words, commands):
        return ""
    # All that people call things loads with it, which a plain line does not wait for.
    from pipeline.commands.slips import slip

    return slip(words, commands)


def _help_for(error: Exception) -> str:
    """Where a usage error is explained: the command's own help, or the list of commands."""
    context = getattr(error, "ctx", None)
    command = context.command if context else None
    if context is None or command is None or context.parent is None:
        return f"{typed('--help')} lists what there is"
    example = (command.epilog or "").removeprefix("Example: mutual-moon ")
    return f"for instance {typed(example)}; {typed(f'{command.name} --help')} says more"


def _say(error: Exception, words: Sequence[str]) -> int:
    show = getattr(error, "format_message", None)
    if show is not None:  # a mistyped option or command
        from pipeline.commands.slips import usage_words

        said = usage_words(error, words, commands_of(load(MODULES)))
        if said:
            say(said, err=True)
            return BAD_INPUT
        say(f"{show().rstrip(chr(46))}; {_help_for(error)}", err=True)
        return BAD_INPUT
    if isinstance(error, OSError) and error.strerror:
        say(f"{error.filename or 'a file'}: {error.strerror.lower()}", err=True)
        return BAD_INPUT
    if isinstance(error, InputFaults):  # of a file that lies among the outputs
        say(str(error), err=True)
        return BAD_INPUT
    return _defect(error)


def _defect(error: Exception) -> int:
    if os.environ.get(SHOW_DEFECTS):
        traceback.print_exception(error)
    place = traceback.extract_tb(error.__traceback__)[-1]
    say(
        f"a defect of this program, not of your files: {type(error).__name__}: {error} "
        f"({Path(place.filename).name}, line {place.lineno}); set {SHOW_DEFECTS}=1 to see all of it",
        err=True,
    )
    return DEFECT
