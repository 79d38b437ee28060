"""What no file states, as it is told beside what rests on it: hours that were assumed, skylines that nobody knows."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from pipeline.agenda.hours import zone_of
from pipeline.inputs.model import Station
from pipeline.pairs.assumed import assumed_figures, skyline_is_assumed
from pipeline.wording import formats

SKYLINE_UNKNOWN = "skyline unknown"
# Of the figures of a link those that are asked for.
FIGURES = {"power_w": "power", "antenna": "antenna", "noise_figure_db": "noise figure"}
OWN_FIGURES = FIGURES | {"loss_before_preamplifier_db": "loss before the preamplifier"}
USUAL_HOURS = "07:00 to 23:30"


def hours_assumed_words(calls: Sequence[str]) -> str:
    """`hours assumed for QF4LUM and QT8NUI: 07:00 to 23:30 by their clocks; ask them`; empty for nobody."""
    if not calls:
        return ""
    whose, ask = ("its clock", "it") if len(calls) == 1 else ("their clocks", "them")
    return f"hours assumed for {formats.listed(calls)}: {USUAL_HOURS} by {whose}; ask {ask}"


def sun_hours_words(stations: Sequence[Station]) -> list[str]:
    """The hours of stations whose time zone nobody knows go by the Sun; a line for assumed ones and one for stated.

    `hours assumed for QB8OHI: 07:00 to 23:30 by the Sun (UTC−5:32), its time zone is not known; ask it`
    """
    silent = [one for one in stations if not one.time_zone and one.available is None]
    stated = [one for one in stations if not one.time_zone and one.available not in (None, "always")]
    lines = []
    for some, head, hours in ((silent, "hours assumed for", f": {USUAL_HOURS}"), (stated, "hours of", " taken")):
        if some:
            zones, ask = ("its time zone is", "it") if len(some) == 1 else ("their time zones are", "them")
            ahead = ", ".join(dict.fromkeys(formats.offset(zone_of(one).utcoffset(dt.datetime.min)) for one in some))
            calls = formats.listed([one.call for one in some])
            lines.append(f"{head} {calls}{hours} by the Sun ({ahead}), {zones} not known; ask {ask}")
    return lines


def own_assumed_words(home: Station, bands: Iterable[str], nine_in_ten_deg: float) -> list[str]:
    """A line each for the skyline and the equipment that home's own file does not state; `bands` are those in use."""
    file, lines = Path(home.file).name, []
    if skyline_is_assumed(home):
        below = below_words(nine_in_ten_deg)
        lines.append(f"your own skyline is unknown: {below}; measure it (survey) or write horizon into {file}")
    found = dict.fromkeys(figure for band in bands for figure in assumed_figures(home, band))
    if found:
        named = formats.listed([OWN_FIGURES[one] for one in found])
        lines.append(f"your own equipment assumed ({named}); write it into {file}")
    return lines


def below_words(most_deg: float) -> str:
    """How a skyline is taken that nobody knows; the same in `check`, `plan` and calendar."""
    return f"taken to lie below {most_deg:g} degrees in nine of ten"


def own_hours_assumed_words(file: str) -> str:
    """`your own hours assumed: 07:00 to 23:30; write available into my-station.yaml`: home's file states none."""
    return f"your own hours assumed: {USUAL_HOURS}; write available into {file}"


def skylines_assumed_words(calls: Sequence[str], most_deg: float) -> str:
    """`skyline unknown for QT8NUI: taken to lie below 10 degrees in nine of ten; ask it`; empty for nobody."""
    if not calls:
        return ""
    ask = "it" if len(calls) == 1 else "them"
    return f"{SKYLINE_UNKNOWN} for {formats.listed(calls)}: {below_words(most_deg)}; ask {ask}"


def equipment_assumed_words(figures: Mapping[str, Sequence[str]]) -> str:
    """`equipment assumed for QT8NUI (power and antenna); ask it`: what operators know by heart; empty for nobody."""
    known = {call: [FIGURES[one] for one in some if one in FIGURES] for call, some in figures.items()}
    each = [f"{call} ({formats.listed(some)})" for call, some in known.items() if some]
    if not each:
        return ""
    return f"equipment assumed for {formats.listed(each)}; ask {'it' if len(each) == 1 else 'them'}"


def no_best_night_words(heard: bool) -> str:
    """Why a partner with windows has no best night; `heard` where it could be worked at other hours."""
    return "no hour that both ends can use" if heard else "no chance better than unlikely"
