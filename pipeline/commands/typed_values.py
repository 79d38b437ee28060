"""A value of the command line by its kind: whether it is taken as it stands, else every way in which it can be meant.

Moments are read by `moments_said`, quantities by `numbers_said`, as in files.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo, available_timezones

from pipeline.commands import typed_words as kinds
from pipeline.commands.at_hand import LOCATOR
from pipeline.commands.changes_said import change_read
from pipeline.commands.figures_said import figure_read
from pipeline.commands.heights_said import heights_read
from pipeline.commands.typed_moments import clock_read, date_read, instant_read, month_read, said_read
from pipeline.commands.ways import Asked, Read, Way
from pipeline.inputs.odd_characters import plain

PLAIN_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)", re.ASCII)
HEIGHTS = re.compile(r"\d+(\.\d+)?=[+-]?\d+(\.\d+)?(,\d+(\.\d+)?=[+-]?\d+(\.\d+)?)*", re.ASCII)
YEARS = ("year", "years", "jahr", "jahre", "jahren", "an", "ans", "année", "año", "años", "ano", "anos", "anno", "anni")


def is_taken(kind: str, text: str, asked: Asked) -> bool:
    """Whether a value stands as the command takes it; what the command itself answers well is left to it."""
    check = TAKEN.get(kind)
    return check is None or check(text, asked)


def read_value(kind: str, text: str, asked: Asked) -> Read:
    """Every way in which a value that is not taken can be meant; none where nothing in it is known."""
    reader, said = READERS.get(kind), re.sub(r"\d", lambda found: str(int(found[0])), plain(text))
    return reader(said, asked) if reader and said else Read()


INSTANT = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:?\d\d(:\d\d)?([zZ]|[+-]\d\d(:?\d\d)?)", re.ASCII)


def _instant_taken(text: str, asked: Asked) -> bool:
    if not INSTANT.fullmatch(text):
        return False
    try:
        return dt.datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return False


def _said_taken(text: str, asked: Asked) -> bool:
    from pipeline.letters.times_said import TimeFault, require_said

    try:
        require_said(text)
    except TimeFault:
        return False
    return True


def _date_taken(text: str, asked: Asked) -> bool:
    try:
        return bool(dt.date.fromisoformat(text))
    except ValueError:
        return False


def _change_taken(text: str, asked: Asked) -> bool:
    from pipeline.inputs.faults import InputFaults
    from pipeline.inputs.quantities import quantity
    from pipeline.inputs.what_if import read_changes

    try:
        (change,) = read_changes([text])
    except InputFaults:
        return False
    if text.partition(".")[0].casefold() in ("home", "my", "own"):
        return False
    if " " in text.partition("=")[0] or text.partition("=")[2].startswith(" ") or text.count("=") > 1:
        return False
    number = isinstance(change.value, str) and quantity(change.keys[-1]) is not None and "." in text.partition("=")[0]
    return not number or PLAIN_NUMBER.fullmatch(str(change.value)) is not None or not re.search(r"\d", change.value)


def _zone_taken(text: str, asked: Asked) -> bool:
    return text in available_timezones()


TOLD = ("time_zone", "power_w", "dish_diameter_m", "gain_dbi", "noise_figure_db", "loss_before_preamplifier_db")
TOLD_SAID = re.compile(r"([^\W\d_][\w ]{2,}?)\s*[=:]\s*(\S.*)")


def _answers_taken(text: str, asked: Asked) -> bool:
    """Whether answers name no time, or one as it is taken, and what is told of equipment has its own key."""
    time = text.partition("@")[2].strip()
    told = TOLD_SAID.fullmatch(text)
    return (not time or _instant_taken(time, asked) or "=" in time) and not (told and _answers(text, asked).ways)


def _answers(text: str, asked: Asked) -> Read:
    """The time behind an answer, or a figure that a partner told, as they are taken."""
    from pipeline.inputs.keys_said import keys_meant

    word, at, time = (part.strip() for part in text.partition("@"))
    if at and time:
        read = instant_read(time, asked)
        return Read(tuple(Way((f"{word.replace(' ', '')}@{way.words[0]}",), way.when) for way in read.ways), read.why)
    told = TOLD_SAID.fullmatch(text)
    keys = keys_meant(told[1]) if told else ()
    if not told or len(keys) != 1 or keys[0] not in TOLD:
        return Read()
    if keys[0] == "time_zone":
        found = _zone(told[2], asked).ways[:1] if not _zone_taken(told[2], asked) else ()
    else:
        found = (
            ()
            if PLAIN_NUMBER.fullmatch(told[2])
            else figure_read(told[2], Asked("", f"--{keys[0]}", asked.at_hand)).ways
        )
    value = found[0].words[0] if found else told[2]
    return Read((Way((f"{keys[0]}={value}",)),)) if f"{keys[0]}={value}" != text else Read()


def _word_taken(text: str, asked: Asked) -> bool:
    """Whether a word is one of those that an option takes; `--instead` takes a letter."""
    if asked.option == "--instead":
        return re.fullmatch("[A-Za-z]{1,2}", text) is not None
    return asked.option not in kinds.CHOICES or text.casefold() in kinds.CHOICES[asked.option]


TAKEN: dict[str, Callable[[str, Asked], bool]] = {
    kinds.INSTANT: _instant_taken,
    kinds.TIME_SAID: _said_taken,
    kinds.DATE: _date_taken,
    kinds.CLOCK: lambda text, _: re.fullmatch(r"(\d{4}-\d\d-\d\d[T ])?\d\d:\d\d(:\d\d)?[zZ]", text) is not None,
    kinds.MONTH: lambda text, _: re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", text) is not None,
    kinds.FIGURE: lambda text, _: PLAIN_NUMBER.fullmatch(text) is not None,
    kinds.WHOLE: lambda text, _: re.fullmatch(r"-?\d+", text) is not None,
    kinds.SOURCE: lambda text, _: text.casefold() in ("ground", "sun", "moon", "echo"),
    kinds.CHANGE: _change_taken,
    kinds.HEIGHTS: lambda text, _: HEIGHTS.fullmatch(text.replace(" ", ",")) is not None,
    kinds.LOCATOR: lambda text, _: LOCATOR.fullmatch(text) is not None,
    kinds.ZONE: _zone_taken,
    kinds.WHOSE: lambda text, _: text in ("home", "utc", "partner"),
    kinds.WORD: _word_taken,
    kinds.ANSWERS: _answers_taken,
    kinds.PATH: lambda text, asked: asked.command != "review" or not (Path(text) / "log.csv").is_file(),
    kinds.SEASON: lambda text, _: Path(text).exists() or (" " not in text and Path(text).suffix != ""),
    kinds.MAIL: lambda text, _: "@" in text,
    kinds.CALL: lambda text, _: re.fullmatch(r"(?=.*\d)[A-Za-z0-9/-]+", text) is not None,
    kinds.AXES: lambda text, _: re.fullmatch(r"((horizontal|vertical)=)?([+-]?\d+(\.\d+)?|file)", text) is not None,
    kinds.BAND: lambda text, _: re.fullmatch(r"[\d.]+(cm|mm|m)", text.casefold()) is not None,
}


def _whole(text: str, asked: Asked) -> Read:
    found = re.fullmatch(r"(\d+|an?|one|ein|une?|uno?|um)(?:[.,]0)?\s*([^\W\d]*)\.?", text.casefold())
    if not found:
        return Read()
    number = int(found[1]) if found[1].isdecimal() else 1
    return Read((Way((str(number * (12 if found[2] in YEARS else 1)),)),))


def _locator(text: str, asked: Asked) -> Read:
    from pipeline.inputs.angles_said import pair

    bare = re.sub(r"[\s.\-_/]", "", text)
    if LOCATOR.fullmatch(bare):
        return Read((Way((bare,)),))
    places = pair(text)
    if places:
        options = ("--latitude-deg", places[0], "--longitude-deg", places[1])
        return Read((Way((), "", options),), f"{text} are coordinates, no locator")
    return Read()


def _zone(text: str, asked: Asked) -> Read:
    from pipeline.inputs.zones_said import abbreviations, another_systems, by_city

    same = next(
        (name for name in sorted(available_timezones()) if name.casefold() == text.casefold().replace(" ", "_")), ""
    )
    if same:
        return Read((Way((same,)),))
    if city := by_city(text):
        return Read((Way((city,)),))
    zones = abbreviations().get(text.upper(), ()) or tuple(filter(None, [another_systems().get(text.casefold())]))
    if len(zones) > 1 and asked.at_hand.locator:
        from pipeline.inputs.locator import position_of
        from pipeline.inputs.zone_of_place import clock, zones_open

        open_there = zones_open(*position_of(asked.at_hand.locator), asked.at_hand.locator)
        zones = tuple(zone for zone in open_there if clock(zone) in set(map(clock, zones))) or zones
    when = (
        (lambda zone: f"that is {zone.rpartition('/')[2].replace('_', ' ')}") if len(zones) > 1 else (lambda zone: "")
    )
    return Read(tuple(Way((zone,), when(zone)) for zone in zones[:3]))


def _whose(text: str, asked: Asked) -> str:
    """Whose clock a call or a zone is, a zone by what clocks show as the season begins; empty where it is neither's."""
    if text.upper() in (asked.at_hand.home, asked.call):
        return "home" if text.upper() == asked.at_hand.home else "partner"
    named = [one.words[0] for one in _zone(text, asked).ways] or ([text] if _zone_taken(text, asked) else [])
    noon = dt.datetime.combine(asked.at_hand.season.first, dt.time(12))
    shown = {noon.replace(tzinfo=ZoneInfo(name)).utcoffset() for name in named}
    owners = (("partner", asked.at_hand.zone_of(asked.call)), ("home", asked.at_hand.zone))
    return next((word for word, zone in owners if zone and noon.replace(tzinfo=zone).utcoffset() in shown), "")


def _choice(text: str, asked: Asked) -> Read:
    table = kinds.CHOICES.get(asked.option, {})
    alone = re.fullmatch(r"([A-Za-z0-9/]+)\s*[=:]\s*(\w+)", text)
    if asked.option == "--unlogged" and alone and alone[1].upper() in asked.at_hand.partners:
        told = f"{text}: one word is for all slots without a line; of {alone[1].upper()} alone `answer` tells"
        return Read(_choice(alone[2], asked).ways or (Way((alone[2],)),), told)
    if asked.option == "--zone" and (whose := _whose(text, asked)):
        return Read((Way((whose,)),), f"{text} is the clock of {whose}")
    said = re.sub(r"(?i)\s*(time|clock|zeit)$", "", text).casefold().replace(" ", "-")
    for word, called in table.items():
        if said == word or said in called.split():
            return Read((Way((word,)),))
    if asked.option == "--instead" and (letter := re.fullmatch(r"(?i)(?:slot\s+)?([a-z]{1,2})[:.=]?", text)):
        return Read((Way((letter[1].upper(),)),))
    if asked.option == "--zone":
        ways = (Way(("partner",), "the partner's clock is meant"), Way(("home",), "your own is"))
        return Read(ways, f"{text} names no clock of the two ends")
    return Read()


def _call(text: str, asked: Asked) -> Read:
    if known := asked.at_hand.call_of(text):
        return Read((Way((known,)),), f"{text} is {known}")
    calls = [one.upper() for one in re.split(r"[\s,;&+]+|\band\b|\bund\b", text) if one]
    if not calls or not all(re.fullmatch(r"(?=.*\d)(?=.*[A-Z])[A-Z0-9/]{3,}", one) for one in calls):
        return Read()
    if asked.option in ("--station", "--shown", "--call") and calls[1:]:
        return Read(tuple(Way((one,), f"{one} is meant") for one in calls), f"{text}: one station at a time")
    more = tuple(word for one in calls[1:] for word in ((asked.option, one) if asked.option else (one,)))
    return Read((Way((calls[0],), "", more),))


def _axes(text: str, asked: Asked) -> Read:
    found = re.fullmatch(r"(?i)(?:(h|v)\w*\s*[=:\s]\s*)?([+-]?[\d.,]+)\s*(?:°|deg\w*)?", text)
    if not found:
        return Read()
    name = {"h": "horizontal=", "v": "vertical="}.get((found[1] or "").lower(), "")
    return Read((Way((f"{name}{found[2].replace(',', '.')}",)),))


def _band(text: str, asked: Asked) -> Read:
    from pipeline.inputs.bands import band_of
    from pipeline.inputs.keys_said import is_band
    from pipeline.inputs.quantities import figure_in

    if band := is_band(text):
        return Read((Way((band,)),))
    figure = figure_in("frequency_mhz", text)
    sizes = [float(figure) * factor for factor in (1.0, 1000.0)] if figure else []
    band = next((name for size in sizes if (name := band_of(size))), None)
    return Read((Way((band,)),)) if band else Read()


def _source(text: str, asked: Asked) -> Read:
    from pipeline.commands.sources import sources_meant

    meant = sources_meant(text)
    return Read(tuple(Way((one,), f"{text} is the {one}" if len(meant) > 1 else "") for one in meant))


def _mail(text: str, asked: Asked) -> Read:
    found = re.fullmatch(r"(?:mailto:)?<?([^\s<>@]+)\s*(?:@|\(at\)|\[at\]|\bat\b)\s*([^\s<>@]+)>?", text)
    return Read((Way((f"{found[1]}@{found[2]}",)),)) if found else Read()


def _path(text: str, asked: Asked) -> Read:
    """A name of a file with blanks that is there; the log of a night's folder."""
    if asked.command == "review" and (Path(text) / "log.csv").is_file():
        return Read((Way(((Path(text) / "log.csv").as_posix(),)),), f"{text} is a folder, its log.csv is meant")
    return Read((Way((text,)),)) if " " in text and Path(text).exists() else Read()


READERS: dict[str, Callable[[str, Asked], Read]] = {
    kinds.INSTANT: instant_read,
    kinds.TIME_SAID: said_read,
    kinds.DATE: date_read,
    kinds.CLOCK: clock_read,
    kinds.MONTH: month_read,
    kinds.FIGURE: figure_read,
    kinds.WHOLE: _whole,
    kinds.SOURCE: _source,
    kinds.CHANGE: change_read,
    kinds.HEIGHTS: heights_read,
    kinds.LOCATOR: _locator,
    kinds.ZONE: _zone,
    kinds.WHOSE: _choice,
    kinds.WORD: _choice,
    kinds.CALL: _call,
    kinds.AXES: _axes,
    kinds.BAND: _band,
    kinds.MAIL: _mail,
    kinds.ANSWERS: _answers,
    kinds.PATH: _path,
    kinds.FOLDER: _path,
    kinds.SEASON: _path,
}
