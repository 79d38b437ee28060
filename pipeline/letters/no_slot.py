"""Why a partner has no slot, told to the partner itself: kindly, in short sentences, with no word about others.

The plan's own sentences are the operator's and may name other partners: only the kind of cause is taken.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.wording import sentences
from pipeline.wording.speech import Speech, speech_for

if TYPE_CHECKING:
    from pipeline.plan.views import PartnerView
    from pipeline.windows.no_window import Hidden, NoWindow


def no_slot_words(view: PartnerView) -> str:
    """Short sentences: that there is no slot, why, and how often the Moon is up for both."""
    speech = speech_for(view.station)
    period = speech.period(view.first_night, view.last_night)
    if view.no_window is not None:
        return " ".join([speech.say(sentences.NO_COMMON_TIME, period=period), *_why_no_window(view.no_window, speech)])
    if view.mode is None:
        return speech.say(sentences.NO_COMMON_MODE, period=period)
    # Causes that may tell of others are passed over: then it hears only that there was no room.
    because = sentences.NO_ROOM_BECAUSE.get(view.cause) if view.cause else None
    often = len(view.windows)
    up = (
        speech.count(sentences.MOON_UP_ONE, sentences.MOON_UP_MANY, often)
        if often
        else speech.say(sentences.MOON_UP_NEVER)
    )
    return f"{speech.say(because or sentences.NO_ROOM, period=period)} {up}"


def _why_no_window(no_window: NoWindow, speech: Speech) -> list[str]:
    """Why the Moon is never up for both: at which end, and behind what."""
    degrees = f"{no_window.below_horizon_deg:.1f}"
    why = speech.say(sentences.NO_WINDOW[no_window.kind, no_window.end], degrees=degrees)
    return [why, *(_hidden(one, no_window.end, speech) for one in no_window.hidden_by)]


def _hidden(hidden: Hidden, end: str, speech: Speech) -> str:
    sentence = sentences.HIDDEN_BY.get((hidden.rule, end)) or sentences.OUT_OF_REACH[end]
    return speech.say(
        sentence,
        first=f"{hidden.azimuth_from_deg:.0f}",
        last=f"{hidden.azimuth_to_deg:.0f}",
        degrees=f"{hidden.minimum_elevation_deg:g}",
    )
