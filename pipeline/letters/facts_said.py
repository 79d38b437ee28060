"""What a partner's lines tell of its station: the sky, hours and figures that letters ask for, as `answer` takes them.

The forms are those that a letter's question asks for, in each of its languages. Only what the partner's file leaves
open; all of it is shown to the operator and nothing is written.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.inputs.model import Station
from pipeline.letters.station_answer import HOURS, PLACES, is_open
from pipeline.pairs.assumed import skyline_is_assumed
from pipeline.record.model import AskedSky

SKY = re.compile(r"\bsky\s*[:=]?\s*(free|\d{1,2}(?:[.,]\d+)?)\b", re.IGNORECASE)
STRETCH = re.compile(
    r"(?<![\d:])([01]?\d|2[0-4])[:h.]([0-5]\d)\s*(?:to|till|until|bis|à|a|alle|às|as|から|-|–|~)\s*"
    r"([01]?\d|2[0-4])[:h.]([0-5]\d)(?![\d:])",
    re.IGNORECASE,
)
FIGURE = re.compile(r"(\d+(?:[.,]\d+)?)\s*(w|watts?|m|db|dbi)?\.?", re.IGNORECASE)
UNITS = {"w": "power_w", "watt": "power_w", "watts": "power_w", "m": "dish_diameter_m", "dbi": "gain_dbi"}
DECIBELS = ("noise_figure_db", "loss_before_preamplifier_db")


def without_hours(lines: Sequence[str], slot_hours: Sequence[str]) -> tuple[str, ...]:
    """The lines without stretches of hours that are no slot's: a time in them asks for no slot."""
    return tuple(STRETCH.sub(lambda found: found[0] if _span(found) in slot_hours else " ", line) for line in lines)


def facts_in(
    lines: Sequence[str], station: Station, band: str, slot_hours: Sequence[str], asked_sky: AskedSky | None
) -> tuple[str, ...]:
    """`sky=free`, `hours=18:00-23:30`, `power_w=40`: what may be meant; `slot_hours` are stretches that are slots.

    Of its sky only where it was asked about: over which azimuths would not be known.
    """
    found: list[str] = []
    for line in lines:
        if asked_sky is not None and skyline_is_assumed(station):
            found += [f"sky={one[1].lower().replace(',', '.')}" for one in SKY.finditer(line)]
        if is_open(station, band, HOURS):
            spans = (_span(one) for one in STRETCH.finditer(line))
            found += [f"{HOURS}={span}" for span in spans if span not in slot_hours]
        if figure := FIGURE.fullmatch(line):
            keys = [key for key in _keys(figure[2]) if is_open(station, band, key)]
            found += [f"{key}={figure[1].replace(',', '.')}" for key in keys]
    return tuple(dict.fromkeys(found))


def _span(found: re.Match[str]) -> str:
    return f"{int(found[1]):02d}:{found[2]}-{int(found[3]):02d}:{found[4]}"


def _keys(unit: str | None) -> Sequence[str]:
    """The keys that a figure with this unit may be of."""
    figures = [key for key, place in PLACES.items() if place[0] == "bands"]
    if unit is None:
        return figures
    return DECIBELS if unit.lower() == "db" else [UNITS[unit.lower()]]
