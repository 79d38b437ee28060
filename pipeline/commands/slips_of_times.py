"""Slips in values of several words: date and clock, months by name, sources of noise in other languages, changes.

Each answer holds the whole line to type.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

from pipeline.commands.common import DEFAULT_SEASON

Line = Callable[..., str]
NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?", re.ASCII)
MONTH = re.compile(r"\d{4}-\d\d", re.ASCII)
MOST_WORDS = 3
MOST_CHANGE_WORDS = 5
# What `measure` reads, in everyday words of several languages. Those of two meanings stand in both.
SOURCES = {
    "sun": "sun sonne soleil sol sole zon solen aurinko słońce slunce slnko sonce sunce nap soare soarele слънце "
    "солнце сонце ήλιος güneş saule päike 太陽 太阳 태양",
    "moon": "moon mond lune luna lua maan måne månen kuu księżyc měsíc mesiac mjesec hold луна місяць φεγγάρι "
    "σελήνη ay mėnulis mēness 月 月亮 달",
    "ground": "ground earth boden erde sol suelo tierra terre terra terreno suolo chão solo grond aarde mark "
    "marken jord jorden maa ziemia grunt země zem zemlja föld pământ земля έδαφος toprak žemė zeme maapind 地面 地 땅",
    "echo": "echo echos écho eco eko ekko kaiku echa ozvěna visszhang ecou эхо ехо ηχώ yankı エコー 回波 에코",
}


@cache
def _sources() -> dict[str, tuple[str, ...]]:
    """What each folded word can stand for."""
    from pipeline.inputs.dates_said import folded

    found: dict[str, tuple[str, ...]] = {}
    for source, words in SOURCES.items():
        for word in words.split():
            found[folded(word)] = tuple(dict.fromkeys((*found.get(folded(word), ()), source)))
    return found


def measure_line(arguments: Sequence[str], options: Sequence[str], line: Line) -> str:
    """What to type for `measure` where its words are others, more, or in another order; empty where nothing is sure."""
    from pipeline.inputs.dates_said import folded

    words = [one for one in arguments if one.casefold() not in ("db", "dbs")]
    places = [place for place, word in enumerate(words) if folded(word) in _sources()]
    if len(places) != 1:
        return ""
    (place,) = places
    meant, *others = _sources()[folded(words[place])]
    near = [one for one in (place + 1, place - 1) if 0 <= one < len(words)]
    at = next((one for one in near if NUMBER.fullmatch(_bare(words[one]))), None)
    time = " ".join(word for one, word in enumerate(words) if one not in (place, at))
    if at is None or not time or [one.casefold() for one in arguments] == [time.casefold(), meant, words[at]]:
        return ""
    figure = _bare(words[at]).replace(",", ".")
    told = _instant_line(time, options, lambda one: line("measure", one, meant, figure, *options))
    return told + "".join(f"; where {words[place]} is {one}, write {one} for {meant}" for one in others)


def _bare(word: str) -> str:
    """A figure without its decibels."""
    return re.sub(r"(?i)\s*db$", "", word)


def explain_line(arguments: Sequence[str], options: Sequence[str], line: Line) -> str:
    """What to type for `explain` where date and clock are two words or more."""
    call, *time = arguments
    return _instant_line(" ".join(time), options, lambda one: line("explain", call, one, *options))


def _instant_line(time: str, options: Sequence[str], written: Callable[[str], str]) -> str:
    from pipeline.commands.moments import instant_advice

    try:
        if dt.datetime.fromisoformat(time).tzinfo is not None:
            return f"write {written(time.replace(' ', 'T'))}"
    except ValueError:
        pass
    return f"{time}: date and time are one word; {instant_advice(time, _home_zone(options), written)}"


def _home_zone(options: Sequence[str]) -> ZoneInfo | None:
    """Home's zone by the season that the line names; None where its files cannot be read."""
    from pipeline.inputs.faults import InputFaults
    from pipeline.record.inputs import read_inputs

    file = DEFAULT_SEASON
    for word, after in zip(options, [*options[1:], ""], strict=False):
        if word.partition("=")[0] == "--season":
            file = Path(word.partition("=")[2] or after)
    file = file / "season.yaml" if file.is_dir() else file
    try:
        return read_inputs(file, None).zone
    except (InputFaults, OSError):
        return None


def tried_line(words: Sequence[str], line: Line) -> str:
    """What to type where the change behind `--what-if` is parted by blanks and stands without quotes."""
    from pipeline.inputs.what_if import change_meant

    for place, word in enumerate(words):
        behind = list(words[place + 1 :]) if word == "--what-if" else []
        end = next((at for at, one in enumerate(behind) if one.startswith("--")), len(behind))
        text = " ".join(behind[:end])
        if 1 < end <= MOST_CHANGE_WORDS and (meant := change_meant(text)):
            return f"--what-if {text}: write {line(*words[: place + 1], meant, *behind[end:])}"
    return ""


def month_line(words: Sequence[str], line: Line) -> str:
    """What to type where `--month` has a month by its name, or in another order or several words."""
    from pipeline.inputs.dates_said import months_meant

    place = next((at for at, word in enumerate(words) if word.partition("=")[0] == "--month"), None)
    if place is None:
        return ""
    first = [words[place].partition("=")[2]] if "=" in words[place] else []
    behind = list(words[place + 1 :])
    end = next((at for at, word in enumerate(behind) if word.startswith("--")), len(behind))
    for count in range(min(end, MOST_WORDS), 0 if not first else -1, -1):
        text = " ".join([*first, *behind[:count]])
        months = months_meant(text)
        if len(months) > 1:
            put = line(*words[:place], "--month", months[0], *behind[count:])
            return f"--month takes one month: {put}; several stand in the season file as months: [{', '.join(months)}]"
        if len(months) == 1 and not MONTH.fullmatch(text) and not MONTH.fullmatch((first or behind)[0]):
            put = line(*words[:place], "--month", months[0], *behind[count:])
            return f"--month {text}: write {put}"
    return ""
