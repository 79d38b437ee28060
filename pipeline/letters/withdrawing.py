"""The mail that takes slots back: a letter of a few lines, of which only subject and lead are its own."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from pipeline.letters.building import slots_words
from pipeline.letters.document import Letter
from pipeline.letters.offers import OfferedSlot
from pipeline.wording import sentences
from pipeline.wording.speech import speech_for
from pipeline.wording.words import one_time

if TYPE_CHECKING:
    from pipeline.plan.views import PartnerView


def withdrawal_letter(
    view: PartnerView, letter: Letter, withdrawn: tuple[OfferedSlot, ...], has_letter: bool
) -> Letter:
    """The few lines that go with a withdrawal; the letter itself says the rest, where one goes with it."""
    zone, speech = view.station.zone, speech_for(view.station)
    times = tuple(
        speech.say(
            sentences.WITHDRAWN_LINE, label=slot.label, time=one_time(slot.start_utc, slot.end_utc, zone, speech)
        )
        for slot in withdrawn
    )
    period = speech.period(view.first_night, view.last_night)
    rest = speech.say(sentences.OUR_LETTER_SAYS if has_letter else sentences.NO_OTHER_TIME, period=period)
    labels = slots_words([slot.label for slot in withdrawn], speech)
    return dataclasses.replace(
        letter,
        subject=speech.say(sentences.SUBJECT_WITHDRAWN, home=letter.home_call, slots=labels),
        changes=(),
        lead=(*times, speech.say(sentences.WITHDRAWN_SORRY)),
        slots=(),
        ask=(rest,),
        sections=(),
    )
