"""What no file states, as it is told beside what rests on it: hours that were assumed, skylines that nobody knows."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.wording import formats

SKYLINE_UNKNOWN = "skyline unknown"


def hours_assumed_words(calls: Sequence[str]) -> str:
    """`hours assumed for QF4LUM and QT8NUI: 07:00 to 23:30 by their clocks`; empty for nobody."""
    if not calls:
        return ""
    whose = "its clock" if len(calls) == 1 else "their clocks"
    return f"hours assumed for {formats.listed(calls)}: 07:00 to 23:30 by {whose}"


def no_best_night_words(heard: bool) -> str:
    """Why a partner with windows has no best night; `heard` where it could be worked at other hours."""
    return "no hour that both ends can use" if heard else "no chance better than unlikely"
