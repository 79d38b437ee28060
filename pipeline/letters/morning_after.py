"""The morning after: for each slot of a night a short note to its partner, to paste into a chat or to send as a mail.

From the plan, the record and the night's log: how the slot ended, both reports as logged, thanks, and where a contact
is wanted still the next time that both can use. Nothing is sent and nothing noted.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from pipeline.inputs.atomic_writing import write_file
from pipeline.letters.building import build_letter, places
from pipeline.letters.chat import name_words, plain
from pipeline.letters.document import Letter
from pipeline.letters.mail import Parts, Person, mail_bytes
from pipeline.letters.making import require_sender
from pipeline.letters.outbox import folder_name
from pipeline.letters.templates import LETTER_HTML, LETTER_TEXT, Templates
from pipeline.letters.two_languages import english_view, in_both
from pipeline.record.log_csv import Log
from pipeline.record.model import ABSENT, FAILED, MADE, RAINED
from pipeline.record.night_ends import SlotEnd, night_ends
from pipeline.record.outcomes import KnownSlot
from pipeline.reports.locking import only_run_in
from pipeline.reports.writing import swapped_folder
from pipeline.wording import formats, sentences
from pipeline.wording.speech import speech_for
from pipeline.wording.words import (
    CONFIRMED,
    filled,
    offset_words,
    one_line,
    person,
    season_words,
    short_date,
    short_span,
)

if TYPE_CHECKING:
    from pipeline.outlook.usable_windows import UsableWindow
    from pipeline.plan.plan import Plan
    from pipeline.plan.views import PartnerView

FOLDER = "after"
# A report with a sign or with decimals, by point or comma; 599 and words stay as they were logged.
FIGURE = re.compile("([+\N{MINUS SIGN}\N{EN DASH}-]?) ?([0-9]{1,3})(?:[.,]([0-9]{1,3}))?")


@dataclass(frozen=True)
class Note:
    """One partner's note about one slot: the chat message, and the mail where its address is known.

    `english` is the message in English, empty where it is already.
    """

    call: str
    label: str
    message: str
    mail: bytes | None
    english: str = ""


@dataclass(frozen=True)
class NextTime:
    """When both could try next; `state` is that of the slot that stands there, empty where none does."""

    start_utc: dt.datetime
    end_utc: dt.datetime
    state: str = ""
    was_asked: bool = False


# `all taken`: every stretch that both could use overlaps another partner's slot, so nobody knows yet.
ALL_TAKEN: Literal["all taken"] = "all taken"
# `not wanted`: every contact with this partner that was wanted is made, so no time is named.
NOT_WANTED: Literal["not wanted"] = "not wanted"
Then = NextTime | Literal["all taken", "not wanted"] | None


def slots_of_night(plan: Plan, date: dt.date) -> tuple[KnownSlot, ...]:
    """The slots of a night by time: those of the agenda, and those that the record says something of."""
    begin, end = plan.period.edges_of(date)
    found = [
        KnownSlot(one.call, one.operator, one.label, one.start, one.end) for one in plan.slots if one.night == date
    ]
    held = {(one.partner, one.start_utc) for one in found}
    calls = {station.call for station in plan.inputs.partners}
    found += [
        KnownSlot(one.partner, one.operator, one.label, one.start_utc, one.end_utc)
        for one in plan.inputs.record.answers
        if one.outcome and one.end_utc is not None and one.partner in calls and begin <= one.start_utc < end
        if (one.partner, one.start_utc) not in held
    ]
    return tuple(sorted(found, key=lambda one: (one.start_utc, one.partner)))


def notes_after(plan: Plan, date: dt.date, log: Log | None) -> tuple[tuple[Note, ...], tuple[KnownSlot, ...]]:
    """A note for each slot of a night, and the slots of which nobody has said how they ended.

    Raises NoSender where the season names nobody who signs.
    """
    require_sender(plan.inputs.season)
    ended, unknown = night_ends(slots_of_night(plan, date), plan.inputs.record.answers, log)
    calls = {end.slot.partner for end in ended}
    thens = {
        call: next_time(plan, plan.usable_windows, call, date) if wants_more(plan, call, ended) else NOT_WANTED
        for call in calls
    }
    return tuple(_note(plan, end, thens[end.slot.partner]) for end in ended), unknown


def wants_more(plan: Plan, call: str, ended: Sequence[SlotEnd]) -> bool:
    """Whether a contact with a partner is wanted still, by record and by what a log says of a night."""
    operators = [one.call for one in plan.inputs.season.operators] or [plan.inputs.home.call]
    begin, end = plan.period.edges[0], plan.period.edges[-1]
    made = {
        (one.operator, one.start_utc)
        for one in plan.inputs.record.answers
        if one.partner == call and one.outcome == MADE and begin <= one.start_utc < end
    }
    made |= {
        (one.slot.operator, one.slot.start_utc) for one in ended if one.slot.partner == call and one.outcome == MADE
    }
    wanted = plan.inputs.wishes[plan.inputs.place_of(call)].contacts_wanted
    return any(sum(whose == operator for whose, _ in made) < wanted for operator in operators)


def next_time(plan: Plan, usable: tuple[UsableWindow, ...], call: str, date: dt.date) -> Then:
    """The first slot with a partner after a night, else the first usable stretch that no other slot takes.

    None where both ends share no usable stretch any more.
    """
    ahead = [slot for slot in plan.slots if slot.night > date and not slot.outcome]
    mine = next((slot for slot in ahead if slot.call == call), None)
    if mine is not None:
        asked = any(
            (offer.uid, offer.start_utc, offer.withdrawn) == (mine.uid, mine.start, False)
            for offer in plan.inputs.record.offers
        )
        return NextTime(mine.start, mine.end, mine.state, asked)
    shared = sorted((one for one in usable if one.partner == call and one.night > date), key=lambda one: one.slot_start)
    for one in shared:
        if not any(slot.start < one.slot_end and one.slot_start < slot.end for slot in ahead):
            return NextTime(one.slot_start, one.slot_end)
    return ALL_TAKEN if shared else None


def _note(plan: Plan, end: SlotEnd, then: Then) -> Note:
    view = plan.for_partner(end.slot.partner)
    other = english_view(view)
    return Note(
        view.call,
        end.slot.label,
        note_message(view, end, then),
        _mail(view, in_both(view, lambda one: note_letter(one, end, then))) if view.station.email else None,
        note_message(other, end, then) if other is not None else "",
    )


def note_message(view: PartnerView, end: SlotEnd, then: Then) -> str:
    """The note for a chat."""
    sender, speech = view.letters.sender, speech_for(view.station)
    assert sender is not None
    hello = speech.say(sentences.AFTER_HELLO, name=name_words(view), home=view.home.call)
    closing = filled(season_words(view.letters.closing, speech), places(view))
    return plain("\n".join([hello, *note_lines(view, end, then), closing, one_line(sender.name)]), speech)


def note_letter(view: PartnerView, end: SlotEnd, then: Then) -> Letter:
    """The note for a mail: a letter without slots and sections."""
    subject = speech_for(view.station).say(sentences.AFTER_SUBJECT, home=view.home.call, date=_day(view, end.slot))
    lines = note_lines(view, end, then)
    return replace(build_letter(view), subject=subject, changes=(), lead=lines, slots=(), ask=(), sections=())


def _mail(view: PartnerView, letter: Letter) -> bytes:
    sender, templates = view.letters.sender, Templates()
    assert sender is not None
    return mail_bytes(
        Parts(
            sender=Person(sender.name, sender.email),
            recipient=Person(person(view.station), view.station.email or ""),
            subject=letter.subject,
            text=templates.render(LETTER_TEXT, letter=letter),
            html=templates.render(LETTER_HTML, letter=letter),
            calendars=[],
            files=[],
        )
    )


def note_lines(view: PartnerView, end: SlotEnd, then: Then) -> tuple[str, ...]:
    """Which slot, how it ended with both reports, thanks, and when next."""
    say, slot = speech_for(view.station).say, end.slot
    about = say(
        sentences.AFTER_ABOUT,
        label=slot.label,
        band=formats.band(view.band),
        time=_both_times(view, slot.start_utc, slot.end_utc),
    )
    thanks = {MADE: sentences.AFTER_THANKS, FAILED: sentences.AFTER_THANKS_TRYING}
    told = (
        about,
        " ".join(_ending(view, end)),
        say(thanks.get(end.outcome, sentences.AFTER_SORRY)),
        _next_words(view, end.outcome, then),
    )
    return tuple(filter(None, told))


def report_words(logged: str) -> str:
    """A report of the log with its figure as letters write figures, its digits kept: a point, a true minus."""
    words = one_line(logged)
    figure = FIGURE.fullmatch(words)
    if figure is None or not (figure[1] or figure[3]):
        return words
    digits = figure[3] or ""
    value = float(f"{'' if figure[1] in ('', '+') else '-'}{figure[2]}.{digits or 0}")
    return formats.signed(value, len(digits), plus=figure[1] == "+")


def _ending(view: PartnerView, end: SlotEnd) -> list[str]:
    say = speech_for(view.station).say
    endings = {FAILED: sentences.AFTER_FAILED, ABSENT: sentences.AFTER_ABSENT, RAINED: sentences.AFTER_RAINED}
    if end.outcome != MADE:
        said = [say(endings[end.outcome])]
    elif end.time_utc is None:
        said = [say(sentences.AFTER_MADE)]
    else:
        said = [say(sentences.AFTER_MADE_AT, time=formats.clock(end.time_utc))]
    sent, received = report_words(end.sent), report_words(end.received)
    if sent and received:
        said.append(say(sentences.AFTER_BOTH_REPORTS, sent=sent, received=received))
    elif sent:
        said.append(say(sentences.AFTER_SENT, sent=sent))
    elif received:
        said.append(say(sentences.AFTER_RECEIVED, received=received))
    if end.nothing_heard:
        said.append(say(sentences.AFTER_NOTHING_HEARD))
    return said


def _next_words(view: PartnerView, outcome: str, then: Then) -> str:
    speech = speech_for(view.station)
    say = speech.say
    if then == NOT_WANTED:
        return ""
    if then is None:
        return say(sentences.AFTER_NO_NEXT, period=speech.period(view.first_night, view.last_night))
    if then == ALL_TAKEN:
        return say(sentences.AFTER_LATER)
    time = _both_times(view, then.start_utc, then.end_utc)
    if outcome == MADE:
        # What was planned as a second try may not be wanted any more: it is offered, not promised.
        return say(sentences.AFTER_NEXT_MADE, time=time)
    if then.state == CONFIRMED:
        return say(sentences.AFTER_NEXT_AGREED, time=time)
    if then.was_asked:
        return say(sentences.AFTER_NEXT_ASKED, time=time)
    return say(sentences.AFTER_NEXT_PLANNED if then.state else sentences.AFTER_NEXT, time=time)


def _both_times(view: PartnerView, start: dt.datetime, end: dt.datetime) -> str:
    """The partner's own clock first; UTC alone where its zone is not known."""
    zone, speech = view.station.zone, speech_for(view.station)
    if zone is None:
        return speech.say(sentences.ONLY_UTC, utc=short_span(start, end, dt.UTC, speech=speech))
    local, offset = short_span(start, end, zone, speech=speech), offset_words(start, end, zone, speech)
    utc = short_span(start, end, dt.UTC, year=False, speech=speech)
    return speech.say(sentences.AFTER_TIME, local=local, offset=offset, utc=utc)


def _day(view: PartnerView, slot: KnownSlot) -> str:
    date = slot.start_utc.astimezone(view.station.zone or dt.UTC).date()
    return short_date(date, speech=speech_for(view.station))


def write_notes(notes: tuple[Note, ...], date: dt.date, period: Path) -> Path:
    """The notes of one night in the period's folder, in place of those made before; nothing is sent.

    Raises OutputBlocked, with one sentence; then nothing has changed.
    """
    folder = period / FOLDER / date.isoformat()
    with only_run_in(period.parent), swapped_folder(folder) as new:
        for note in notes:
            name = f"{folder_name(note.call)}-{note.label}" if note.label else folder_name(note.call)
            write_file(new / f"{name}.txt", note.message.encode())
            if note.english:
                write_file(new / f"{name}_en.txt", note.english.encode())
            if note.mail is not None:
                write_file(new / f"{name}.eml", note.mail)
    return folder
