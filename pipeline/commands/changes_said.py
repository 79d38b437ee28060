"""A change that is tried, as people type it: of which station, which key, the value in the key's unit, or several."""

from __future__ import annotations

import re

from pipeline.commands.figures_said import figure_read
from pipeline.commands.ways import Asked, Read, Way

CHANGE = re.compile(
    r"(?:(?P<call>[A-Za-z0-9/]*\d[A-Za-z0-9/]*|home|my|own)[.\s:'s]+)?(?P<key>[^\W\d][\w\s.-]*?)\s*[:=\s]\s*"
    r"(?P<value>[+-]?[\d.,]*\d\s?[^\W\d]*%?)"
)

SEVERAL_VALUES = re.compile(
    r"(.*?[=:\s])\s*(\d+(?:\.\d+)?[a-zA-Z]{0,2}(?:\s*(?:[,;/]|\.\.+|-|\bto\b|\bbis\b|\bor\b|\boder\b|\bou\b|\bo\b)\s*\d+(?:\.\d+)?"
    r"[a-zA-Z]{0,2})+)"
    r"(\s?[^\W\d]*)"
)


def change_read(text: str, asked: Asked) -> Read:
    """A change of a station's figure; without a call it is home's, or that of a partner."""
    from pipeline.inputs.keys_said import keys_meant
    from pipeline.inputs.quantities import figure_in, quantity

    several = re.split(r"\s*[,;]\s*(?=[^\d\s])|\s+and\s+", text)
    if len(several) > 1:
        reads = [change_read(one, asked) for one in several]
        if not all(len(one.ways) == 1 for one in reads):
            return Read()
        first, *more = (one.ways[0].words[0] for one in reads)
        return Read((Way((first,), "", tuple(word for one in more for word in ("--what-if", one))),))
    if tried := _each_value(text, asked):
        return tried
    said = CHANGE.fullmatch(text)
    if not said:
        return Read()
    parts = [part for part in re.split(r"\.", said["key"]) if part]
    keys = keys_meant(parts[-1])
    if keys == ("antenna",):
        keys = ("dish_diameter_m",)
    if len(keys) != 1 or any(" " in part for part in parts[:-1]):
        return Read()
    key = ".".join([*parts[:-1], keys[0]])
    value = said["value"].strip()
    figure = figure_in(keys[0], value) if quantity(keys[0]) else value.replace(",", ".")
    if not figure:
        found = figure_read(value, Asked(asked.command, f"--{keys[0]}", asked.at_hand)).ways
        if len(found) != 1:
            return Read()
        figure = found[0].words[0]
    if not said["call"] and (place := season_place(key)):
        return Read((Way((f"{place}={figure}",)),))
    call = said["call"] or ""
    if call.casefold() in ("home", "my", "own"):
        call = asked.at_hand.home
    if call:
        return Read((Way((f"{call}.{key}={figure}",)),))
    home, partner = asked.at_hand.home or "CALL", asked.call or next(iter(asked.at_hand.partners), "")
    ways = [Way((f"{home}.{key}={figure}",), "your own station is meant")]
    ways += [Way((f"{partner}.{key}={figure}",), f"that of {partner} is")] if partner and partner != home else []
    return Read(tuple(ways), f"{text}: of which station?")


def _each_value(text: str, asked: Asked) -> Read | None:
    """Several values of one figure, to be tried one by one; None for one value, `2,4` and `1,000` among them."""
    found = SEVERAL_VALUES.fullmatch(text)
    if found is None or re.fullmatch(r"\d+,\d+|\d{1,3}(,\d{3})+", found[2]):
        return None
    figures = re.findall(r"(\d+(?:\.\d+)?)\s*([a-zA-Z]{0,2})", re.sub(r"\b(?:to|bis|or|oder|ou|o)\b", " ", found[2]))
    unit = found[3] or figures[-1][1]
    reads = [change_read(f"{found[1]}{one}{own or unit}", asked) for one, own in figures]
    if not all(len(one.ways) == 1 for one in reads):
        return None
    ways = [Way(one.ways[0].words, f"{figure} is tried") for one, (figure, _) in zip(reads, figures, strict=True)]
    return Read(tuple(ways), f"{text}: one value is tried at a time")


def season_place(key: str) -> str:
    """Where a key of the season alone stands in it; empty for those of stations."""
    from pipeline.inputs.keys_said import places
    from pipeline.inputs.model import Season, Station

    return "" if key in places(Station) or "." in key else next(iter(places(Season).get(key, ())), "")
