"""The answer to a time that a partner proposed, ready to paste: short plain sentences, its own time first.

From the values of `agenda.proposal`; nothing of any other partner is told.
"""

from __future__ import annotations

import datetime as dt

from pipeline.agenda.proposal import Against, Judged
from pipeline.agenda.proposal_ends import EndThen
from pipeline.agenda.proposal_others import OtherTime
from pipeline.windows.rules import HORIZON, MINIMUM_ELEVATION, MOUNT_ELEVATION
from pipeline.wording import formats
from pipeline.wording.words import offset_words, span_words

# Below it the signals are called weak: the chance in words stands there.
SURE = 0.6
REASONS = {
    Against.NO_MODE: "we have no mode in common",
    Against.TAKEN: "our dish is taken then",
    Against.HOME_NOT_FREE: "nobody is at our dish then",
    Against.SUN: "the Sun is too near to the Moon",
    Against.WEAK: "the signals would be too weak",
    Against.NIGHT_FULL: "our dish is taken that night",
    Against.NIGHTS_USED: "we have no further night free",
    Against.ARRIVAL: "we cannot be at our dish in time",
}


def reply_words(judged: Judged, is_taken: bool = False) -> str:
    """`Yes, ...` or `That time is hard because ... Could you do ... instead?`; what is taken is a yes in any case."""
    zone = judged.partner.station.zone
    if is_taken or judged.agreed or not judged.against:
        return _yes(judged, zone)
    because = f"That time is hard because {_reason(judged)}"
    if judged.other is None:
        return f"{because}. We have found no other time yet. Which other days and hours could you be there?"
    there, utc = _when(judged.other, zone)
    return f"{because}. Could you do {there} instead?{utc}"


def _yes(judged: Judged, zone: dt.tzinfo | None) -> str:
    assert judged.chance is not None
    there, utc = _when(judged, zone)
    words = [f"Yes, {there} is good for us.{utc}"]
    words.append(f"The Moon is then {judged.partner.elevation_deg[0]:.0f} degrees up at your place.")
    if judged.chance < SURE:
        words.append(f"Signals will be weak: a contact in about {formats.odds(judged.chance)}.")
    words.append("You need not answer. We will send you the details.")
    return " ".join(words)


def _when(slot: Judged | OtherTime, zone: dt.tzinfo | None) -> tuple[str, str]:
    """`Saturday 13 March 2027, 21:00 to 22:00 your time (UTC+2)`, ` That is 19:00 to 20:00 UTC.`"""
    utc = f"{span_words(slot.start, slot.end, dt.UTC)} UTC"
    if zone is None:
        return utc, ""
    there = span_words(slot.start, slot.end, zone)
    if _dates(slot, zone) == _dates(slot, dt.UTC):
        utc = f"{formats.clock(slot.start)} to {formats.clock(slot.end)} UTC"
    return f"{there} your time ({offset_words(slot.start, slot.end, zone)})", f" That is {utc}."


def _dates(slot: Judged | OtherTime, zone: dt.tzinfo) -> list[dt.date]:
    return [moment.astimezone(zone).date() for moment in (slot.start, slot.end)]


def _reason(judged: Judged) -> str:
    """The weightiest, the Moon's at the end that has less of it."""
    first = judged.against[0]
    if first is not Against.MOON:
        return REASONS[first]
    ends = [(end, whose) for end, whose in ((judged.home, "our"), (judged.partner, "your")) if end.missed]
    if not ends:
        return "the Moon is just rising or setting"
    return f"the Moon is {formats.listed([_hidden(end, whose) for end, whose in ends])}"


def _hidden(end: EndThen, whose: str) -> str:
    rule = end.missed[0][0]
    if rule == HORIZON and end.elevation_deg[0] < 0.0:
        return f"{-end.elevation_deg[0]:.0f} degrees below {whose} horizon"
    if rule in (HORIZON, MINIMUM_ELEVATION):
        return f"too low at {whose} place"
    if rule == MOUNT_ELEVATION:
        return f"higher than {whose} antenna reaches"
    return f"where {whose} antenna does not turn"
