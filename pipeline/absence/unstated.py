"""What a partner's file leaves open of that on which the cause of its absence rests: who is told so can ask."""

from __future__ import annotations

from pipeline.absence.causes import Absence, Cause, Unstated
from pipeline.inputs.model import Station
from pipeline.pairs.assumed import assumed_figures, skyline_is_assumed

BY_HOURS = {Cause.HOURS_DO_NOT_MEET, Cause.STRETCH_TOO_SHORT, Cause.RULES_TOGETHER}
BY_CHANCE = {
    Cause.TOO_WEAK,
    Cause.EARNS_TOO_LITTLE,
    Cause.NIGHTS_EARN_TOO_LITTLE,
    Cause.OTHERS_WORTH_MORE,
    Cause.NIGHTS_FULL,
}


def unstated_behind(absence: Absence, station: Station, band: str) -> tuple[Unstated, ...]:
    """What of a partner's hours, skyline, equipment and modes is assumed and bears on the cause."""
    causes = {absence.cause, absence.second}
    found = []
    if causes & BY_HOURS and station.available is None:
        found.append(Unstated.HOURS)
    if causes & BY_CHANCE and skyline_is_assumed(station):
        found.append(Unstated.SKYLINE)
    if causes & BY_CHANCE and assumed_figures(station, band):
        found.append(Unstated.EQUIPMENT)
    if Cause.NO_COMMON_MODE in causes and {f"bands.{band}", f"bands.{band}.modes"} & set(station.assumed):
        found.append(Unstated.MODES)
    return tuple(found)
