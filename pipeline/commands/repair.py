"""A line put right as a whole: each word to the argument or option that it belongs to, each value as it is taken.

A line that stands as the parser takes it is left alone. What can be meant in several ways is told in all of them.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import islice, product

from pipeline.commands import typed_words as kinds
from pipeline.commands.arguments_meant import Given, is_call, placed
from pipeline.commands.at_hand import AtHand
from pipeline.commands.common import typed
from pipeline.commands.examples import argument_words, option_value, what_is_missing
from pipeline.commands.files_meant import file_answer
from pipeline.commands.foreign_options import (
    AZIMUTH,
    ELEVATION,
    TRIED,
    Parts,
    foreign,
    names,
    of_dates,
    of_file,
    stretch_of,
    tried,
)
from pipeline.commands.lines import line, message
from pipeline.commands.named_instead import named_answer
from pipeline.commands.options_meant import Command, meant_by, near_by, parted
from pipeline.commands.renamed import PutRight, renamed
from pipeline.commands.several import each_alone
from pipeline.commands.told_by_hand import told_by_hand
from pipeline.commands.typed_moments import month_read
from pipeline.commands.typed_values import is_taken, read_value
from pipeline.commands.typed_words import CALLED
from pipeline.commands.ways import Asked, Way
from pipeline.inputs import days_said

MOST_WORDS = 7
# What is said of a value of a kind that is written otherwise, where nothing better is known.
PLAINLY = {
    kinds.FIGURE: ": a number alone is meant, with a decimal point",
    kinds.WHOLE: ": a number alone is meant",
    kinds.MONTH: ": a month is written with the year first",
    kinds.HEIGHTS: ": AZIMUTH=HEIGHT in degrees with decimal points is meant, a comma between two of them",
    kinds.CHANGE: ": a change is one word, CALL.key=number",
}
ORDER, SHORTER = "the order is another one", "not every word is wanted"
OTHERWISE = " is written otherwise"
MOST_LINES = 6
# What a reading's offsets at the peak are called.
PEAKS = ("az", "azimuth", "el", "elevation")


def put_whole(words: Sequence[str], commands: dict[str, Command], whys: Sequence[str] = ()) -> str:
    """What to tell of a line whose first word is a command; empty where nothing is to be put right."""
    command = commands[words[0]]
    if "--" in words:
        return ""
    at_hand = AtHand(words)
    parts = _apart(words[1:], command, at_hand)
    if answer := _set_apart(command, parts, commands, at_hand):
        return answer
    for given in parts.foreign:
        if answer := foreign(given, parts, command, commands, at_hand):
            return answer
    if len(parts.pairs) == 2:
        parts.arguments.append(f"{parts.pairs[AZIMUTH]}={parts.pairs[ELEVATION]}")
    if not command.kinds and command.name != "letters" and (stretch := stretch_of(" ".join(parts.arguments), at_hand)):
        return of_dates(" ".join(parts.arguments), stretch, at_hand)
    slots, options, left = placed(command, parts.arguments, parts.options, at_hand, parts.whys)
    call = next((one.words[0] for one in slots if one.kind == kinds.CALL), "")
    if command.name == "measure" and len(parts.arguments) == 3 and len(slots) < 3:
        return ""  # all is there, and one of the three is no word for it: the command tells which
    if command.name == "send":
        slots, options, left = told_by_hand(slots, options, left, parts.whys, at_hand)
    slots = _filled(command, slots, at_hand, parts.whys)
    if command.name == "night":
        left = [word for word in left if word.casefold() not in ("after", *CALLED["--after"].split())]
    if left and command.name in TRIED:
        asked = Asked("plan", "--what-if", at_hand)
        if read_value(kinds.CHANGE, " ".join(left), asked).ways:
            parts.arguments = [call] if call else []
            return tried(" ".join(left), [" ".join(left)], parts, command, at_hand)
        if command.name == "plan" and days_said.day_list(" ".join(left)):
            return of_file(" ".join(left), "nights", left, at_hand)
    ways = [_ways(one, command, at_hand, call, options, parts.whys) for one in [*slots, *options]]
    told = [*whys, *parts.whys]
    if left:
        told.append(_left_over(left, options, at_hand))
        if len(told) == 1 and not command.kinds and told[0].endswith("no place there"):
            return ""  # nothing else is wrong: the parser's own error says best what such a command takes
    chosen = list(islice(product(*ways), MOST_LINES))
    built = [(_flat(one, slots, options), ", ".join(way.when for way in one if way.when)) for one in chosen]
    if not told and len(built) == 1 and _as_typed(built[0][0], words[1:], command):
        return ""
    lines = [(line(command.name, *one), when) for one, when in built if command.takes(one)]
    is_shorter = lines and len(built[0][0]) < len(words) - 1
    return message(told or [SHORTER if is_shorter else ORDER], lines) if lines else ""


def _set_apart(command: Command, parts: Parts, commands: dict[str, Command], at_hand: AtHand) -> str:
    """What to tell of arguments that are files of another kind, or of several where one is meant; empty for others."""
    options = [word for one in parts.options for word in (one.typed, *one.words)]

    def put(words: Sequence[str], name: str = command.name) -> tuple[str, list[str]]:
        options = [word for one in parts.options for word in (one.typed, *one.words)]
        told = put_whole([name, *words, *options], commands)
        why, *lines = told.split("\n  ") if told else ("", line(name, *words, *options))
        return re.sub("; write( one after the other)?$", "", why), lines

    if answer := _twice(command, parts, put):
        return answer
    told = file_answer(command, parts.arguments, options, at_hand)
    told = told or named_answer(command.name, parts.arguments, options, at_hand)
    if answer := told or renamed(command.name, parts.arguments, at_hand, put):
        return answer
    return each_alone(command, parts.arguments, at_hand, put)


def _twice(command: Command, parts: Parts, put: PutRight) -> str:
    """A line for each value of an option that stands twice and is taken once; one that says the same falls away."""
    several: dict[str, list[Given]] = {}
    for one in parts.options:
        several.setdefault(one.name, []).append(one)
    found = next((each for name, each in several.items() if each[1:] and name not in command.repeatable), None)
    if found is None:
        return ""
    if parts.foreign:  # other things are to be told: the last one counts, as the parser has it
        parts.options = [
            one for name, each in several.items() for one in (each if name in command.repeatable else each[-1:])
        ]
        parts.whys.append(f"{found[0].typed} stands twice, and the last one is taken")
        return ""
    others = [one for one in parts.options if one.name != found[0].name]
    lines = []
    for given in dict.fromkeys(found):
        parts.options = [*others, given]
        lines += [(one, f"{' '.join(given.words)} is meant") for one in put(parts.arguments)[1][:1]]
    parts.options = [*others, *found]
    return message([f"{found[0].typed} stands twice, and one is taken"], lines)


def _filled(command: Command, slots: list[Given], at_hand: AtHand, whys: list[str]) -> list[Given]:
    """The arguments with examples for those that are missing."""
    there = {one.kind for one in slots}
    missing = [one for one in command.kinds if one not in there and command.name not in kinds.MAY_BE_LEFT_OUT]
    if not missing:
        return slots
    whys += [what_is_missing(command.name, one, at_hand) for one in missing]
    whys.append(f"{typed(command.name + ' --help')} says more")
    examples = [Given(one, "", "", argument_words(command.name, one, at_hand)) for one in missing]
    return sorted([*slots, *examples], key=lambda one: command.kinds.index(one.kind))


def _left_over(left: Sequence[str], options: Sequence[Given], at_hand: AtHand) -> str:
    """What to tell of words that belong nowhere."""
    had = next((one.words for one in options if one.name == "--month" and one.words), ())
    each = [month_read(word, Asked("plan", "--month", at_hand)).ways for word in (" ".join(had), *left)]
    if had and all(each):
        several = ", ".join(dict.fromkeys(ways[0].words[0] for ways in each))
        return f"one month is meant; several stand in the season file as months: [{several}]"
    return f"{' '.join(left)} has no place there"


def _apart(words: Sequence[str], command: Command, at_hand: AtHand) -> Parts:
    parts, bare_ones = Parts(), list[str]()
    place = 0
    while place < len(words):
        word = words[place]
        found = parted(word, command)
        if found is None and (found := _without_dashes(word, command)):
            bare_ones.append(word)
        is_label = found is None and _is_label(words, place, command)
        if is_label:
            bare_ones.append(word.rstrip(":"))
            found = (word.casefold().rstrip(":"), None)
        if found is None:
            parts.arguments.append(word)
            place += 1
            continue
        bare, glued = found
        end = place + 1
        while end < len(words) and parted(words[end], command) is None:
            if end > place + 1 and _is_label(words, end, command):
                break
            end += 1
        behind = list(words[place + 1 : end])
        name = _name_of(word, bare, command, [] if is_label else parts.whys)
        if name is None:
            values = [glued] if glued else _without_call(behind, command, parts)
            end = place + 1 if glued else end
            parts.foreign.append((word.partition("=")[0], bare, values))
            place = end
            continue
        known = f"--{bare}" if f"--{bare}" in command.options else name
        if not command.options[name]:
            parts.options.append(Given("", name, known, ()))
            place += 1
            continue
        given = [*([glued] if glued else []), *behind]
        if not any(given) and command.name == "send" and command.kind_of(name) == kinds.CALL and parts.arguments:
            parts.options += [Given(kinds.CALL, name, known, (one,)) for one in parts.arguments]
            if name == "--again" and not any(one.name == "--yes" for one in parts.options):
                parts.options.append(Given("", "--yes", "--yes", ()))
            parts.whys.append(f"{name} stands before each call")
            parts.arguments.clear()
            place += 1
            continue
        if not any(given):
            given = [option_value(name, command.kind_of(name), at_hand)]
            parts.whys.append(f"{name} wants a value behind it, for instance {given[0]}")
            parts.options.append(Given(command.kind_of(name), name, known, tuple(given)))
            place += 1
            continue
        count = _taken_words(given, name, command, at_hand, parts)
        parts.options.append(Given(command.kind_of(name), name, known, tuple(given[:count])))
        place += 1 + count - bool(glued)
    if bare_ones:
        several = "stand without their dashes" if bare_ones[1:] else "stands without its dashes"
        parts.whys.insert(0, f"{', '.join(bare_ones)} {several}")
    return parts


def _without_call(behind: list[str], command: Command, parts: Parts) -> list[str]:
    """The words behind an option that is none of the command's; a call at their end is the command's own."""
    is_over = kinds.CALL in command.kinds and len(behind) > 1 and not any(map(is_call, parts.arguments))
    if not is_over or not is_call(behind[-1]) or is_call(behind[0]):
        return behind
    parts.arguments.append(behind[-1])
    return behind[:-1]


def _without_dashes(word: str, command: Command) -> tuple[str, str | None] | None:
    """`month=2027-03`: an option that stands without its dashes."""
    from pipeline.inputs.keys_said import keys_meant

    found = re.fullmatch(r"([A-Za-z][\w-]+)[=:](\S.*)", word)
    if not found or command.name in ("answer", "survey"):
        return None
    bare = found[1].replace("_", "-").casefold()
    exact = f"--{bare}" in command.options
    if exact or (command.name != "plan" and "." not in found[1] and len(meant_by(bare, command)) == 1):
        return bare, found[2]
    if any(names(bare, kind) for kind in command.kinds):
        return bare, found[2]
    tried = command.name in TRIED and command.name != "plan" and len(keys_meant(bare)) == 1
    return (bare, found[2]) if tried else None


def _is_label(words: Sequence[str], place: int, command: Command) -> bool:
    """Whether a word of `add` or `new` names an option, the word behind it being its value: `grid JO62 dish 1.8`."""
    word, behind = words[place].rstrip(":"), words[place + 1 : place + 2]
    if not behind or not word.isalpha():
        return False
    if command.name == "measure" and word.casefold() in PEAKS:
        return re.fullmatch(r"[+-]?\d+([.,]\d+)?", behind[0]) is not None
    if command.name not in ("add", "new") or behind[0].startswith("-"):
        return False
    if place and re.fullmatch(r"[\d.,]+", words[place - 1]) and not words[place].endswith(":"):
        return False  # a unit of the figure before it
    named = meant_by(word.casefold(), command) if len(word) > 2 or word.casefold() == "nf" else []
    return len(named) == 1 and command.options[named[0]]


def _name_of(word: str, bare: str, command: Command, whys: list[str]) -> str | None:
    """The option that is meant; None where it is none of this command."""
    from pipeline.inputs.keys_said import keys_meant

    shown = re.split("[=:]", word)[0]
    if f"--{bare}" in command.options or word in command.options:
        return command.first_names.get(f"--{bare}") or command.first_names[word]
    if any(names(bare, kind) for kind in command.kinds):
        return None
    meant = meant_by(bare, command)
    if len(meant) == 1:
        whys.append(f"there is no {shown}; {meant[0]} is meant")
        return meant[0]
    near = [] if meant or keys_meant(bare) else near_by(bare, command)
    if len(near) == 1:
        whys.append(f"there is no {shown}; did you mean {near[0]}?")
        return near[0]
    return None


def _taken_words(given: Sequence[str], name: str, command: Command, at_hand: AtHand, parts: Parts) -> int:
    """How many of the words behind an option are its value."""
    kind = command.kind_of(name)
    asked = Asked(command.name, name, at_hand)
    if len(given) < 2:
        return len(given)
    if kind == kinds.TEXT:
        end = len(given)
        needs = bool(command.kinds) and not parts.arguments and command.kinds[0] not in kinds.MAY_BE_LEFT_OUT
        if needs and command.kinds[0] in (kinds.CALL, kinds.FOLDER, kinds.PATH):
            is_call = re.fullmatch(r"(?=.*\d)(?=.*[A-Za-z])[A-Za-z0-9/]+", given[-1])
            end -= bool(is_call) if command.kinds[0] == kinds.CALL else 1
        if end > 1:
            text = " ".join(given[:end]).strip("'\u2018\u2019\u201c\u201d")
            shell = "; this shell takes double quotes, not single ones" if given[0].startswith("'") else ""
            parts.whys.append(f'a text of several words stands in double quotes: {name} "{text}"{shell}')
        return max(end, 1)
    if kind == kinds.SEASON and not is_taken(kinds.SEASON, given[0], asked):
        ends = [at for at, word in enumerate(given[:MOST_WORDS], 1) if word.casefold().endswith((".yaml", ".yml"))]
        if ends and ends[0] > 1:
            parts.whys.append(f'a name with blanks stands in double quotes: "{" ".join(given[: ends[0]])}"')
            return ends[0]
    if kind == kinds.CHANGE and len(given) > 2 and given[1].casefold() in ("to", "bis", "or", "oder", "ou", "o", "-"):
        return 3
    if kind == kinds.LOCATOR and is_taken(kind, given[0], asked) and is_taken(kind, given[0] + given[1], asked):
        return 2
    unit_next = kind in (kinds.FIGURE, kinds.WHOLE) and not re.search(r"\d", given[1]) and len(given[1]) < 8
    if kind == kinds.HEIGHTS or unit_next or not is_taken(kind, given[0], asked):
        for count in range(min(len(given), MOST_WORDS), 1, -1):
            text = " ".join(given[:count])
            if is_taken(kind, text, asked) or read_value(kind, text, asked).ways:
                return count
    return 1


def _ways(
    given: Given, command: Command, at_hand: AtHand, call: str, options: Sequence[Given], whys: list[str]
) -> list[Way]:
    """The ways of one value; as it was typed where it is taken, or nothing in it is known."""
    if not given.words:
        return [Way(())]
    text = " ".join(given.words)
    zones = any(one.name == "--zone" for one in options)
    asked = Asked(command.name, given.name, at_hand, call, zones, given.night)
    if given.kind in (kinds.FOLDER, kinds.PATH) and len(given.words) > 1:
        whys.append(f'a name with blanks stands in double quotes: "{text}"')
    is_several = given.kind == kinds.CALL and len(given.words) > 1
    if is_several or is_taken(given.kind, text, asked):
        if given.kind == kinds.INSTANT:
            whys += [f"{text}: date and time are one word"] if " " in text else []
            return [Way((text.replace(" ", "T"),))]
        if given.kind == kinds.CALL and len(given.words) > 1 and not given.name and command.name not in kinds.MANY:
            whys.append("one station at a time")
            calls = dict.fromkeys(at_hand.call_of(one) or one for one in given.words)
            return [Way((one,), f"{one} is meant") for one in calls]
        whole = given.kind not in (kinds.TIME_SAID, kinds.ANSWERS, kinds.HEIGHTS, kinds.CALL)
        return [Way((text,) if whole else given.words)]
    read = read_value(given.kind, text, asked)
    if not read.ways and not given.name and given.kind in (kinds.DATE, kinds.INSTANT):
        whys.append(f"{text} is no {'date' if given.kind == kinds.DATE else 'time'} as it is taken; for instance")
        return [Way(argument_words(command.name, given.kind, at_hand))]
    if not read.ways:
        return [Way((text,) if given.kind in (kinds.TEXT, kinds.FOLDER, kinds.PATH, kinds.SEASON) else given.words)]
    if read.why or not given.is_routed:
        whys.append(f"{given.name} {read.why or f'{text}{PLAINLY.get(given.kind, OTHERWISE)}'}".strip())
    return list(read.ways)


def _flat(chosen: Sequence[Way], slots: Sequence[Given], options: Sequence[Given]) -> list[str]:
    """The words of a line behind its command."""
    words: list[str] = []
    for way, given in zip(chosen, [*slots, *options], strict=True):
        if given.name and (way.words or not given.words):
            words.append(given.typed)
        words += [*way.words, *way.options]
    return words


def _as_typed(built: Sequence[str], words: Sequence[str], command: Command) -> bool:
    """Whether two lines mean the same to the parser: options may stand anywhere."""
    return _sorted_out(built, command) == _sorted_out(words, command)


def _sorted_out(words: Sequence[str], command: Command) -> tuple[list[str], list[str]]:
    arguments, options = [], []
    place = 0
    while place < len(words):
        word, equals, value = words[place].partition("=")
        takes = command.options.get(word)
        if takes is None:
            arguments.append(words[place])
        elif takes and not equals:
            options.append(" ".join(words[place : place + 2]))
            place += 1
        else:
            options.append(f"{word} {value}".strip())
        place += 1
    return arguments, sorted(options)
