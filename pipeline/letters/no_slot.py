"""Why a partner has no slot, told to the partner itself: kindly, in one sentence, and never with a word about others.

The plan's own sentences are the operator's and may name other partners: only the kind of cause is taken.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.absence.causes import Cause
from pipeline.wording import formats
from pipeline.wording.no_windows import no_window_words

if TYPE_CHECKING:
    from pipeline.plan.views import PartnerView

# Causes of which a partner is told; of all others it hears only that there was no room.
TOLD = {
    Cause.HOURS_DO_NOT_MEET: "the hours at which you and we can be at our stations do not meet",
    Cause.TOO_WEAK: "our signals would be too weak by our figures",
    Cause.SUN_TOO_NEAR: "the Sun stands too near the Moon whenever both of us could be there",
    Cause.PARTNER_AWAY: "it would only fit on dates when you are away",
    Cause.OFFERS_DECLINED: "the times that we offered did not suit you and we found no other",
    Cause.STRETCH_TOO_SHORT: "the times that we share are too short",
    Cause.MOON_TOO_LOW: "the Moon stays too low in the times that we share",
}


def no_slot_words(view: PartnerView) -> str:
    """One sentence or two."""
    period = formats.period_title(view.first_night, view.last_night)
    if view.no_window is not None:
        why = no_window_words(view.no_window, view.home.call, view.call)
        return f"Sadly the Moon gives us no common time in {period}: {why}."
    if view.mode is None:
        return f"We have no time for you in {period} yet, because we share no mode. Which modes can you use?"
    cause = TOLD.get(view.cause) if view.cause else None
    count = formats.count(len(view.windows), "time", "times")
    told = f"Sadly we could not fit in a slot for you in {period}" + (f": {cause}" if cause else "")
    return f"{told}. The Moon is up for both of us {count}."
