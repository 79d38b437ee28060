"""What no file states, as it is told beside what rests on it: hours that were assumed, skylines that nobody knows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipeline.wording import formats

SKYLINE_UNKNOWN = "skyline unknown"
# Of the figures of a link those that are asked for.
FIGURES = {"power_w": "power", "antenna": "antenna", "noise_figure_db": "noise figure"}


def hours_assumed_words(calls: Sequence[str]) -> str:
    """`hours assumed for QF4LUM and QT8NUI: 07:00 to 23:30 by their clocks; ask them`; empty for nobody."""
    if not calls:
        return ""
    whose, ask = ("its clock", "it") if len(calls) == 1 else ("their clocks", "them")
    return f"hours assumed for {formats.listed(calls)}: 07:00 to 23:30 by {whose}; ask {ask}"


def own_hours_assumed_words(file: str) -> str:
    """`your own hours assumed: 07:00 to 23:30; write available into my-station.yaml`: home's file states none."""
    return f"your own hours assumed: 07:00 to 23:30; write available into {file}"


def skylines_assumed_words(calls: Sequence[str], most_deg: float) -> str:
    """`skyline unknown for QT8NUI: taken to lie below 10 degrees in nine of ten; ask it`; empty for nobody."""
    if not calls:
        return ""
    below = f"taken to lie below {most_deg:g} degrees in nine of ten"
    return f"{SKYLINE_UNKNOWN} for {formats.listed(calls)}: {below}; ask {'it' if len(calls) == 1 else 'them'}"


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
