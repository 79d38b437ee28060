"""Calendar objects: an invitation or a withdrawal for each slot, all windows of a partner, home's own agenda.

RFC 5545 (the format), RFC 5546 (methods), written by the library icalendar: UTC times without VTIMEZONE, CRLF, lines
folded at 75 octets. Stamps come from the plan's first night and the record, never from the clock. An object that
invites or withdraws holds one event: RFC 5546, sections 3.2.2 and 3.2.5, allows one UID in it, and a mail program shows
buttons for one.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
from typing import TYPE_CHECKING, Any, Literal

from icalendar import Alarm, Calendar, Event, vCalAddress, vDuration, vText

from pipeline.agenda.commitments import identifier
from pipeline.letters.choice_words import only_if_words
from pipeline.letters.document import Letter
from pipeline.letters.home_words import home_line, sky_words
from pipeline.letters.offers import STAMP_STEP, OfferedSlot, offered_slots, stamp_of
from pipeline.letters.on_the_air import aim_words
from pipeline.letters.two_languages import english_view
from pipeline.windows.frames import as_date, records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats, phrases, sentences
from pipeline.wording.speech import ENGLISH_SPEECH, speech_for
from pipeline.wording.words import CONFIRMED, TENTATIVE, one_line, person

if TYPE_CHECKING:
    from pipeline.inputs.letter_keys import Letters, Sender
    from pipeline.plan.plan import Plan
    from pipeline.plan.views import PartnerView

Method = Literal["REQUEST", "CANCEL", "PUBLISH"]
PRODUCT = "-//Mutual Moon//letters//EN"
PARTNER_ALARMS = (dt.timedelta(days=1), dt.timedelta(hours=1))
# PARTSTAT of RFC 5545, section 3.2.12, by the state of a slot.
ACCEPTED, NEEDS_ACTION = "ACCEPTED", "NEEDS-ACTION"
ANSWERS = {CONFIRMED: ACCEPTED, TENTATIVE: "TENTATIVE"}
HOME_LAST_ALARM = dt.timedelta(minutes=15)
STAMPS = (b"DTSTAMP", b"LAST-MODIFIED")


def stamped(view: PartnerView, letter: Letter, slot: OfferedSlot) -> OfferedSlot:
    """The slot with the digest of its invitation, stamped later than the last one where the two differ in anything."""
    lines = invitation(view, letter, slot).split(b"\r\n")
    content = hashlib.sha256(b"\r\n".join(line for line in lines if not line.startswith(STAMPS))).hexdigest()
    offers = {offer.uid: offer for offer in view.offers}
    offer, stamp = offers.get(slot.uid), slot.stamp_utc
    is_same = offer is None or offer.sequence != slot.sequence or content == slot.content_before
    if stamp is not None and not is_same:
        stamp += STAMP_STEP
    return dataclasses.replace(slot, content=content, stamp_utc=stamp)


def invitation(view: PartnerView, letter: Letter, slot: OfferedSlot) -> bytes:
    """METHOD:REQUEST for one slot."""
    event = _slot_event(view, slot)
    event.add("description", vText(_both_descriptions(view, letter, slot)))
    event.add("status", "CONFIRMED" if slot.is_confirmed else "TENTATIVE")
    event.add("transp", "OPAQUE")
    _add_people(event, view, ANSWERS.get(slot.state, NEEDS_ACTION))
    for before in PARTNER_ALARMS:
        _add_alarm(event, before, speech_for(view.station).say(sentences.EVENT_ALARM, operator=slot.operator))
    return _calendar("REQUEST", [event])


def withdrawal(view: PartnerView, slot: OfferedSlot) -> bytes:
    """METHOD:CANCEL for one slot; its sequence is already raised."""
    event = _slot_event(view, slot)
    event.add("status", "CANCELLED")
    # Nobody is asked, and nobody is said to have accepted who has not.
    _add_people(event, view, ANSWERS.get(slot.state_before, ""))
    return _calendar("CANCEL", [event])


def window_calendar(view: PartnerView) -> bytes | None:
    """METHOD:PUBLISH with every mutual window of one partner, shown as free time; None without a window."""
    events = []
    counts: dict[dt.date, int] = {}
    say = speech_for(view.station).say
    words = "\n".join(
        dict.fromkeys(one(sentences.WINDOW_WORDS, number=view.number) for one in (say, ENGLISH_SPEECH.say))
    )
    for row in records(view.windows):
        night = as_date(row["night"])
        counts[night] = counts.get(night, 0) + 1
        start, end = formats.inward(as_instant(row["window_start_utc"]), as_instant(row["window_end_utc"]))
        if start >= end:
            continue
        event = Event()
        name = f"{view.home.call}-{view.call}-{view.band}-window-{night}-{counts[night]}"
        event.add("uid", identifier(name))
        event.add("dtstamp", stamp_of(view.first_night))
        event.add("dtstart", start)
        event.add("dtend", end)
        outcome = row.get("outcome") or ""
        title = sentences.WINDOW_TITLE_OUTCOME if outcome else sentences.WINDOW_TITLE
        figures = {
            "home": view.home.call,
            "call": view.call,
            "band": formats.band(view.band),
            "outcome": say(phrases.OUTCOMES[outcome]) if outcome else "",
        }
        event.add("summary", say(title, **figures))
        event.add("description", words)
        event.add("transp", "TRANSPARENT")
        _add_organizer(event, _sender(view.letters))
        events.append(event)
    return _calendar("PUBLISH", events) if events else None


def agenda_calendar(plan: Plan) -> bytes | None:
    """METHOD:PUBLISH with all slots, for home alone; None without a slot."""
    views = [plan.for_partner(station.call) for station in plan.inputs.partners]
    offers = {offer.uid: offer for offer in plan.inputs.record.offers}
    arrive = dt.timedelta(minutes=plan.inputs.season.policy.setup_minutes.arrive)
    events = []
    slots = [(view.station, slot) for view in views for slot in offered_slots(view)]
    for station, slot in sorted(slots, key=lambda pair: (pair[1].start_utc, pair[1].uid)):
        call = station.call
        event = Event()
        event.add("uid", slot.uid)
        event.add("dtstamp", slot.stamp_utc)
        event.add("sequence", slot.sequence)
        event.add("dtstart", slot.start_utc)
        event.add("dtend", slot.end_utc)
        name = f" ({person(station)})" if person(station) != call else ""
        event.add("summary", f"{call}{name}, slot {slot.label}, {slot.state}")
        sent = "" if slot.uid in offers else " Not sent yet."
        operator = f" Operator {slot.operator}." if slot.operator != plan.inputs.home.call else ""
        mode = slot.planned.mode.title if slot.planned and slot.planned.mode else "No mode in common"
        there = next(view for view in views if view.call == call).home_at(slot.start_utc)
        place = f" At {one_line(there.title)}." if plan.inputs.sites else ""
        spare = f" {only_if_words(slot, ENGLISH_SPEECH)}" if slot.only_if else ""
        event.add("description", f"{mode}.{operator}{place}{spare}{sent} Plan {plan.number}.")
        event.add("status", "CONFIRMED" if slot.is_confirmed else "TENTATIVE")
        event.add("transp", "OPAQUE")
        _add_organizer(event, _sender(plan.inputs.season.letters))
        for before in sorted({arrive, HOME_LAST_ALARM} - {dt.timedelta()}, reverse=True):
            _add_alarm(event, before, f"Slot {slot.label} with {call}")
        events.append(event)
    return _calendar("PUBLISH", events) if events else None


def _sender(letters: Letters) -> Sender:
    assert letters.sender is not None
    return letters.sender


def _slot_event(view: PartnerView, slot: OfferedSlot) -> Event:
    event = Event()
    event.add("uid", slot.uid)
    event.add("dtstamp", slot.stamp_utc)
    event.add("created", stamp_of(view.first_night))
    event.add("last-modified", slot.stamp_utc)
    event.add("sequence", slot.sequence)
    event.add("dtstart", slot.start_utc)
    event.add("dtend", slot.end_utc)
    names = {"operator": slot.operator, "call": view.call, "label": slot.label}
    event.add("summary", speech_for(view.station).say(sentences.EVENT_TITLE, **names))
    return event


def _both_descriptions(view: PartnerView, letter: Letter, slot: OfferedSlot) -> str:
    """The lines in the partner's language, and the English ones beneath."""
    lines, english = _description(view, letter, slot), english_view(view)
    if english is None or letter.english is None:
        return lines
    return f"{lines}\n\n{letter.heads.english}\n{_description(english, letter.english, slot)}"


def _description(view: PartnerView, letter: Letter, slot: OfferedSlot) -> str:
    """The few lines that must be at hand when only the calendar is: in the field that is often so."""
    say = speech_for(view.station).say
    told = next(one for one in letter.slots if one.label == slot.label)
    air, meet = (next(section for section in letter.sections if section.key == key) for key in ("air", "meet"))
    lines = [only_if_words(slot, speech_for(view.station))]
    lines += [say(sentences.EVENT_LOCAL, time=told.local)] if told.local else []
    lines += [say(sentences.EVENT_UTC, time=told.utc), aim_words(view, slot.start_utc, slot.end_utc), *air.points]
    if any(section.tables for section in letter.sections):
        lines.append(say(sentences.EVENT_TABLE))
    lines += [home_line(view, slot), sky_words(view, slot), meet.points[0], say(sentences.PLAN, number=letter.number)]
    return "\n".join(line for line in lines if line).replace("\N{NO-BREAK SPACE}", " ")


def _add_organizer(event: Event, sender: Sender) -> None:
    organizer = vCalAddress(f"mailto:{one_line(sender.email)}")
    organizer.params["CN"] = _parameter(sender.name)
    event["organizer"] = organizer


def _add_people(event: Event, view: PartnerView, answer: str) -> None:
    """Who asks and who is asked, with what it answered so far; someone who has said yes is not asked again.

    Without an answer nothing is said of one and nothing asked, as a withdrawal to somebody who never answered has it.
    """
    station = view.station
    _add_organizer(event, _sender(view.letters))
    attendee = vCalAddress(f"mailto:{one_line(station.email or '')}")
    attendee.params["CN"] = _parameter(person(station))
    attendee.params["CUTYPE"] = "INDIVIDUAL"
    attendee.params["ROLE"] = "REQ-PARTICIPANT"
    if answer:
        attendee.params["PARTSTAT"] = answer
        attendee.params["RSVP"] = "FALSE" if answer == ACCEPTED or event["status"] == "CANCELLED" else "TRUE"
    event.add("attendee", attendee)


def _parameter(name: str) -> str:
    """A name as a parameter's value: RFC 5545, section 3.2, has no way to write a double quote there."""
    return one_line(name).replace('"', "'")


def _add_alarm(event: Event, before: dt.timedelta, words: str) -> None:
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", words)
    alarm["trigger"] = vDuration(-before)
    event.add_component(alarm)


def _calendar(method: Method, events: list[Any]) -> bytes:
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", method)
    for event in events:
        calendar.add_component(event)
    return bytes(calendar.to_ical())
