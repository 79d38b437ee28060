"""Slips of the command line: words out of order, files without their option, names of options as people say them.

What can only mean one thing is taken so; for the rest there is one sentence with the line to type.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.commands.common import typed
from pipeline.commands.slips_of_times import explain_line, measure_line, month_line, tried_line

DASHES = "\u2010\u2011\u2012\u2013\u2014\u2015\u2212"
HELP, VERSION = ("help", "?", "/?", "/h", "-?", "-help", "--?", "/help"), ("-V", "-v", "version", "-version")
# What people call an option, by the option's own name.
CALLED = {
    "--call": "callsign mycall call-sign",
    "--dish-diameter-m": "dish diameter dish-diameter dish-size antenna reflector dish-m d",
    "--power-w": "power watts watt pwr tx-power output-power w p",
    "--noise-figure-db": "nf noise noise-figure",
    "--locator": "loc grid qth square maidenhead qth-locator wwl l",
    "--latitude-deg": "lat latitude",
    "--longitude-deg": "lon lng long longitude",
    "--height-m": "height alt altitude asl",
    "--email": "mail e-mail address email-address",
    "--time-zone": "tz timezone zone",
    "--polarization": "pol polarisation polarity",
    "--gain-dbi": "gain",
    "--operator": "op ops operator-name",
    "--language": "lang",
    "--name": "site site-name sitename",
    "--mode": "modes",
    "--out": "output dir folder outdir out-dir o output-dir directory",
    "--season": "file config input season-file f stations s",
    "--month": "m months period",
    "--from": "start since begin from-date after-date",
    "--no-pdf": "nopdf no-pdfs without-pdf html",
    "--what-if": "try whatif set",
    "--yes": "y force confirm go send",
    "--zone": "tz timezone clock time-zone",
    "--take": "accept agree yes",
    "--by-hand": "byhand hand manual",
    "--after": "from since later",
    "--drop": "without skip remove",
    "--json": "as-json",
    "--apply": "yes learn write",
}
VALUES = {
    "--month": "2027-03", "--season": "stations/season.yaml", "--out": "out", "--from": "2027-03-14",
    "--what-if": "QF4LUM.power_w=100", "--hold": "0.2", "--after": "23:10Z", "--drop": "QF4LUM", "--zone": "partner",
    "--locator": "GF25cl", "--dish-diameter-m": "1.8", "--power-w": "40", "--months": "12", "--instead": "A",
}  # fmt: skip
# What people type for a command; the sentence names it.
COMMANDS = {
    "plan": "calendar schedule month run start windows agenda calculate compute sked skeds",
    "year": "outlook season weekends",
    "new": "init create setup begin",
    "add": "partner station insert",
    "check": "list show stations validate test lint verify status info",
    "letters": "mail mails email invite invitations message messages write",
    "send": "deliver post",
    "answer": "reply confirm accept note",
    "replies": "inbox answers responses",
    "night": "tonight sheets sheet tonights",
    "measure": "measurement noise sun reading echo",
    "review": "log logs adif after learn",
    "import": "csv load roster table",
    "explain": "link budget why detail details",
    "propose": "proposal suggest",
}
CALL = re.compile(r"(?=[A-Za-z0-9/]*[A-Za-z])(?=[A-Za-z0-9/]*\d)[A-Za-z0-9]+(/[A-Za-z0-9]+)*")
MONTH = re.compile(r"\d{4}-\d\d")
DATE = re.compile(r"\d{4}-\d\d-\d\d")
TIME = re.compile(r"\d{4}-\d\d-\d\d[T ]?.*|\d{1,2}[./]\d{1,2}[./]\d{2,4}.*")
CLOCK = re.compile(r"\d{1,2}[:.]\d\d(?::\d\d)?\s?(?:[zZ]|UTC|utc)?|\d{4}[zZ]")
NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")


@dataclass(frozen=True)
class Command:
    """One command as the parser knows it: its options, which of them take a value, and the count of its arguments."""

    name: str
    options: Mapping[str, bool]
    arguments: int

    def parted(self, words: Sequence[str]) -> tuple[list[str], list[str]]:
        """Arguments, and options with their values."""
        arguments, options, takes = [], [], False
        for word in words:
            known = self.options.get(word.split("=")[0])
            if takes or known is not None:
                options.append(word)
                takes = known is True and "=" not in word and not takes
            else:
                arguments.append(word)
        return arguments, options


def commands_of(group: Any) -> dict[str, Command]:
    """All commands of the application by name."""
    found = {}
    for name, command in group.commands.items():
        options, count = {"-h": False, "--help": False}, 0
        for one in command.params:
            if one.param_type_name == "argument":
                count = 99 if one.nargs != 1 else count + 1
            else:
                options |= dict.fromkeys(one.opts, not one.is_flag)
        found[name] = Command(name, options, count)
    return found


def line(*words: str) -> str:
    """A line to type, with double quotes where a word holds blanks."""
    return typed(" ".join(f'"{word}"' if re.search(r"[\s;&<>|()]", word) else word for word in words))


def put_right(words: Sequence[str], commands: Mapping[str, Command]) -> list[str]:
    """The words with what can mean one thing only as the parser knows it: help, dashes, and the case of names."""
    words = list(words)
    if words and words[0] in VERSION:
        return ["--version", *words[1:]]
    if words and words[0].casefold() in HELP:
        rest = [one.casefold() for one in words[1:] if one.casefold() in commands]
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
    """An option with its dashes, underscores and case as it is known; any other word as it is."""
    found = re.fullmatch(rf"[-{DASHES}]{{1,2}}([A-Za-z][\w-]*)(=.*)?", word, re.DOTALL)
    if found is None or word.split("=")[0] in command.options:
        return word
    name = f"--{found[1].replace('_', '-').casefold()}"
    return name + (found[2] or "") if name in command.options else word


def slip(words: Sequence[str], commands: Mapping[str, Command]) -> str:
    """What is wrong with the words before the parser sees them, and the line to type; empty where nothing is."""
    if not words or words[0] in ("--help", "-h", "--version") or words[0].startswith("--install-completion"):
        return ""
    if words[0] not in commands:
        return _no_command(words, commands)
    command = commands[words[0]]
    if "--help" in words or "-h" in words:
        return ""
    arguments, options = command.parted(words[1:])
    unknown = [word for word in arguments if word.startswith("--")]
    if unknown:
        return ""
    if said := month_line(words, line) or tried_line(words, line):
        return said
    if command.name == "measure":
        return measure_line(arguments, options, line)
    ordered = _in_order(command.name, arguments)
    if ordered is not None and ordered != arguments and command.name == "explain":
        return explain_line(ordered, options, line)
    if ordered is not None and ordered != arguments:
        return f"the order is another one: {line(command.name, *ordered, *options)}"
    return ""


def _no_command(words: Sequence[str], commands: Mapping[str, Command]) -> str:
    first = words[0]
    named = next((word.casefold() for word in words if word.casefold() in commands), None)
    if named:
        place = [word.casefold() for word in words].index(named)
        return f"the command comes first: {line(named, *words[:place], *words[place + 1 :])}"
    meant = next((name for name, others in COMMANDS.items() if first.casefold() in others.split()), None)
    if meant:
        return f"there is no command {first}; {typed(meant)} is most likely meant, {typed('--help')} lists all"
    suffix = Path(first).suffix.lower()
    if suffix in (".yaml", ".yml") or Path(first).is_dir():
        return f"{first} is a file or folder, no command; to plan with it: {line('plan', '--season', first)}"
    if suffix in (".adi", ".adx"):
        return f"{first} is a log, no command: {line('review', first)}"
    if suffix == ".csv":
        return f"{first} is a table, no command: {line('import', first)}"
    if CALL.fullmatch(first) and not first.startswith("-"):
        return f"{first} is a call, no command; for instance {line('check', first.upper())}"
    if MONTH.fullmatch(first):
        return f"{first} is a month, no command: {line('plan', '--month', first)}"
    return ""


def _in_order(name: str, arguments: Sequence[str]) -> list[str] | None:
    """The arguments in the order that the command takes; None where nothing can be said of them."""
    calls = [one for one in arguments if CALL.fullmatch(one) and not TIME.fullmatch(one) and not CLOCK.fullmatch(one)]
    if name in ("explain", "propose", "answer") and len(calls) == 1 and len(arguments) > 1:
        return [calls[0], *(one for one in arguments if one != calls[0])]
    return None


def usage_words(error: Exception, words: Sequence[str], commands: Mapping[str, Command]) -> str:
    """A usage error of the parser in a sentence with what to type; empty where its own words are best."""
    command = commands.get(words[0]) if words else None
    if command is None:
        return ""
    kind = type(error).__name__
    if kind == "NoSuchOption":
        return _no_such_option(str(getattr(error, "option_name", "")), command, commands)
    message = str(getattr(error, "message", ""))
    if kind == "BadOptionUsage" and "argument" in message:
        option = str(getattr(error, "option_name", ""))
        return f"{option} wants a value behind it, for instance {option} {VALUES.get(option, '...')}"
    if "unexpected extra argument" in message:
        return _extra(command, words)
    if "valid number" in message or "valid integer" in message:
        option = str(getattr(getattr(error, "param", None), "opts", ["the value"])[-1])
        return _no_number(_value_of(option, words), option)
    return ""


def _value_of(option: str, words: Sequence[str]) -> str:
    """What stands behind an option."""
    for word, after in zip(words, [*words[1:], ""], strict=True):
        if word == option:
            return after
        if word.startswith(f"{option}="):
            return word.partition("=")[2]
    return ""


def _no_number(text: str, option: str) -> str:
    plain = text.replace(",", ".")
    if re.fullmatch(r"[+-]?\d+\.\d+", plain):
        return f"{option} {text}: write {option} {plain}, with a decimal point"
    found = re.match(r"[+-]?\d+(?:\.\d+)?", plain)
    return f"{option} {text}: a number alone is meant" + (f", such as {option} {found[0]}" if found else "")


def _no_such_option(option: str, command: Command, commands: Mapping[str, Command]) -> str:
    """What an unknown option most likely means: by what people call it, never by spelling alone."""
    bare = option.lstrip("-").replace("_", "-").casefold()
    own = [one for one in command.options if one.startswith("--") and one != "--help"]
    meant = [one for one in own if bare == one[2:] or bare in CALLED.get(one, "").split()]
    if not meant and len(bare) > 2:
        meant = [one for one in own if one[2:].startswith(bare)]
    if len(meant) == 1:
        return f"there is no {option}; {meant[0]} is meant"
    if meant:
        return f"there is no {option}; {' or '.join(meant)} is meant"
    near = [one for one in own if _one_slip(bare, one[2:])]
    if len(near) == 1:
        return f"there is no {option}; did you mean {near[0]}?"
    if bare in ("call", "callsign", "partner", "date", "time") and command.arguments:
        return f"there is no {option}: it stands without an option, right behind the command; {_example(command)}"
    others = [name for name, one in commands.items() if f"--{bare}" in one.options]
    if others:
        return f"{option} goes with {', '.join(others)}, not with {command.name}; {_example(command)}"
    few = f"{command.name} has {', '.join(own)}" if len(own) < 7 else f"{typed(command.name + ' --help')} lists them"
    return f"there is no {option}; {few}"


def _one_slip(word: str, name: str) -> bool:
    """Whether a word of some length is a name with one letter more, less, another or two turned round."""
    apart = [place for place, (one, other) in enumerate(zip(word, name, strict=False)) if one != other]
    if len(apart) == 2 and sorted(word) == sorted(name) and apart[1] - apart[0] == 1:
        return True
    if len(name) < 5 or abs(len(word) - len(name)) > 1:
        return False
    if len(word) == len(name):
        return len(apart) == 1
    longer, shorter = sorted((word, name), key=len, reverse=True)
    return any(longer[:place] + longer[place + 1 :] == shorter for place in range(len(longer)))


def _example(command: Command) -> str:
    return f"{typed(command.name + ' --help')} says more"


def _extra(command: Command, words: Sequence[str]) -> str:
    """Words that no argument is left for: a file or month without its option, or a text without its quotes."""
    arguments, options = command.parted(words[1:])
    extra = arguments[command.arguments :]
    begun = next((place for place, word in enumerate(words) if word.startswith("--") and word in command.options), None)
    for word in extra:
        said = _without_option(command, word)
        if said:
            others = [one for one in words[1:] if one != word]
            return f"{word} stands without its option: {line(command.name, *others, said, word)}"
    if command.name == "explain":
        return explain_line(arguments, options, line)
    if begun is not None and (quoted := _quoted(command, words)):
        return quoted
    if not command.arguments:
        return _month_named(command, words, extra) or _takes_none(command, extra)
    if command.name == "add" and re.fullmatch(r"[A-Ra-r]{2}\d\d([A-Xa-x]{2}(\d\d)?)?", extra[0]):
        told = line("add", arguments[0], "--locator", extra[0], *_figures(extra[1:]), *options)
        return f"each figure stands behind its option: {told}"
    if command.name == "night" and CALL.fullmatch(extra[0]):
        return (
            f"night takes a date alone; who cannot come is named so: {line('night', arguments[0], '--drop', extra[0])}"
        )
    kept = " ".join(extra)
    if command.name in ("new", "add", "import", "review", "replies") and len(extra) >= 1:
        whole = " ".join(arguments)
        return f"{kept} is one word too many; a name with blanks stands in double quotes: {line(command.name, whole)}"
    return f"{kept} is too much; {_example(command)}"


def _figures(words: Sequence[str]) -> list[str]:
    """Figures behind the options of their units; those without one are the dish and the power, in this order."""
    from pipeline.inputs.numbers_said import figure_in

    put: dict[str, str] = {}
    for text in re.findall(r"[+-]?\d[\d.,]*\s?[^\s\d]*", " ".join(words)):
        bare = NUMBER.fullmatch(text.strip()) is not None
        left = [key for key in ("dish_diameter_m", "power_w", "noise_figure_db") if key not in put]
        for key in left[:1] if bare else left:
            if figure := figure_in(key, text):
                put[key] = figure
                break
    return [word for key, figure in put.items() for word in (f"--{key.replace('_', '-')}", figure)]


def _month_named(command: Command, words: Sequence[str], extra: Sequence[str]) -> str:
    """A month in other words than 2027-03; empty where the words name none."""
    from pipeline.inputs.dates_said import month_of, months_meant

    if "--month" not in command.options:
        return ""
    text = " ".join(extra)
    months = months_meant(text)
    if len(months) == 1:
        kept = [word for word in words[1:] if word not in extra]
        return f"{text} stands without its option: {line(command.name, *kept, '--month', months[0])}"
    if month_of(text) is not None:
        return f"{text} is a month without its year and its option: --month 2027-{month_of(text):02d}, for instance"
    return ""


def _takes_none(command: Command, extra: Sequence[str]) -> str:
    call = next((word for word in extra if CALL.fullmatch(word)), None)
    if call:
        upper = call.upper()
        return (
            f"{command.name} takes no call; {line('check', upper)} tells of the station, "
            f"{line('explain', upper, '2027-03-13T23:10Z')} of the link"
        )
    return f"{command.name} takes options only, and {' '.join(extra)} is none; {_example(command)}"


def _without_option(command: Command, word: str) -> str:
    """The option that a word most likely belongs to; empty where none is plain."""
    suffix = Path(word).suffix.lower()
    candidates = (
        ("--season", suffix in (".yaml", ".yml") or (Path(word) / "season.yaml").is_file()),
        ("--month", MONTH.fullmatch(word) is not None),
        ("--months", word.isdecimal() and len(word) < 3),
        ("--from", DATE.fullmatch(word) is not None),
        ("--after", DATE.fullmatch(word) is not None or CLOCK.fullmatch(word) is not None),
        ("--what-if", re.fullmatch(r"[\w/]+(\.\w+)+=.*", word) is not None),
    )
    return next((option for option, fits in candidates if fits and option in command.options), "")


def _quoted(command: Command, words: Sequence[str]) -> str:
    """A text of several words behind an option, put between double quotes."""
    place, ends = 1, []
    while place < len(words):
        if command.options.get(words[place]) is True:
            end = place + 2
            while end < len(words) and not words[end].startswith("--") and words[end] not in command.options:
                end += 1
            ends.append((place, end))
            place = end
        else:
            place += 1
    long = [(place, end) for place, end in ends if end - place > 2]
    # Arguments may stand behind an option's value as well; a text has letters and is no call.
    long = [(place, end) for place, end in long if not CALL.fullmatch(words[place + 2])]
    if not long:
        return ""
    put, shown, at = [words[0]], "", 1
    for place, end in long:
        text = " ".join(words[place + 1 : end]).strip("'\u2018\u2019\u201c\u201d")
        shown = shown or f'{words[place]} "{text}"'
        put += [*words[at : place + 1], text]
        at = end
    single = any(words[place + 1].startswith("'") for place, _ in long)
    shell = "; this shell takes double quotes, not single ones" if single else ""
    return f"a text of several words stands in double quotes: {shown}{shell}. The whole: {line(*put, *words[at:])}"
