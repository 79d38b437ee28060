"""A figure of the command line in the unit of its key: decimal commas, units, degrees and minutes, per cent, levels."""

from __future__ import annotations

import re

from pipeline.commands import typed_words as kinds
from pipeline.commands.levels_said import levels_read
from pipeline.commands.ways import Asked, Read, Way


def figure_key(option: str) -> str:
    """The key whose unit an option's figure has."""
    return kinds.UNITS.get(option) or option.removeprefix("--").replace("-", "_")


def figure_read(text: str, asked: Asked) -> Read:
    """The figure, or each that it can be."""
    from pipeline.inputs import angles_said, numbers_said, quantities

    if asked.command == "measure" and not asked.option and (rise := levels_read(text)):
        return rise
    if asked.option == "--hold" and (share := re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*%", text)):
        return Read(
            (Way((f"{float(share[1].replace(',', '.')) / 100:g}",)),), f"{text}: contacts are counted, not per cent"
        )
    key = figure_key(asked.option)
    if key in ("latitude_deg", "longitude_deg"):
        advice = angles_said.advice(key.removesuffix("_deg"), text) or ""
        signed = re.findall(r"(-?[\d.]+\d|\d) for (east|west)", advice)
        if signed:
            return Read(tuple(Way((figure,), f"{side} is meant") for figure, side in signed))
        plain_one = re.match(r"write (-?[\d.]*\d)", advice)
        return Read((Way((plain_one[1],)),)) if plain_one else Read()
    if figure := quantities.figure_in(key, text):
        return Read((Way((figure,)),))
    advice = numbers_said.advice(key, text, lambda value: abs(value) < 1e6) or ""
    both = re.match(r"write (\S+) if the comma parts decimals, (\S+) if", advice)
    if both:
        return Read((Way((both[1],), "the comma parts decimals"), Way((both[2],), "it parts thousands")))
    one = re.search(r"(?:write|alone:) (?:for instance )?([+-]?\d[\d.]*)", advice)
    return Read((Way((one[1].rstrip("."),)),)) if one else Read()
