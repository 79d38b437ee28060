"""Slips of the command line: commands, options and values as people say them, in any order.

What can only mean one thing is taken so; for the rest there is one answer with the line to type.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from pipeline.commands.arguments_meant import CALL, is_call
from pipeline.commands.at_hand import AtHand
from pipeline.commands.common import typed
from pipeline.commands.lines import line
from pipeline.commands.options_meant import Command, command_meant, meant_by
from pipeline.commands.put_right import stands
from pipeline.commands.repair import put_whole
from pipeline.commands.sources import sources_meant
from pipeline.commands.typed_words import CALL as A_CALL
from pipeline.commands.typed_words import CALLED, VALUES
from pipeline.inputs.moment_words import RELATIVE
from pipeline.inputs.yaml_tree import FORBIDDEN

# What no command does.
EDITING = (
    "edit config configure configuration settings options preferences change set modify bearbeiten ändern editar "
    "einstellungen modifier modifica wijzig redigera muokkaa edytuj"
)
REMOVING = (
    "delete remove del rm prune purge clean clear erase "
    "löschen entfernen borrar supprimer eliminar elimina rimuovi verwijder ta-bort poista usuń "
    "smazat"
)
UPDATING = "update upgrade install aktualisieren actualizar"
ENDING = "quit exit q bye end stop ende salir quitter esci"
A_YEAR, MOST_MONTHS = 12, 36


def slip(words: Sequence[str], commands: Mapping[str, Command]) -> str:
    """What is wrong with the words before the parser sees them, and the line to type; empty where nothing is."""
    if stands(words, commands):
        return ""
    # What is shown on a terminal holds no signs that steer it.
    words = [FORBIDDEN.sub("?", word).replace("\n", " ") for word in words]
    if words[0] not in commands:
        return _no_command(words, commands)
    return put_whole(words, dict(commands))


def _no_command(words: Sequence[str], commands: Mapping[str, Command]) -> str:
    """What is meant where the first word is no command, with the whole line."""
    first = words[0]
    folded = [word.casefold() for word in words]
    place = next((at for at, word in enumerate(folded) if word in commands), None)
    if place is not None:
        return put_whole(
            [folded[place], *words[:place], *words[place + 1 :]], dict(commands), ["the command comes first"]
        )
    suffix = Path(first).suffix.lower()
    if suffix in (".yaml", ".yml") or Path(first).is_dir():
        told = f"{first} is a file or folder, no command; to plan with it"
        return put_whole(["plan", "--season", *words], dict(commands), [told])
    if suffix in (".adi", ".adx"):
        return put_whole(["review", *words], dict(commands), [f"{first} is a log, no command"])
    if suffix == ".csv":
        return put_whole(["import", *words], dict(commands), [f"{first} is a table, no command"])
    if suffix in (".eml", ".mbox"):
        return put_whole(["replies", *words], dict(commands), [f"{first} is mail, no command"])
    is_removing = first.casefold().strip("-./") in REMOVING.split()
    meant = None if is_removing else command_meant(first, commands)
    if meant is None and not is_removing and len(words) > 1 and not first.startswith("-"):
        joined = command_meant(first + words[1], commands) or command_meant(f"{first}-{words[1]}", commands)
        other = next((at for at, word in enumerate(words[1:], 1) if command_meant(word, ())), None)
        if joined:
            return put_whole([joined, *words[2:]], dict(commands), [f"there is no command {first} {words[1]}"])
        if other is not None:
            meant = command_meant(words[other], ())
            words = [words[other], *words[:other], *words[other + 1 :]]
            first = words[0]
    if meant:
        told = f"there is no command {first}; {meant} is most likely meant, {typed('--help')} lists all"
        # `tonight` and `sun` are what the command wants as well.
        says_more = first.casefold() in RELATIVE or (meant == "measure" and sources_meant(first))
        return put_whole([meant, *words[:1], *words[1:]] if says_more else [meant, *words[1:]], dict(commands), [told])
    return _by_shape(words, commands) or _no_such_thing(words)


def _no_such_thing(words: Sequence[str]) -> str:
    """What to do instead of what no command does; empty for what nobody asks for."""
    said = words[0].casefold().strip("-./")
    at_hand = AtHand(words)
    call = next((word.upper() for word in words if word.upper() in (at_hand.home, *at_hand.partners)), "")
    if said in REMOVING.split() and call:
        return f"no command takes a station away: move its file elsewhere, {at_hand.file_of(call).as_posix()}"
    if said in (*EDITING.split(), *REMOVING.split()):
        what = at_hand.file_of(call) if call else at_hand.file
        return f"no command edits: {what.as_posix()} is written in any text editor; then\n  {line('check')}"
    if said in UPDATING.split():
        return (
            f"no command does that: the program is brought up to date by what installed it (pip, pipx or uv); {_all()}"
        )
    return f"there is nothing to end: each command ends by itself; {_all()}" if said in ENDING.split() else ""


def _all() -> str:
    return f"{typed('--help')} lists all commands"


def _by_shape(words: Sequence[str], commands: Mapping[str, Command]) -> str:
    """What is meant where no word is like a command: by the shapes of the words."""
    first = words[0]
    if first.startswith("-"):
        return _by_option(words, commands)
    if first.casefold() in (*REMOVING.split(), *EDITING.split()):
        return ""
    if name := _shaped_for(words):
        return put_whole([name, *words], dict(commands), [f"the command is missing, most likely {name}"])
    if len(words) > 1 and (
        name := _shaped_for(words[1:]) or ("check" if len(words) == 2 and is_call(words[1]) else "")
    ):
        told = f"there is no command {first}; what stands behind it is for {name}, {typed('--help')} lists all"
        return put_whole([name, *words[1:]], dict(commands), [told])
    if first.casefold() in CALLED["--demo"].split() or first.casefold() == "demo":
        return put_whole(["plan", "--demo"], dict(commands), [f"{first} is an option of plan"])
    if CALL.fullmatch(first):
        return f"{first} is a call, no command; for instance {line('check', first.upper())}"
    return ""


def _by_option(words: Sequence[str], commands: Mapping[str, Command]) -> str:
    """A command for options that stand alone."""
    bare = re.split("[=:]", words[0].lstrip("-"))[0].replace("_", "-").casefold()
    having = [name for name, one in commands.items() if len(meant_by(bare, one)) == 1]
    if not having:
        return ""
    name = "plan" if "plan" in having else having[0]
    return put_whole([name, *words], dict(commands), [f"the command is missing; for instance {name}"])


def _shaped_for(words: Sequence[str]) -> str:
    """The command for which words have the shape: a month, a date, a call with a time or an answer, a log."""
    from pipeline.inputs.dates_said import month_of, months_meant
    from pipeline.inputs.moments_said import CLOCK, DATE, said_in

    calls = [word for word in words if is_call(word)]
    rest = " ".join(word for word in words if word not in calls)
    if any(Path(word).suffix.lower() in (".adi", ".adx") for word in words):
        return "review"
    if calls:
        season = AtHand(words).season
        if re.search(r"(?i)(^|\s)[a-z]{1,2}\s*[=:]\s*\w", rest):
            return "answer"
        is_moment = any(one.date or one.time for one in said_in(rest, (DATE, CLOCK), season).readings)
        return "explain" if rest and is_moment else ""
    if months_meant(rest) or month_of(rest):
        return "plan"
    return "night" if any(one.date for one in said_in(rest, (DATE,), AtHand(words).season).readings) else ""


def usage_words(error: Exception, words: Sequence[str], commands: Mapping[str, Command]) -> str:
    """A usage error of the parser in a sentence with what to type; empty where its own words are best."""
    command = commands.get(words[0]) if words else None
    if command is None:
        return ""
    message_ = str(getattr(error, "message", ""))
    if "unexpected extra argument" in message_:
        return _extra(command, words)
    if "valid number" in message_ or "valid integer" in message_:
        option = str(getattr(getattr(error, "param", None), "opts", ["the value"])[-1])
        return (
            f"{option} {_value_of(option, words)}: a number alone is meant, such as {option} {VALUES.get(option, '1')}"
        )
    return ""


def _value_of(option: str, words: Sequence[str]) -> str:
    """What stands behind an option."""
    for word, after in zip(words, [*words[1:], ""], strict=True):
        if word == option:
            return after
        if word.startswith(f"{option}="):
            return word.partition("=")[2]
    return ""


def _extra(command: Command, words: Sequence[str]) -> str:
    """Words that no argument or option is left for."""
    arguments = [word for word in words[1:] if not word.startswith("-")]
    extra = arguments[command.arguments :]
    call = next((word for word in extra if CALL.fullmatch(word)), None)
    if call and A_CALL not in command.kinds:
        upper = call.upper()
        if command.name in ("weather", "sites", "year"):
            return f"{command.name} takes no call, it tells of all at once; write\n  {line(command.name)}"
        return (
            f"{command.name} takes no call; {line('check', upper)} tells of the station, "
            f"{line('explain', upper, '2027-03-13T23:10Z')} of the link"
        )
    if command.name == "weather":
        told = "weather tells of the months of the season, and of another with --month"
        return f"{told}; write\n  {line('weather')}"
    if command.name == "sites":
        return f"sites takes no name, it compares all of home's; write\n  {line('sites')}"
    if command.name == "year":
        first = f"{AtHand(words).season.first:%Y-%m}"
        told = f"year begins with the season's first month, {first}, and takes how many"
        return f"{told}; write\n  {line('year', '--months', f'{_months_to(extra, AtHand(words))}')}"
    if command.name == "plan" and re.fullmatch(r"20\d\d", " ".join(extra)):
        return f"plan is for months, year for a year: write\n  {line('year', '--months', '12')}"
    if not command.arguments:
        return f"{command.name} takes options only, and {' '.join(extra)} is none; {_more(command)}"
    return f"{' '.join(extra)} is too much; {_more(command)}"


def _months_to(words: Sequence[str], at_hand: AtHand) -> int:
    """How many months it is from the season's first to the last that is named; twelve where none is."""
    from pipeline.inputs.dates_said import months_meant

    first = at_hand.season.first
    months = [tuple(map(int, month.split("-"))) for month in months_meant(" ".join(words)) or ()]
    months = months or [tuple(map(int, month.split("-"))) for word in words for month in months_meant(word)]
    count = max(((year - first.year) * 12 + month - first.month + 1 for year, month in months), default=0)
    return count if 1 < count <= MOST_MONTHS else A_YEAR


def _more(command: Command) -> str:
    return f"{typed(command.name + ' --help')} says more"
