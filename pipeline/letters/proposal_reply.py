"""The answer to a time that a partner proposed, ready to paste: short plain sentences, its own time first.

From the values of `agenda.proposal`, in the partner's language with the English text beneath; nothing of any other
partner is told.
"""

from __future__ import annotations

import datetime as dt

from pipeline.agenda.proposal import Against, Judged
from pipeline.agenda.proposal_others import OtherTime
from pipeline.windows.rules import HORIZON, MINIMUM_ELEVATION, MOUNT_ELEVATION
from pipeline.wording import formats, phrases, sentences
from pipeline.wording.operating import chance_words
from pipeline.wording.speech import ENGLISH_SPEECH, Speech, speech_for
from pipeline.wording.words import offset_words, span_words

# Below it the signals are called weak: the chance stands there.
SURE = 0.6


def reply_words(judged: Judged, is_taken: bool = False) -> str:
    """`Yes, ...` or `That time is hard because ... Could you do ... instead?`; what is taken is a yes in any case.

    Who is worked is thanked; with whom no contact is wanted at all there is no reply. In another language than English
    the English text follows after an empty line.
    """
    if not (judged.is_wanted or judged.is_worked or judged.agreed or is_taken):
        return ""
    speech = speech_for(judged.partner.station)
    english = _reply(judged, is_taken, ENGLISH_SPEECH)
    return english if speech is ENGLISH_SPEECH else f"{_reply(judged, is_taken, speech)}\n\n{english}"


def _reply(judged: Judged, is_taken: bool, speech: Speech) -> str:
    if is_taken or judged.agreed or (judged.is_wanted and not judged.against):
        return " ".join(_yes(judged, speech))
    if not judged.is_wanted:
        return speech.say(phrases.REPLY_WORKED)
    if judged.other is None:
        instead = speech.say(phrases.REPLY_NO_OTHER)
    else:
        instead = _timed(phrases.REPLY_INSTEAD, phrases.REPLY_INSTEAD_UTC, judged.other, judged, speech)
    return f"{_hard(judged, speech)} {instead}"


def _yes(judged: Judged, speech: Speech) -> list[str]:
    assert judged.chance is not None
    elevation = f"{judged.partner.elevation_deg[0]:.0f}"
    words = [
        _timed(phrases.REPLY_YES, phrases.REPLY_YES_UTC, judged, judged, speech),
        speech.say(phrases.REPLY_MOON, elevation=elevation),
    ]
    if judged.chance < SURE:
        words.append(speech.say(phrases.REPLY_WEAK, chance=chance_words(judged.chance, (SURE,), speech)))
    return [*words, speech.say(phrases.REPLY_DETAILS)]


def _timed(by_both: str, by_utc: str, slot: Judged | OtherTime, judged: Judged, speech: Speech) -> str:
    """A sentence with a time by the partner's clock and by UTC, the date of that where it is another one."""
    zone, utc = judged.partner.station.zone, span_words(slot.start, slot.end, dt.UTC, speech)
    if zone is None:
        return speech.say(by_utc, utc=utc)
    if _dates(slot, zone) == _dates(slot, dt.UTC):
        utc = speech.say(sentences.FROM_TO, first=formats.clock(slot.start), last=formats.clock(slot.end))
    local = span_words(slot.start, slot.end, zone, speech)
    return speech.say(by_both, local=local, offset=offset_words(slot.start, slot.end, zone, speech), utc=utc)


def _dates(slot: Judged | OtherTime, zone: dt.tzinfo) -> list[dt.date]:
    return [moment.astimezone(zone).date() for moment in (slot.start, slot.end)]


def _hard(judged: Judged, speech: Speech) -> str:
    """The weightiest reason; the Moon's at the end that has less of it."""
    first = judged.against[0]
    if first is not Against.MOON:
        return speech.say(phrases.REPLY_HARD[first])
    ends = [(end.elevation_deg[0], name, end) for name, end in (("partner", judged.partner), ("home", judged.home))]
    missed = [one for one in ends if one[2].missed]
    if not missed:
        return speech.say(phrases.REPLY_RISING)
    elevation_deg, whose, end = min(missed, key=lambda one: one[0])
    rule = end.missed[0][0]
    if rule == HORIZON and elevation_deg < 0.0:
        return speech.say(phrases.REPLY_BELOW[whose], degrees=f"{-elevation_deg:.0f}")
    if rule in (HORIZON, MINIMUM_ELEVATION):
        return speech.say(phrases.REPLY_LOW[whose])
    hidden = phrases.REPLY_HIGH if rule == MOUNT_ELEVATION else phrases.REPLY_TURN
    return speech.say(hidden[whose])
