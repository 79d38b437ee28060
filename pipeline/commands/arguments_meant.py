"""The words of a line that stand without an option: each to the argument, or to the option, that its shape tells."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pipeline.commands import typed_words as kinds
from pipeline.commands.at_hand import AtHand
from pipeline.commands.figures_said import figure_key
from pipeline.commands.levels_said import GATHERED, gathered
from pipeline.commands.options_meant import Command
from pipeline.commands.sources import sources_meant
from pipeline.commands.typed_moments import is_month_word
from pipeline.commands.typed_values import LOCATOR, is_taken, read_value
from pipeline.commands.typed_words import CALLED
from pipeline.commands.ways import Asked
from pipeline.inputs import angles_said
from pipeline.inputs.keys_said import keys_meant
from pipeline.inputs.moments_said import CLOCK, DATE, Season, said_in
from pipeline.inputs.quantities import quantity
from pipeline.inputs.zones_said import abbreviations

CALL = re.compile(r"(?=[A-Za-z0-9/]*[A-Za-z])(?=[A-Za-z0-9/]*\d)[A-Za-z0-9]+(/[A-Za-z0-9]+)*", re.ASCII)
FIGURE = re.compile(r"[+-]?\d+([.,]\d+)?", re.ASCII)
FIGURES_PARTED = re.compile(r"(?i)\d+(?:[.,]\d+)?(?:m|cm|ft)/\d+(?:[.,]\d+)?k?w(?:/\d+(?:[.,]\d+)?db)?")
MEASURED = re.compile(rf"(?i)[+-]?\d+(?:[.,]\d+)?\s*(?:dbs?)?|{GATHERED.pattern}")
# Words that join others and say nothing of their own.
JOINING = """
and und et y e en og och ja i with mit avec con com for für pour para per the a of de von to please bitte only nur all
alle tous todos tutti slot from without ohne sans sin senza sem zonder utan uten bez now at in month monat mois mes
"""
GLUE = frozenset(JOINING.split())
AXES = ("azimuth_deg", "elevation_deg", "height_m")
WITHOUT = ("without", "no", "ohne", "sans", "sin", "senza", "sem", "zonder", "utan", "uten", "uden", "bez", "kein")
AROUND = "'\"\u2018\u2019\u201c\u201d,;"
FIGURES = ("--dish-diameter-m", "--power-w", "--noise-figure-db", "--gain-dbi", "--height-m")


@dataclass(frozen=True)
class Given:
    """An argument (without a name) or an option with its words; `typed` is the name to type."""

    kind: str
    name: str
    typed: str
    words: tuple[str, ...]
    is_routed: bool = False
    night: dt.date | None = None


def placed(
    command: Command, words: Sequence[str], options: Sequence[Given], at_hand: AtHand, whys: list[str]
) -> tuple[list[Given], list[Given], list[str]]:
    """Arguments in the order of the command, options with those that stood without their name, and what is left."""
    is_free = kinds.ANSWERS in command.kinds
    left = list(words) if is_free else [bare for word in words if (bare := word.strip(AROUND))]
    if is_free and left and is_call(left[0].rstrip(":")):
        left[0] = left[0].rstrip(":")
    if kinds.CALL in command.kinds and not is_free:
        left = [half for word in left for half in _halves(word)]
    if command.name in ("add", "new"):
        left = [half for word in left for half in (word.split("/") if FIGURES_PARTED.fullmatch(word) else [word])]
    if command.name == "measure":
        left = [half for word in left for half in (word.split("=") if sources_meant(word.split("=")[0]) else [word])]
        left = gathered([word for word in left if word.casefold() not in ("db", "dbs")], at_hand, whys)
    slots: list[Given] = []
    for kind in command.kinds:
        taken = TAKERS[kind](command, left, at_hand)
        for words_of_one in taken:
            for word in words_of_one:
                left.remove(word)
            slots.append(Given(kind, "", "", tuple(words_of_one)))
        if kind == kinds.CALL and taken and command.name in ("explain", "propose", "need", "answer"):
            ours = [word for word in left if word.upper() == at_hand.home] if any(map(is_call, left)) else []
            whys += ["home is always the other end, its call is left out"] if ours else []
            left[:] = [word for word in left if word not in ours]
    order = {kind: place for place, kind in enumerate(command.kinds)}
    slots.sort(key=lambda one: order[one.kind])
    found = _routed(command, left, list(options), at_hand, whys)
    night = next((one for one in slots if one.kind == kinds.DATE), None)
    return slots, [_of_night(one, night, at_hand) for one in found], left


def _halves(word: str) -> list[str]:
    """A call and a time that are typed as one word: `QF4LUM@2027-03-13T21:00Z`."""
    if len(calls := word.split("-")) == 2 and all(map(is_call, calls)):
        return calls
    found = re.fullmatch(r"([A-Za-z0-9/]+)[,@;=](.+)", word)
    if not found or not is_call(found[1]) or not re.search(r"\d", found[2]):
        return [word]
    return [found[1], *(part for part in re.split("[,;]", found[2]) if part)]


def _of_night(option: Given, night: Given | None, at_hand: AtHand) -> Given:
    """An option with the date of the night that is asked for."""
    if option.kind != kinds.CLOCK or night is None:
        return option
    dates = said_in(" ".join(night.words), (DATE,), at_hand.season).readings
    date = dates[0].date if dates else None
    return replace(option, night=date)


def is_call(word: str) -> bool:
    """Whether a word has the shape of a call, and of no figure, date or time."""
    if not CALL.fullmatch(word) or re.fullmatch(r"(?i)\d+([.,]\d+)?(m|cm|mm|ft|w|kw|k|db|dbi|dbm|mhz|ghz|h|z|s)", word):
        return False
    return len(word) > 2 and bool(said_in(word, (DATE, CLOCK)).unread)


def _calls(command: Command, left: Sequence[str], at_hand: AtHand) -> list[list[str]]:
    shaped = [word for word in left if is_call(word) or (_is_season(word) and at_hand.call_of(word))]
    if not shaped and command.name not in ("add", "new"):
        named = [word for word in left if at_hand.call_of(word)]
        left = [word for word in left if not _is_glue(word)]
        # A word that is none and stands where the call does: the command tells of it, with the calls there are.
        first: Sequence[str] = (
            [] if named or not left or "=" in left[0] or not said_in(left[0], (DATE, CLOCK)).unread else left[:1]
        )
        first = [] if command.name in kinds.MANY else first
        return [named[:1] or list(first)] if named or (first and len(left) >= len(command.kinds)) else []
    partners = [word for word in shaped if (at_hand.call_of(word) or word.upper()) in at_hand.partners]
    known = partners if len(shaped) > 1 else []
    if len(known) > 1 and command.name not in kinds.MANY:
        return [known]
    others = [word for word in shaped if not LOCATOR.fullmatch(word)]
    if command.name in kinds.MANY:
        return [[word] for word in shaped]
    chosen = (known or others or shaped)[:1]
    return [chosen] if chosen else []


def _times(command: Command, left: Sequence[str], at_hand: AtHand) -> list[list[str]]:
    """All words that are left, but for a file of the season and a call."""
    words = [word for word in left if not _is_season(word) and not (is_call(word) and command.name == "night")]
    kept = words if command.name == "night" and _both_dates(words) else _understood(words, at_hand.season)
    # What a partner wrote is told whole by the command, where a figure of it makes no sense.
    is_whole = command.name == "propose" and any(re.search(r"\d", word) for word in words if word not in kept)
    words = words if is_whole else kept
    joined = said_in(" ".join(words), (DATE, CLOCK), at_hand.season)
    if command.name == "night" and len(words) > 1 and not any(one.date and one.time for one in joined.readings):
        alone = [word for word in words if is_clock(word)]
        words = [word for word in words if word not in alone] or words
    return [words] if words else []


def _both_dates(words: Sequence[str]) -> bool:
    """Whether words are two dates: a night is often named by both of its own."""
    return len(words) == 2 and all(re.fullmatch(r"\d{4}-\d\d-\d\d|\d{1,2}[./-]\d{1,2}[./-]?", word) for word in words)


def _understood(words: list[str], season: Season) -> list[str]:
    """Words without those that nothing is known of, where the rest is a moment without them."""
    said = said_in(" ".join(words), (DATE, CLOCK), season)
    if len(words) > 1 and not said.unread and not said.readings:
        return _longest_run(words, season) or words
    unread = said.unread
    rest = [word for word in words if re.search(r"\d", word) or word.casefold().strip(".!?") not in unread]
    if len(rest) == len(words) - len(unread) and rest:
        return rest
    return _longest_run(words, season) or words


def _longest_run(words: list[str], season: Season) -> list[str]:
    """The most words beside each other that are a moment; none where no word is."""
    for count in range(len(words) - 1, 0, -1):
        for place in range(len(words) - count + 1):
            said = said_in(" ".join(words[place : place + count]), (DATE, CLOCK), season)
            if said.readings and not said.unread and any(one.date for one in said.readings):
                return words[place : place + count]
    return []


def _instants(command: Command, left: Sequence[str], at_hand: AtHand) -> list[list[str]]:
    if command.name != "measure":
        return _times(command, left, at_hand)
    place = next((at for at, word in enumerate(left) if sources_meant(word)), None)
    figure = _measured_at(left, place)
    rest = [word for at, word in enumerate(left) if at not in (place, figure)]
    return [_understood(rest, at_hand.season)] if rest else []


def _measured_at(left: Sequence[str], place: int | None) -> int | None:
    """Where the decibels stand: beside the source, a figure alone."""
    if place is None:
        return next((at for at in reversed(range(len(left))) if MEASURED.fullmatch(left[at])), None)
    beside = [at for at in (place + 1, place - 1) if 0 <= at < len(left) and MEASURED.fullmatch(left[at])]
    anywhere = [at for at, word in enumerate(left) if MEASURED.fullmatch(word)]
    return beside[0] if beside else anywhere[0] if len(anywhere) == 1 else None


def _source(command: Command, left: Sequence[str], at_hand: AtHand) -> list[list[str]]:
    found = [word for word in left if sources_meant(word)]
    return [found[:1]] if found else []


def _decibels(command: Command, left: Sequence[str], at_hand: AtHand) -> list[list[str]]:
    place = _measured_at(left, None)
    return [[left[place]]] if place is not None else []


def _all(command: Command, left: Sequence[str], at_hand: AtHand) -> list[list[str]]:
    return [list(left)] if left else []


def _paths(command: Command, left: Sequence[str], at_hand: AtHand) -> list[list[str]]:
    if command.name in kinds.MANY:
        flags = {word for name in command.own if not command.options[name] for word in CALLED.get(name, "").split()}
        return [[word] for word in left if not _is_season(word) and (word not in flags or Path(word).exists())]
    # A folder that `new` is to lay out may be one that has a season already: that is told by the command itself.
    is_new = command.name == "new"
    files = [word for word in left if "=" not in word and not (word.endswith(".yaml") if is_new else _is_season(word))]
    if command.name == "survey":
        files = [word for word in files if re.search(r"\.[A-Za-z]", word) or Path(word).exists()][:1]
    if not files or (files and Path(files[0]).exists()):
        return [files[:1]] if files else []
    if is_new and is_call(files[0]):
        return []
    years = [word for word in files[1:] if re.fullmatch(r"20\d\d", word)]
    plain = [word for word in files if word in years or not (is_call(word) or FIGURE.match(word) or "@" in word)]
    return [plain or files[:1]]


TAKERS: dict[str, Callable[[Command, Sequence[str], AtHand], list[list[str]]]] = {
    kinds.CALL: _calls,
    kinds.INSTANT: _instants,
    kinds.TIME_SAID: _times,
    kinds.DATE: _times,
    kinds.SOURCE: _source,
    kinds.FIGURE: _decibels,
    kinds.ANSWERS: _all,
    kinds.PATH: _paths,
    kinds.FOLDER: _paths,
}


def _is_season(word: str) -> bool:
    return Path(word).suffix.lower() in (".yaml", ".yml") or (Path(word) / "season.yaml").is_file()


def _is_glue(word: str) -> bool:
    """Whether a word joins others and says nothing of its own."""
    return word.casefold() in GLUE


def is_clock(word: str) -> bool:
    """Whether a word is a time of day, alone or behind a date."""
    said = said_in(word, (CLOCK,))
    return bool(said.readings) and bool(re.search(r"[:zZhH]|\d{4}$", word)) and not re.search(r"\d{4}-\d\d-", word)


def _routed(command: Command, left: list[str], options: list[Given], at_hand: AtHand, whys: list[str]) -> list[Given]:
    """The options, with those that words of these shapes can only belong to; such words are taken from `left`."""
    if command.name == "survey":
        left[:] = [word for word in left if not word.isalpha() or set(keys_meant(word)) & set(AXES) == set()]
    if "pdf" in map(str.casefold, left) and "--no-pdf" in command.own and any(word in WITHOUT for word in left):
        left[:] = ["--no-pdf" if word.casefold() == "pdf" else word for word in left]
    typed = list(left)
    left[:] = [word for word in left if not _is_glue(word)]
    routed: list[Given] = []
    spoken: list[str] = []
    for count in range(min(len(left), 5), 0, -1):
        place = 0
        while place + count <= len(left):
            words = left[place : place + count]
            name = option_of(command, words, [*options, *routed], at_hand)
            if not name:
                place += 1
                continue
            given = tuple(words) if command.options[name] else ()
            routed.append(Given(command.kind_of(name) if given else "", name, name, given, True))
            spoken.append(" ".join(words))
            del left[place : place + count]
    if routed:
        several = ", ".join(sorted(spoken, key=lambda text: typed.index(text.split()[0])))
        whys.append(
            f"{several} stand{'s' * (len(routed) == 1)} without {'its option' if len(routed) == 1 else 'options'}"
        )
    if command.name == "measure" and left and not any(one.name == "--remarks" for one in options):
        labels = {*CALLED["--remarks"].split(), *(name[2:] for name in command.own)}
        said = [word for word in left if word.casefold().strip(":") not in labels]
        if said:
            whys.append(f"{' '.join(said)} stands without its option")
            routed.append(Given(kinds.TEXT, "--remarks", "--remarks", (" ".join(said),), True))
        left[:] = []
    if any(one.name == "--shown" for one in routed):
        whys.append("letters writes those of all partners, and shows what one of them holds")
    return [*options, *sorted(routed, key=lambda one: command.own.index(one.name))]


def option_of(command: Command, words: Sequence[str], options: Sequence[Given], at_hand: AtHand) -> str:
    """The option that words most likely belong to; empty where none is plain."""
    text = " ".join(words)
    given = {one.name for one in options}
    for name in command.own:
        if name in given and name not in ("--what-if", "--drop", "--heights", "--inclinometer-offset"):
            continue
        kind = command.kind_of(name)
        if kind == kinds.SEASON and at_hand.call_of(text):
            continue  # the file of a station stands for its call
        if not command.options[name] and len(words) == 1:
            if text.casefold() in (name, name[2:]) or text.casefold() in CALLED.get(name, "").split():
                return name
            continue
        is_reader = command.name == "measure" and kind == kinds.CALL and at_hand.inputs is not None
        if is_reader and text.upper() not in (at_hand.home, *at_hand.partners):
            continue  # `Q65` has the shape of a call
        asked = Asked(command.name, name, at_hand)
        if _fits(kind, name, words, text, command) and (
            is_taken(kind, text, asked) or read_value(kind, text, asked).ways
        ):
            return name
    return ""


def _fits(kind: str, name: str, words: Sequence[str], text: str, command: Command) -> bool:
    """Whether a text has the shape of an option's value and of nothing else."""
    one = len(words) == 1
    digits = bool(re.search(r"\d", text))
    if kind == kinds.SEASON:
        return one and _is_season(text)
    if kind == kinds.MONTH:
        from pipeline.inputs.dates_said import month_of, months_meant

        is_month = bool(months_meant(text)) or month_of(text) is not None or is_month_word(text)
        is_month |= "--months" not in command.own and re.fullmatch(r"0?[1-9]|1[0-2]", text) is not None
        is_date = digits and not {"--from", "--after"} & set(command.own)
        return len(words) < 4 and not (one and is_call(text)) and (is_month or is_date)
    if kind == kinds.WHOLE:
        return digits and (one or len(words) == 2) and not re.search(r"\d{3}", text)
    if kind == kinds.DATE:
        return digits and not text.isdecimal() and not (one and is_call(text))
    if kind == kinds.CLOCK:
        return digits and not (one and is_call(text))
    if kind == kinds.CHANGE:
        return "=" in text or (not one and digits and not re.fullmatch(r"[\d\s.,:/-]+", text))
    if kind == kinds.HEIGHTS:
        pairs = len(words) % 2 == 0 and all(map(FIGURE.fullmatch, words))
        return bool(re.search(r"(?i)[\dnesw°]\s*[=:]\s*\d", text)) or (pairs and command.name == "survey")
    if kind == kinds.LOCATOR:
        if len(words) == 2 and command.name in ("add", "new"):
            each = all(re.search(r"[°NSEWnsew]", word) for word in words)
            return each and angles_said.pair(text) is not None
        return one and LOCATOR.fullmatch(text) is not None
    if kind == kinds.AXES:
        return one and re.match(r"(?i)[hv]\w*[=:][+-]?\d", text) is not None
    if kind == kinds.CALL:
        return name in ("--drop", "--station", "--shown", "--call") and one and is_call(text)
    if kind == kinds.MAIL:
        return one and "@" in text
    if kind == kinds.ZONE:
        return one and ("/" in text or (len(text) > 2 and text.isupper() and text in abbreviations()))
    if kind == kinds.WHOSE:
        return one and text.casefold() in ("home", "utc", "partner")
    if kind == kinds.FIGURE:
        return (
            command.name in ("add", "new") and name in FIGURES and _is_one_figure(words) and _is_figure_of(name, text)
        )
    return kind == kinds.BAND and one and digits and text.casefold().endswith(("cm", "ghz"))


def _is_one_figure(words: Sequence[str]) -> bool:
    """A word, or a figure and its unit."""
    return len(words) == 1 or (len(words) == 2 and not re.search(r"\d", words[1]))


def _is_figure_of(name: str, text: str) -> bool:
    """A figure with a unit of the option's; without one it is a dish or, above ten, a power."""
    if FIGURE.fullmatch(text):
        return name in ("--dish-diameter-m", "--power-w", "--noise-figure-db")
    unit = re.sub(r"[\d.,\s]", "", text).casefold()
    if unit not in (quantity(figure_key(name)) or ("", {}))[1]:
        return False
    return not (name == "--height-m" and unit in ("m", "cm", "ft")) and not (name == "--gain-dbi" and unit == "db")
