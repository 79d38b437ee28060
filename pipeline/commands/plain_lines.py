"""Lines that plainly stand as they are taken: told by patterns, so that a line without a slip waits for nothing."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from pipeline.commands import typed_words as kinds
from pipeline.commands.file_kinds import suits
from pipeline.commands.options_meant import Command

NUMBER = r"[+-]?\d+(\.\d+)?"
CALL = r"(?=[A-Za-z0-9/]*[A-Za-z])(?=[A-Za-z0-9/]*\d)[A-Za-z0-9]+(/[A-Za-z0-9]+)*"
DATE = r"\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])"
PLAIN = {
    kinds.CALL: CALL,
    kinds.INSTANT: rf"{DATE}T\d\d:\d\dZ",
    kinds.TIME_SAID: rf"{DATE}[T ]\d\d:\d\dZ?",
    kinds.DATE: DATE,
    kinds.CLOCK: r"\d\d:\d\dZ",
    kinds.MONTH: r"\d{4}-(0[1-9]|1[0-2])",
    kinds.FIGURE: NUMBER,
    kinds.WHOLE: r"\d{1,3}",
    kinds.SOURCE: "ground|sun|moon|echo",
    kinds.ANSWERS: r"([A-Z]{1,2}=(yes|no|perhaps|made|failed|absent|rained)\s?)+",
    kinds.CHANGE: rf"{CALL}(\.[a-z0-9_]+)+={NUMBER}",
    kinds.HEIGHTS: rf"\d+(\.\d+)?={NUMBER}(,\d+(\.\d+)?={NUMBER})*",
    kinds.LOCATOR: r"[A-Ra-r]{2}\d\d([A-Xa-x]{2}(\d\d)?)?",
    kinds.WHOSE: "home|utc|partner",
    kinds.MAIL: r"\S+@\S+",
    kinds.FOLDER: r"[\w./\\:~-]+",
}


def is_plain(words: Sequence[str], command: Command) -> bool:
    """Whether every word behind the command is an option of it, a value or an argument of the plainest form."""
    arguments: list[str] = []
    named = [word for word in words if word.startswith("--")]
    if len(set(named)) < len(named):
        return False
    place = 0
    while place < len(words):
        name, equals, value = words[place].partition("=")
        takes = command.options.get(name) if name.startswith("--") else None
        place += 1
        if takes is None:
            arguments.append(words[place - 1])
            continue
        if not takes or equals or place == len(words):
            if takes or equals:
                return False
            continue
        value, place = words[place], place + 1
        if not _stands(command.kind_of(command.first_names[name]), value):
            return False
    return _in_order(arguments, command) and command.takes(words)


def _in_order(arguments: Sequence[str], command: Command) -> bool:
    """Whether the arguments are plain ones of the kinds of the command."""
    expected = command.kinds
    if expected == (kinds.PATH,) and not (all(suits(command.name, Path(one)) for one in arguments)):
        return False
    if not arguments:
        return not expected or command.name in kinds.MAY_BE_LEFT_OUT
    if command.name in kinds.MANY:
        return command.name != "send" and all(_stands(expected[0], one) for one in arguments)
    if expected[1:] in ((kinds.TIME_SAID,), (kinds.ANSWERS,)):
        arguments = [arguments[0], " ".join(arguments[1:])]
    pairs = zip(expected, arguments, strict=False)
    return len(arguments) == len(expected) and all(_stands(kind, one) for kind, one in pairs)


def _stands(kind: str, text: str) -> bool:
    if kind in (kinds.SEASON, kinds.PATH):
        return Path(text).is_file()
    if kind == kinds.TEXT:
        return not text.startswith("-") and text != ""
    if kind == kinds.FOLDER and re.fullmatch(CALL, text, re.ASCII):
        return False  # a call where a folder is meant, unless it is there
    return kind in PLAIN and re.fullmatch(PLAIN[kind], text, re.ASCII) is not None
