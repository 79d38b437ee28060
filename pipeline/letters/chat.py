"""The chat message: slots, ask, aim and dial at the start, who we are and where to meet, in 600 characters at most.

Plain letters only. What matters least is left out first where it would be too long.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from pipeline.letters.building import meet_place, names_a_place, told_slots
from pipeline.letters.choice_words import example_words, held_for_words
from pipeline.letters.home_words import home_locators, short_home
from pipeline.letters.no_slot import no_slot_words
from pipeline.letters.offers import OfferedSlot, withdrawn_slots
from pipeline.letters.on_the_air import aim_at_start
from pipeline.letters.question_words import question_words
from pipeline.letters.station_words import short_station
from pipeline.letters.templates import FOLDER, MESSAGE, TemplateFault, Templates
from pipeline.letters.told import Kind, changes_of, subject_names, use_sentences
from pipeline.operating.one_question import one_question
from pipeline.operating.turns import turns_of
from pipeline.outlook.questions import Thing
from pipeline.wording import formats, phrases, sentences
from pipeline.wording.operating import mode_title, short_mode_title, turn_words
from pipeline.wording.speech import ENGLISH, Speech, speech_for
from pipeline.wording.words import offset_words, person, plain_letters, short_date, short_span

if TYPE_CHECKING:
    from pipeline.plan.views import PartnerView
    from pipeline.wording.speech import Speech

LONGEST = 600
PLAIN = {formats.MINUS: "-", "±": "+-", "°": " deg", "·": "-", "–": "-", "“": '"', "”": '"', "…": "..."}


@dataclass(frozen=True)
class Message:
    """What the template is given; `slots` are lines, each with its aim below; `more` says how many did not fit."""

    name: str
    home_call: str
    band: str
    period: str
    greeting: str
    slots: tuple[str, ...]
    more: str
    withdrawn: str
    reason: str
    ask: str
    question: str
    frequency: str
    turn: str
    mode: str
    home: str
    meet: str
    station: str
    plan: str
    changed: str
    number: str


@dataclass(frozen=True)
class Room:
    """What has room: so many slots, and which of the other parts; `wide` is each of them in more words."""

    slots: int
    aims: bool = False
    minutes: bool = False
    meet: bool = False
    wide_mode: bool = False
    wide_home: bool = False
    wide_times: bool = False
    both_dates: bool = False
    station: bool = False
    question: bool = False
    others: bool = False
    home: bool = False


def rooms(slots: int) -> Iterator[Room]:
    """From everything to the ask alone: what is needed on the air goes last."""
    room = Room(slots, *(True,) * 11)
    yield room
    for part in ("station", "wide_home", "question", "wide_mode", "wide_times", "both_dates"):
        room = replace(room, **{part: False})
        yield room
    # Our locator goes before what is needed more, and comes back where that leaves room for it.
    for part in ("home", "meet", "others", "aims"):
        room = replace(room, **{part: False})
        yield from (replace(room, home=True), room) if part != "home" else (room,)
    # Who sends on which minutes goes after all else: by a guess both would send at once.
    for with_minutes in (True, False):
        for count in range(slots, -1, -1):
            yield Room(count, home=True, minutes=with_minutes)


def chat_message(view: PartnerView, templates: Templates) -> str:
    """The message; the ask always stays."""
    slots = told_slots(view)
    text = ""
    for room in rooms(len(slots)):
        told = slots if room.others else tuple(replace(slot, alternatives=()) for slot in slots)
        text = plain(templates.render(MESSAGE, message=_message(view, told, room)), speech_for(view.station))
        if len(text) <= LONGEST:
            return text
    raise TemplateFault(
        f"{FOLDER}/{MESSAGE}: the message for {view.call} has {len(text)} characters; at most {LONGEST} are meant"
    )


def plain(text: str, speech: Speech) -> str:
    """English in letters that every chat shows, a sign without a plain form left out; who reads another language has
    a telephone that shows it.
    """
    text = text.strip() + "\n"
    if speech.language != ENGLISH:
        return text
    for sign, instead in PLAIN.items():
        text = text.replace(sign, instead)
    return text.encode("ascii", "ignore").decode()


def _message(view: PartnerView, slots: tuple[OfferedSlot, ...], room: Room) -> Message:
    speech = speech_for(view.station)
    # Who will never have the Moon together with us needs no frequency; who is not wanted any more needs nothing.
    on_the_air = view.is_wanted and (bool(slots) or view.no_window is None)
    left = len(slots) - room.slots
    figures = {
        "name": name_words(view),
        "band": formats.band(view.band),
        "period": speech.period(view.first_night, view.last_night),
    }
    question = _with_zone_question(view, question_words(view, short=True)) if slots else ""
    # One question a message: where there is a better one, nobody is asked to check what we have of its station.
    checks = room.station and on_the_air and not question and (bool(slots) or not question_words(view))
    changes = changes_of(slots)
    changed = subject_names([one for one in changes if one.kind is not Kind.ONLY_IF], speech)
    # Where clocks change between the slots, the hour alone leaves it open by which offset it is meant.
    zone = view.station.zone
    offsets = {slot.start_utc.astimezone(zone).utcoffset() for slot in slots} if zone else set()
    news = [speech.say(sentences.CHAT_CHANGED, things=speech.listed(changed))] if changed else []
    return Message(
        **figures,
        home_call=view.home.call,
        greeting=speech.say(sentences.HELLO, home=view.home.call, **figures),
        slots=tuple(_slot_lines(view, slot, room, len(offsets) > 1) for slot in slots[: room.slots]),
        more=speech.count(sentences.CHAT_MORE_ONE, sentences.CHAT_MORE_MANY, left) if left else "",
        withdrawn="\n".join(_withdrawn_line(view, slot) for slot in withdrawn_slots(view)),
        changed=" ".join([*use_sentences(changes, speech), *news]),
        reason=no_slot_words(view) if view.is_wanted and not on_the_air else "",
        ask=_ask(view, slots, room.slots),
        frequency=_frequency(view) if on_the_air else "",
        turn=_turn(view, slots, room.minutes),
        mode=_mode(view, room.wide_mode) if on_the_air else "",
        home=_home(view, slots, room.wide_home) if on_the_air and (room.home or room.wide_home) else "",
        meet=_meet(view) if room.meet and view.is_wanted else "",
        question=question if room.question else "",
        station=short_station(view.station, view.band, speech) if checks else "",
        plan=speech.say(sentences.PLAN, number=view.number),
        number=view.number,
    )


def name_words(view: PartnerView) -> str:
    """The partner's name, in plain letters where the message is in English; the call where it has none."""
    name = person(view.station)
    return name if speech_for(view.station).language != ENGLISH else plain_letters(name) or view.call


def _slot_lines(view: PartnerView, slot: OfferedSlot, room: Room, with_offset: bool) -> str:
    """When, with whom, what is new about it; below it where to point and what to dial at the start."""
    zone, speech = view.station.zone, speech_for(view.station)
    say = speech.say
    utc = _utc(view, slot.start_utc, slot.end_utc, room)
    line = say(sentences.CHAT_SLOT_UTC, label=slot.label, utc=utc)
    if zone is not None:
        local = short_span(slot.start_utc, slot.end_utc, zone, room.wide_times, speech)
        offset = offset_words(slot.start_utc, slot.end_utc, zone, speech)
        both = sentences.CHAT_SLOT if room.wide_times or with_offset else sentences.CHAT_SLOT_NARROW
        line = say(both, label=slot.label, local=local, offset=offset, utc=utc)
    if slot.operator != view.home.call:
        line = say(sentences.CHAT_WITH, line=line, operator=slot.operator)
    if slot.is_own_proposal:
        line = say(sentences.CHAT_AS_PROPOSED, line=line)
    elif slot.before:
        line = say(sentences.CHAT_MOVED, line=line, before=_time(view, *slot.before))
    elif slot.is_confirmed:
        line = say(sentences.CHAT_AGREED, line=line)
    aim = aim_at_start(view, slot) if room.aims else ""
    others = (
        say(sentences.CHAT_OTHER, label=one.label, time=_other_time(view, one.start_utc, one.end_utc, room))
        for one in slot.alternatives
    )
    return "\n".join(filter(None, (line, aim, *others)))


def _utc(view: PartnerView, start: dt.datetime, end: dt.datetime, room: Room) -> str:
    """A stretch by UTC; without its date where there is no room for it and both clocks have the same all through."""
    zone, speech = view.station.zone, speech_for(view.station)
    if zone is None:
        return short_span(start, end, dt.UTC, True, speech)
    dates = {one.astimezone(clock).date() for one in (start, end) for clock in (zone, dt.UTC)}
    if room.both_dates or len(dates) > 1:
        return short_span(start, end, dt.UTC, False, speech)
    first, last = (formats.clock(one.astimezone(dt.UTC)) for one in (start, end))
    return speech.say(sentences.FROM_TO, first=first, last=last)


def _other_time(view: PartnerView, start: dt.datetime, end: dt.datetime, room: Room) -> str:
    """Another time of a slot by both clocks; it tells its own date once where the clocks agree on it."""
    zone, speech = view.station.zone, speech_for(view.station)
    if zone is None:
        return _time(view, start, end)
    utc = _utc(view, start, end, replace(room, both_dates=False))
    return speech.say(phrases.CHAT_BOTH, local=short_span(start, end, zone, False, speech), utc=utc)


def _time(view: PartnerView, start: dt.datetime, end: dt.datetime) -> str:
    """A stretch by the partner's clock, or by UTC where its zone is not known."""
    zone, speech = view.station.zone, speech_for(view.station)
    if zone is None:
        return speech.say(sentences.CHAT_UTC, time=short_span(start, end, dt.UTC, False, speech))
    return speech.say(sentences.CHAT_LOCAL, time=short_span(start, end, zone, False, speech))


def _withdrawn_line(view: PartnerView, slot: OfferedSlot) -> str:
    time = _time(view, slot.start_utc, slot.end_utc)
    return speech_for(view.station).say(sentences.CHAT_WITHDRAWN, label=slot.label, time=time)


def _frequency(view: PartnerView) -> str:
    say, home_mhz, partner_mhz = speech_for(view.station).say, view.home_mhz, view.partner_mhz
    if home_mhz == partner_mhz:
        return say(sentences.CHAT_BOTH_SEND, frequency=formats.frequency(home_mhz))
    return say(sentences.CHAT_EACH_SENDS, yours=formats.frequency(partner_mhz), ours=formats.frequency(home_mhz))


def _turn(view: PartnerView, slots: tuple[OfferedSlot, ...], with_minutes: bool) -> str:
    first, speech = (slots[0].planned if slots else None), speech_for(view.station)
    if view.mode is None or first is None:
        return ""
    turns = turns_of(first.opener, view.mode)
    if not with_minutes:
        return speech.say(sentences.CHAT_TURNS_SHORT[turns.opener])
    return speech.say(sentences.CHAT_TURNS[turns.opener], yours=turn_words(turns, "partner", speech))


def _mode(view: PartnerView, wide: bool) -> str:
    if view.mode is None:
        return ""
    speech = speech_for(view.station)
    title = mode_title(view.mode, speech) if wide else short_mode_title(view.mode, speech)
    return speech.say(sentences.CHAT_MODE, mode=title)


def _with_zone_question(view: PartnerView, question: str) -> str:
    """Beside hours, or where nothing else is asked, the time zone that nobody knows: one question a message."""
    if view.station.zone is not None or (question and one_question(view) is not Thing.HOURS):
        return question
    return f"{question} {speech_for(view.station).say(phrases.CHAT_ZONE)}".strip()


def _meet(view: PartnerView) -> str:
    """Where to meet; nothing where the season names no place."""
    if not names_a_place(view.letters):
        return ""
    return speech_for(view.station).say(sentences.CHAT_MEET, place=meet_place(view))


def _home(view: PartnerView, slots: tuple[OfferedSlot, ...], with_equipment: bool) -> str:
    if with_equipment:
        return short_home(view, slots)
    return speech_for(view.station).say(sentences.HOME_LOCATOR, locator=home_locators(view, slots))


def _ask(view: PartnerView, slots: tuple[OfferedSlot, ...], shown: int) -> str:
    """The answer that is asked for; `shown` is how many of the slots the message tells."""
    speech, reply_by = speech_for(view.station), view.letters.reply_by
    date = short_date(reply_by, speech=speech) if reply_by else ""
    waiting = [slot.label for slot in slots if not slot.is_confirmed]
    if not slots and not view.is_wanted:
        return speech.say(sentences.CHAT_SORRY)
    if not slots and view.no_window is not None:
        return speech.say(sentences.CHAT_NO_WINDOW_BY if date else sentences.CHAT_NO_WINDOW_SOON, date=date)
    question = question_words(view, short=True)
    if not slots and question and one_question(view) is not Thing.HOURS:
        answer = speech.say(sentences.ANSWER_BY if date else sentences.ANSWER_SOON, date=date)
        return f"{speech.say(phrases.NO_TIME_YET)} {question} {answer}"
    if not slots:
        return speech.say(sentences.CHAT_NO_SLOT_BY if date else sentences.CHAT_NO_SLOT_SOON, date=date)
    if not waiting:
        return speech.say(sentences.CHAT_ALL_AGREED)
    choices = [slot for slot in slots if slot.alternatives]
    if choices and len(waiting) == 1:
        labels = speech.say(sentences.OR).join([waiting[0], *(one.label for one in choices[0].alternatives)])
        return speech.say(sentences.CHAT_CHOOSE_BY if date else sentences.CHAT_CHOOSE_SOON, date=date, labels=labels)
    example = " ".join(example_words(slots, speech))
    ask = speech.say(sentences.CHAT_ANSWER_BY if date else sentences.CHAT_ANSWER_SOON, date=date, example=example)
    return " ".join([*held_for_words(slots[:shown], speech, phrases.CHAT_HELD_FOR)[:1], ask])
