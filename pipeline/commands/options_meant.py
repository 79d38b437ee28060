"""The commands as the parser knows them, and what an option or command that it does not know most likely means."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.commands import typed_words as kinds
from pipeline.commands.typed_words import CALLED, COMMANDS
from pipeline.inputs.odd_characters import DASHES

STROKES = {ord(sign): plain for sign, plain in zip("æøßłđıœ", ("ae", "o", "ss", "l", "d", "i", "oe"), strict=True)}
OPTION = re.compile(rf"[-{DASHES}]{{1,2}}([^\W\d][\w-]*)(?:[=:](.*))?", re.DOTALL)
OTHER_HABIT = re.compile(r"/([^\W\d][\w-]*)(?:[=:](.*))?", re.DOTALL)


@dataclass(frozen=True)
class Command:
    """One command as the parser knows it: which options take a value, and each option's first name."""

    name: str
    options: Mapping[str, bool]
    first_names: Mapping[str, str]
    arguments: int
    parser: Any

    def takes(self, words: Sequence[str]) -> bool:
        """Whether the parser takes the words behind the command."""
        try:
            with self.parser.make_context(self.name, list(words)):
                return True
        except Exception:
            return False

    @property
    def repeatable(self) -> set[str]:
        """Its options that may stand more than once."""
        return {one.opts[0] for one in self.parser.params if getattr(one, "multiple", False)}

    @property
    def kinds(self) -> tuple[str, ...]:
        """Its arguments by kind."""
        return kinds.ARGUMENTS.get(self.name, ())

    @property
    def own(self) -> list[str]:
        """Its options by their first names."""
        return list(dict.fromkeys(one for one in self.first_names.values() if one != "--help"))

    def kind_of(self, option: str) -> str:
        """The kind of an option's value."""
        if option == "--after":
            return kinds.CLOCK if self.name == "night" else kinds.DATE
        return kinds.OPTIONS.get(option, kinds.TEXT)


def commands_of(group: Any) -> dict[str, Command]:
    """All commands of the application by name."""
    found = {}
    for name, command in group.commands.items():
        options, first, count = {"-h": False, "--help": False}, {"-h": "--help", "--help": "--help"}, 0
        for one in command.params:
            if one.param_type_name == "argument":
                count = 99 if one.nargs != 1 else count + 1
            else:
                options |= dict.fromkeys(one.opts, not one.is_flag)
                first |= dict.fromkeys(one.opts, one.opts[0])
        found[name] = Command(name, options, first, count, command)
    return found


def parted(word: str, command: Command) -> tuple[str, str | None] | None:
    """An option without its dashes and the value glued to it; None for any other word."""
    found = OPTION.fullmatch(word)
    if found is None:
        found = OTHER_HABIT.fullmatch(word)
        if found is None or not meant_by(found[1], command):
            return None
    return found[1].replace("_", "-").casefold(), found[2]


def meant_by(bare: str, command: Command) -> list[str]:
    """The options of a command that a name can mean, by what people call them, never by spelling alone."""
    from pipeline.inputs.keys_said import keys_meant

    if f"--{bare}" in command.options:
        return [command.first_names[f"--{bare}"]]
    own, bare = command.own, without_accents(bare)
    called = [one for one in own if bare in CALLED.get(one, "").split()]
    if not called:
        called = [one for key in keys_meant(bare) if (one := f"--{key.replace('_', '-')}") in own]
    if not called and len(bare) > 2:
        called = [one for one in own if one[2:].startswith(bare)]
    if not called and "pdf" in bare and bare != "pdf":
        called = [one for one in own if one == "--no-pdf"]
    if not called and is_yes(bare):
        called = [one for one in own if one in ("--yes", "--apply", "--take")]
    return called


def without_accents(word: str) -> str:
    """Small letters without accents and strokes: `bemaerkning`, `stojtal`."""
    from pipeline.inputs.days_said import folded

    return folded(word).translate(STROKES)


def is_yes(word: str) -> bool:
    """Whether a word is a yes, in whichever language."""
    from pipeline.letters.answers_typed import typed_answers

    return typed_answers([word]) == ["yes"]


def near_by(bare: str, command: Command) -> list[str]:
    """The options whose name is one slip of the keys away."""
    near = [command.first_names[one] for one in command.options if one.startswith("--") and one_slip(bare, one[2:])]
    if not near:
        near = [one for one in command.own for word in CALLED.get(one, "").split() if one_slip(bare, word)]
    return list(dict.fromkeys(near))


def command_meant(word: str, commands: Iterable[str]) -> str | None:
    """The command that a word most likely means: by what people call it, then by one slip of the keys."""
    said = without_accents(word.strip("-/.,:"))
    called = next((name for name, others in COMMANDS.items() if said in without_accents(others).split()), None)
    if called:
        return called
    known = [*commands, *(other for others in COMMANDS.values() for other in others.split() if len(other) > 4)]
    near = [one for one in known if one_slip(said, without_accents(one))]
    near = near or (difflib.get_close_matches(said, known, 2, 0.82) if len(said) > 4 else [])
    names = dict.fromkeys(one if one in COMMANDS else command_meant(one, ()) for one in near)
    if len(names) == 1:
        return next(iter(names))
    begun = [one for one in commands if len(said) > 2 and one.startswith(said)]
    return begun[0] if len(begun) == 1 else None


def one_slip(word: str, name: str) -> bool:
    """Whether a word of some length is a name with one letter more, less, another or two turned round."""
    apart = [place for place, (one, other) in enumerate(zip(word, name, strict=False)) if one != other]
    if len(apart) == 2 and sorted(word) == sorted(name) and apart[1] - apart[0] == 1:
        return True
    if len(name) < 5 or abs(len(word) - len(name)) > 1 or word == name:
        return False
    if len(word) == len(name):
        return len(apart) == 1
    longer, shorter = sorted((word, name), key=len, reverse=True)
    return any(longer[:place] + longer[place + 1 :] == shorter for place in range(len(longer)))
