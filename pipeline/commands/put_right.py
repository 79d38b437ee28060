"""The words of a command line as the parser knows them, and whether they plainly stand as they are taken.

Light: a line without a slip waits for none of what `slips` knows of people's ways.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from pipeline.commands.options_meant import OPTION, OTHER_HABIT, Command, command_meant
from pipeline.commands.plain_lines import CALL, is_plain
from pipeline.commands.typed_words import HELP, VERSION
from pipeline.inputs.odd_characters import INVISIBLE

PROGRAM = re.compile(r"(?i)(mutual[-_ ]?moon|pipeline|python3?)(\.exe|\.py)?|-m")


def put_right(words: Sequence[str], commands: Mapping[str, Command]) -> list[str]:
    """The words with what can mean one thing only as the parser knows it: help, dashes, and the case of names."""
    words = [re.sub(f"[{INVISIBLE}]", "", word) for word in words]
    words = [word for word in words if word.strip(" ,;")]
    while words and PROGRAM.fullmatch(words[0]):
        words = words[1:]
    if words and words[0] in VERSION:
        return ["--version", *words[1:]]
    if words and words[0].casefold() in HELP:
        rest = [one.casefold() for one in words[1:] if one.casefold() in commands]
        rest = rest or [meant for one in words[1:] if (meant := command_meant(one, commands))]
        return [*rest[:1], "--help"]
    name = next((word for word in words if not word.startswith("-")), "").casefold()
    if name not in commands:
        return words
    place = next(place for place, word in enumerate(words) if word.casefold() == name)
    command = commands[name]
    rest = [_option(word, command) for word in words[place + 1 :]]
    if rest and rest[-1].casefold() in HELP and len(rest) == 1:
        rest = ["--help"]
    return [*words[:place], name, *rest]


def _option(word: str, command: Command) -> str:
    """An option with its dashes and case as it is known, a call without its comma; any other word as it is."""
    found = OPTION.fullmatch(word)
    if found is None and (habit := OTHER_HABIT.fullmatch(word)) and f"--{habit[1].casefold()}" in command.options:
        found = habit
    if found is None or word.split("=")[0] in command.options:
        bare = word.rstrip(",;")
        return bare if re.fullmatch(CALL, bare, re.ASCII) else word
    name = f"--{found[1].replace('_', '-').casefold()}"
    if name not in command.options:
        return word
    return name if found[2] is None or not command.options[name] else f"{name}={found[2]}"


def stands(words: Sequence[str], commands: Mapping[str, Command]) -> bool:
    """Whether the parser may have the words as they are: of the plainest form, or a question for help."""
    if not words or words[0] in ("--help", "-h", "--version") or words[0].startswith(("--install-", "--show-")):
        return True
    if "--help" in words or "-h" in words:
        return True
    return words[0] in commands and is_plain(words[1:], commands[words[0]])
