"""The one question of a letter in words: what was guessed stands in it, so that "yes" is an answer too.

From the question of `operating.one_question`; the sentences stand in `wording.phrases`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.letters.station_words import usual_hours
from pipeline.operating.one_question import one_question
from pipeline.outlook.questions import Thing
from pipeline.record.model import AskedSky
from pipeline.wording import formats, phrases, sentences
from pipeline.wording.speech import speech_for

if TYPE_CHECKING:
    from pipeline.inputs.model import BandEquipment
    from pipeline.plan.views import PartnerView

# What `answer` takes for each thing, with a value to show how it is written.
EXAMPLES = {
    Thing.SKY: "sky=free",
    Thing.HOURS: "hours=18:00-23:30",
    Thing.POWER: "power_w=40",
    Thing.ANTENNA: "dish_diameter_m=1.8",
    Thing.NOISE: "noise_figure_db=0.8",
    Thing.LOSS: "loss_before_preamplifier_db=0.1",
}
GAIN_EXAMPLE = "gain_dbi=18"


def question_words(view: PartnerView, short: bool = False) -> str:
    """The question; empty where there is none. It has fewer words in a chat (`short`)."""
    asked, speech = one_question(view), speech_for(view.station)
    if asked is None:
        return ""
    if isinstance(asked, AskedSky):
        return speech.say(
            sentences.CHAT_SKY if short else sentences.SKY_QUESTION,
            first=f"{asked.azimuth_from_deg:.0f}",
            last=f"{asked.azimuth_to_deg:.0f}",
            above=f"{asked.above_deg:.0f}",
        )
    equipment = view.station.bands[view.band]
    sentence = phrases.GAIN_QUESTION if _by_gain(asked, equipment) else phrases.QUESTIONS[asked]
    words = speech.say(sentence, guess=_guess(asked, view))
    if short:
        return words
    reply = speech.say(phrases.REPLY_HOURS if asked is Thing.HOURS else phrases.REPLY_FIGURE)
    return f"{speech.say(phrases.ONE_QUESTION)} {words} {reply}"


def answer_example(view: PartnerView) -> str:
    """`power_w=40`: how the answer is typed; empty where nothing is asked."""
    asked = one_question(view)
    if asked is None:
        return ""
    thing = Thing.SKY if isinstance(asked, AskedSky) else asked
    return GAIN_EXAMPLE if _by_gain(thing, view.station.bands[view.band]) else EXAMPLES[thing]


def _by_gain(thing: Thing, equipment: BandEquipment) -> bool:
    return thing is Thing.ANTENNA and equipment.antenna.dish_diameter_m is None


def _guess(thing: Thing, view: PartnerView) -> str:
    """What was assumed, without its unit, which the sentence has."""
    equipment = view.station.bands[view.band]
    if thing is Thing.HOURS:
        return usual_hours(view.station, speech_for(view.station))
    if thing is Thing.ANTENNA:
        return formats.plain(equipment.antenna.dish_diameter_m or equipment.antenna.gain_dbi or 0.0)
    return formats.plain(getattr(equipment, thing.value))
