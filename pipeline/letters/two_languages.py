"""A letter in the partner's language with the English one beneath: nothing rests on a translation alone.

Both are made by the same function from the same view, which differs in the language of the station alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from pipeline.letters.document import Letter
from pipeline.wording import phrases
from pipeline.wording.speech import ENGLISH, ENGLISH_SPEECH, speech_for

if TYPE_CHECKING:
    from pipeline.plan.views import PartnerView


def english_view(view: PartnerView) -> PartnerView | None:
    """The same partner spoken to in English; None where it is already."""
    if view.station.language == ENGLISH:
        return None
    return replace(view, station=replace(view.station, language=ENGLISH))


def in_both(view: PartnerView, write: Callable[[PartnerView], Letter]) -> Letter:
    """What `write` makes of the view, with the English letter beneath and both subjects, the partner's first."""
    letter, other = write(view), english_view(view)
    if other is None:
        return letter
    english, speech = write(other), speech_for(view.station)
    note = speech.say(phrases.ENGLISH_BELOW)
    if not speech.is_read:
        note = f"{speech.say(phrases.NOBODY_READ_IT)} {note}"
    return replace(
        letter,
        english=english,
        subject=f"{letter.subject} / {english.subject}",
        heads=replace(letter.heads, note=note, english=ENGLISH_SPEECH.say(phrases.IN_ENGLISH)),
    )
