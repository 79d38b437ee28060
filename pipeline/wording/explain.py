"""What is said of one instant's link and of a station's check: headline, notes, sources, and why there is nothing.

From the values of `explain`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from pipeline.explain.remarks import (
    AboveBestCase,
    BelowExposureLevels,
    BelowHorizon,
    BeyondEphemeris,
    FeedNote,
    FeedRule,
    Headline,
    HomeItself,
    InWindow,
    LinkHeadline,
    MeasuredNote,
    Missed,
    ModesApart,
    MoonBehind,
    MoonDown,
    Note,
    Obstacle,
    OutsideWindows,
    Remark,
    Sought,
    UnknownCall,
    Way,
)
from pipeline.record.model import Correction
from pipeline.wording import formats
from pipeline.wording.corrections import learnt_words
from pipeline.wording.measured import aside_words

REMARKS = {
    Remark.NO_LINK: "Not worked out: the Moon has to stand above both level horizons.",
    Remark.NOISE_LETTERS: "Behind the loss ahead of the preamplifier. u: share of the beam that the Moon fills,"
    " t: what the air lets through at each direction's own elevation. W, R, G and A together are 1.",
    Remark.CORRECTIONS_APART: "The plan adds these; the other figures here are the file's alone.",
}
FEEDS = {
    FeedRule.CIRCULAR: "A circular feed takes part: the offset does not matter.",
    FeedRule.FARADAY: "Faraday rotation decides on this band: the offset is no guide.",
    FeedRule.FIXED: "Neither feed can be turned.",
    FeedRule.TURN: "Turn one feed by 90 degrees at this instant: {who} can.",
    FeedRule.LEAVE: "Leave the feeds as they stand at this instant.",
}
SOUGHT = {Sought.PARTNER: "partner", Sought.STATION: "station"}


def headline_words(headline: Headline) -> str:
    """The link in one sentence, or why there is none."""
    match headline:
        case LinkHeadline(ways=ways, mode=mode, degradation_db=degradation):
            heard = f"{'; '.join(map(_way, ways))}{f' with {mode}' if mode else ''}"
            return f"{heard}; degradation {degradation:.1f} dB."
        case MoonBehind(ends=ends):
            where = _at_ends(ends, "degrees behind the skyline of")
            return f"No path: the Moon is {where}; the figures are those of a beam full of hill."
        case MoonDown(ends=ends):
            where = _at_ends(ends, "degrees below the level horizon of")
            return f"The Moon is {where}: there is no link to work out at this instant."


def note_words(note: Note) -> str:
    """The note of a section, with its full stop."""
    match note:
        case Remark():
            return REMARKS[note]
        case InWindow():
            return (
                f"In the mutual window from {_minute(note.start)} to {_minute(note.end)} UTC, "
                f"opened by {note.opens_by}, closed by {note.closes_by}."
            )
        case OutsideWindows():
            return _outside_windows(note)
        case MeasuredNote():
            return aside_words(note)
        case BelowHorizon(call=call):
            return f"The Moon is below the horizon of {call}."
        case FeedNote(rule=rule, who=who):
            return FEEDS[rule].format(who=who[0] if len(who) == 1 else "either end")
        case ModesApart(ends=ends):
            has = "; ".join(f"{call} has {', '.join(modes)}" for call, modes in ends)
            return f"The ends share no mode of the mode table: {has}."
        case AboveBestCase(call=call, rise_db=rise, best_k=best):
            return (
                f"Against the best case of this equipment: at {call} the noise stands {rise:.2f} dB above its"
                f" {best:.1f} K."
            )
        case BelowExposureLevels(frequency_mhz=frequency, lowest_mhz=lowest):
            return f"{frequency:g} MHz is below the range of these levels; {lowest:g} MHz and above would be right."


def source_words(source: str | Correction) -> str:
    """The source of a figure; of what logs have taught, on what it rests."""
    return learnt_words(source) if isinstance(source, Correction) else source


def obstacle_words(obstacle: Obstacle) -> str:
    """Why nothing can be worked out, and what would be right."""
    match obstacle:
        case UnknownCall(call=call, sought=sought, nearest=nearest, known=known):
            hint = f"{nearest} is the nearest; " if nearest else ""
            return f"{call}: no such {SOUGHT[sought]} in this season; {hint}there are {', '.join(known)}."
        case HomeItself(call=call, partners=partners):
            return f"{call} is home itself; a partner is meant: {', '.join(partners)}."
        case BeyondEphemeris(year=year):
            return f"no ephemeris reaches the year {year}; DE421 runs from 1900 to 2053."


def _way(way: Way) -> str:
    spare = "" if way.margin_db is None else f", margin {way.margin_db:.1f} dB"
    return f"{way.receiver} hears {way.sender} at {way.snr_db:.1f} dB{spare}"


def _at_ends(ends: Sequence[tuple[str, float]], where: str) -> str:
    return formats.listed([f"{degrees:.1f} {where} {call}" for call, degrees in ends])


def _outside_windows(note: OutsideWindows) -> str:
    because = f": {'; '.join(map(_missed, note.missed))}" if note.missed else ""
    following = (
        f"none follows up to the night of {note.last_night}"
        if note.opens is None
        else f"the next one opens {_minute(note.opens)} UTC"
    )
    return f"In no mutual window{because}; {following}."


def _missed(missed: Missed) -> str:
    return f"{missed.call} {missed.rule} missed by {missed.degrees:.1f} degrees"


def _minute(instant: dt.datetime) -> str:
    return f"{instant:%Y-%m-%d %H:%M}"
