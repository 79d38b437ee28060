"""Options that a command has not: an argument by another name, a key of a file, or an option of another command."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

from pipeline.commands import typed_words as kinds
from pipeline.commands.arguments_meant import Given, option_of
from pipeline.commands.at_hand import AtHand
from pipeline.commands.common import typed
from pipeline.commands.lines import line, message
from pipeline.commands.named_instead import left_out
from pipeline.commands.options_meant import Command, meant_by, near_by, without_accents
from pipeline.commands.sources import sources_meant
from pipeline.commands.typed_moments import dates_between
from pipeline.commands.typed_values import read_value
from pipeline.commands.typed_words import CALLED
from pipeline.commands.ways import Asked
from pipeline.inputs import days_said

MOMENT = (
    "date time when at on day datum tag zeit uhrzeit um am heure jour fecha hora dia data ora giorno tijd dag tid "
    "klocka kl paivamaara aika czas godzina cas hodina"
)
# Options that people make of arguments, by the kind of the argument.
NAMED = {
    kinds.CALL: "call callsign partner station with to dx who for",
    kinds.INSTANT: f"utc instant start {MOMENT}",
    kinds.TIME_SAID: f"utc start proposed {MOMENT}",
    kinds.DATE: f"night month nacht nuit noche notte noite natt {MOMENT}",
    kinds.PATH: "file log adif input folder dir path mbox csv i f roster table card in from",
    kinds.FOLDER: "folder dir path out directory o in to",
    kinds.SOURCE: "source what of kind type",
    kinds.FIGURE: "value db level reading rise y result",
    kinds.ANSWERS: "answer slot reply says said a b c",
}
# Commands that show what equipment gives: a figure tried there is one for --what-if.
TRIED = ("plan", "need", "explain", "check", "year", "weather", "sites", "night", "letters")
# What a word means as an option of a command that plans.
KEYS_HERE = {"site": ("home_site",), "home-site": ("home_site",), "weekday": ("nights",), "weekdays": ("nights",)}
# Keys whose names are everyday words: as an option they mean something else.
NO_NAMES = ("from", "to", "least", "most", "days", "check", "arrive", "align", "home", "presence", "operators", "name")
UNTIL = ("to", "until", "till", "end", "bis", "hasta", "fin", "al", "tot", "til", "do", "last", "up-to")
DRY = (
    "dry-run dryrun dry test simulate simulation preview only-show show-only no-send nosend pretend probe essai prueba"
)
AZIMUTH, ELEVATION = "azimuth_deg", "elevation_deg"


@dataclass
class Parts:
    """A line taken apart: its arguments, its options with their words, options of others, and what is to be told."""

    arguments: list[str] = field(default_factory=list)
    options: list[Given] = field(default_factory=list)
    foreign: list[tuple[str, str, list[str]]] = field(default_factory=list)
    pairs: dict[str, str] = field(default_factory=dict)
    whys: list[str] = field(default_factory=list)


def names(bare: str, kind: str) -> bool:
    """Whether an option's name is that of an argument of a kind, in whichever language."""
    also = {kinds.CALL: ("--station", "--call"), kinds.PATH: ("--season",), kinds.FOLDER: ("--out",)}.get(kind, ())
    words = " ".join([NAMED.get(kind, ""), *(CALLED[one] for one in also)]).split()
    return without_accents(bare) in words


def foreign(
    given: tuple[str, str, list[str]], parts: Parts, command: Command, commands: dict[str, Command], at_hand: AtHand
) -> str:
    """What to tell of an option that the command has not; where its value is an argument, it is put among those."""
    from pipeline.inputs.keys_said import keys_meant

    shown, bare, values = given
    if values and any(names(bare, one) for one in command.kinds):
        parts.whys.append(f"there is no {shown}: it stands without an option, right behind the command")
        is_slot = kinds.ANSWERS in command.kinds and len(bare) == 1
        parts.arguments += [f"{bare.upper()}={' '.join(values)}"] if is_slot else values
        return ""
    if command.name == "plan" and bare in UNTIL and values:
        begun = next((one.words[0] for one in parts.options if one.name == "--from"), f"{at_hand.season.first}")
        if stretch := stretch_of(f"{begun} - {' '.join(values)}", at_hand):
            return of_dates(f"{shown} {' '.join(values)}", stretch, at_hand)
    if command.name == "measure" and sources_meant(bare) and values:
        parts.whys.append(f"there is no {shown}: what was read stands without an option")
        parts.arguments += [bare, *values]
        return ""
    if command.name == "plan" and (told := left_out(shown, without_accents(bare), values, at_hand)):
        return told
    keys = keys_meant(bare)
    if command.name == "survey" and keys[:1] in ((AZIMUTH,), (ELEVATION,)) and values:
        parts.pairs[keys[0]] = values[0]
        return ""
    keys = KEYS_HERE.get(bare, keys) if bare not in ("month", "from") else ()
    if command.name == "need" and keys == ("modes",):
        parts.whys.append(f"need takes no {shown}: it says itself which mode would do")
        return ""
    if len(keys) == 1 and values and command.name in TRIED and keys[0] not in NO_NAMES:
        figures = [f"{keys[0]}={' '.join(values)}"]
        for _, other, said in parts.foreign:
            more = keys_meant(other) if other != bare else ()
            figures += [f"{more[0]}={' '.join(said)}"] if len(more) == 1 and said else []
        told = tried(shown, figures, parts, command, at_hand)
        return told or of_file(shown, keys[0], values, at_hand)
    return _of_others(given, parts, command, commands, at_hand)


def _of_others(
    given: tuple[str, str, list[str]], parts: Parts, command: Command, commands: dict[str, Command], at_hand: AtHand
) -> str:
    """The same of an option of another command, or of none."""
    shown, bare, values = given
    having = [name for name, one in commands.items() if f"--{bare}" in one.options]
    if having:
        parts.whys.append(f"{shown} goes with {', '.join(having)}, not with {command.name}")
        if not commands[having[0]].options.get(f"--{bare}", True):
            parts.arguments += values
        return ""
    if bare in DRY.split() and (
        real := next((one for one in ("--yes", "--apply", "--take") if one in command.own), "")
    ):
        parts.whys.append(f"there is no {shown}: without {real} it only shows, and nothing is sent or noted")
        return ""
    few = f"{command.name} has {', '.join(command.own)}"
    if len(command.own) > 6:
        few = f"{typed(command.name + ' --help')} lists them"
    if bare == "pdf" and "--no-pdf" in command.own and values[:1] in (["no"], ["off"], ["false"], ["0"]):
        parts.whys.append(f"there is no {shown}; --no-pdf is meant")
        parts.options.append(Given("", "--no-pdf", "--no-pdf", ()))
        return ""
    meant = meant_by(bare, command) or near_by(bare, command)
    fitting = option_of(command, values, parts.options, at_hand) if values and meant else ""
    if fitting and (fitting in meant or command.kind_of(fitting) == kinds.DATE):
        parts.whys.append(f"there is no {shown}; {fitting} is meant")
        parts.options.append(Given(command.kind_of(fitting), fitting, fitting, tuple(values)))
        return ""
    if meant:
        return f"there is no {shown}; {' or '.join(meant)} is meant"
    if values and not _has_a_shape(values, command, at_hand):
        if not parts.arguments:
            return f"there is no {shown}; {few}"
        parts.whys.append(f"there is no {shown}; {few}")
        return ""
    parts.whys.append(f"there is no {shown} here ({few})")
    parts.arguments += values
    return ""


def _has_a_shape(values: Sequence[str], command: Command, at_hand: AtHand) -> bool:
    """Whether the words behind an unknown option can only belong to one that is known."""
    name = option_of(command, values, (), at_hand)
    return bool(name) and command.kind_of(name) not in (kinds.FIGURE, kinds.WHOLE, kinds.TEXT)


def tried(shown: str, texts: Sequence[str], parts: Parts, command: Command, at_hand: AtHand) -> str:
    """Figures of equipment behind a command that takes none: the plan that tries them; empty where they are none."""
    call = next((one for one in parts.arguments if one.upper() in at_hand.partners), "")
    asked = Asked("plan", "--what-if", at_hand, call.upper())
    reads = [read for text in texts if (read := read_value(kinds.CHANGE, text, asked)).ways]
    if not reads:
        return ""
    kept = [
        word for one in parts.options if one.name in ("--season", "--out", "--month") for word in (one.name, *one.words)
    ]
    # Each figure's ways are home's and the partner's, in this order.
    each = [
        [word for read in reads for word in ("--what-if", read.ways[min(place, len(read.ways) - 1)].words[0])]
        for place in range(max(len(read.ways) for read in reads))
    ]
    whens = max((read.ways for read in reads), key=len)
    lines = [(line("plan", *words, *kept), way.when) for words, way in zip(each, whens, strict=True)]
    if call:
        lines.reverse()
    what = "says itself which dish, power or noise figure would do" if command.name == "need" else "goes by the files"
    if command.name == "plan":
        return message([f"{shown} is no option: a value is tried so"], lines)
    return message([f"{command.name} takes no {shown}: it {what}; to try another value"], lines)


def of_file(shown: str, key: str, values: Sequence[str], at_hand: AtHand) -> str:
    """A key of the season or of a station behind a command: where it stands, and how it is tried."""
    from pipeline.inputs.keys_said import places, written_out
    from pipeline.inputs.model import Season, Station

    if key == "dates" and (stretch := stretch_of(" ".join(values), at_hand)):
        return of_dates(" ".join(values), stretch, at_hand)
    said = value_of(key, " ".join(values))
    of_season = places(Season).get(key, ())
    place = next(iter(of_season or places(Station).get(key, ())), "")
    if not place:
        return ""
    band = at_hand.inputs.season.band if at_hand.inputs else "3cm"
    file = at_hand.file.as_posix() if of_season else "a station's file"
    told = f"{shown} is no option, it is a line of {file}: `{written_out(place, said, band)}`"
    if not of_season or place.startswith(("letters", "operators", "partners", "report")):
        return told
    change = f"season.{place}={said}"
    return message([f"{told}; to try it"], [(line("plan", "--what-if", change), "")])


def stretch_of(text: str, at_hand: AtHand) -> str:
    """The first and the last of several dates as a file has them; empty for any other text."""
    both = dates_between(text, at_hand.season)
    return f"{both[0]}/{both[1]}" if both else ""


def of_dates(text: str, stretch: str, at_hand: AtHand) -> str:
    """A stretch of dates: the month that it is, or where it stands in the season file."""
    first, last = (dt.date.fromisoformat(one) for one in stretch.split("/"))
    if (
        first.day == 1
        and (last + dt.timedelta(days=1)).day == 1
        and (first.year, first.month) == (last.year, last.month)
    ):
        return message([f"{text} is a whole month"], [(line("plan", "--month", f"{first:%Y-%m}"), "")])
    told = f"{text}: dates stand in {at_hand.file.as_posix()} as `dates: {stretch}`, in place of months"
    return message([f"{told}; for what is left from its first date on"], [(line("plan", "--from", f"{first}"), "")])


def value_of(key: str, said: str) -> str:
    """A value as a file has it: days by their English letters, or the words as they are."""
    days = days_said.day_list(said) or tuple(day for day, _ in days_said.days_meant(said)[:1])
    if key == "nights" and days:
        return days_said.in_brackets(days)
    return said
