"""The letter to one partner, part by part: slots and the ask on top, then what it needs to know on the air.

From the plan, the agenda and the record; nothing of any other partner is looked at here.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from pipeline.letters.choice_words import (
    ask_choice_words,
    choose_words,
    example_words,
    held_for_words,
    lead_sentence,
    only_if_words,
    other_times,
    unbroken,
)
from pipeline.letters.document import Heads, Letter, Section, SlotView, content_digest
from pipeline.letters.home_words import home_section
from pipeline.letters.no_slot import no_slot_words
from pipeline.letters.offers import OfferedSlot, offered_slots, refused_labels, withdrawn_slots
from pipeline.letters.on_the_air import aim_words, air_section, expect_section
from pipeline.letters.question_words import question_words
from pipeline.letters.station_words import station_section
from pipeline.letters.told import change_sentences, changes_of, failed_first, subject_names, with_told
from pipeline.letters.two_languages import english_view
from pipeline.operating.one_question import one_question
from pipeline.outlook.questions import Thing
from pipeline.windows.frames import records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats, phrases, sentences
from pipeline.wording.speech import Speech, speech_for
from pipeline.wording.words import (
    CONFIRMED,
    TENTATIVE,
    date_words,
    filled,
    local_words,
    one_line,
    one_time,
    operator_names,
    person,
    season_words,
    short_span,
    span_words,
)

if TYPE_CHECKING:
    from pipeline.inputs.letter_keys import Letters
    from pipeline.plan.views import PartnerView

# As many windows as a reader on a telephone will look through; the page attached has all of them.
MOST_WINDOWS = 8


def build_letter(view: PartnerView, with_pdf: bool = True) -> Letter:
    """The whole letter; the season must name a sender."""
    sender = view.letters.sender
    assert sender is not None
    zone = view.station.zone
    slots, withdrawn = told_slots(view), withdrawn_slots(view)
    values, speech = places(view), speech_for(view.station)
    openers = [slot.planned.opener for slot in slots if slot.planned]
    expected = [expect_section(view, slot, zone) for slot in slots]
    has_table = any(section.tables for section in expected)
    sections = [home_section(view, slots), station_section(view)]
    if slots or view.no_window is None:
        # Who will never have the Moon together with us needs no frequency.
        sections.append(air_section(view, openers, has_table))
    sections += expected
    if slots:
        sections.append(figures_section(speech))
    meet = meet_section(view, slots)
    other = fall_back_section(view, slots, zone) if slots else windows_section(view, zone, with_pdf)
    sections += [part for part in (meet, other, clock_section(view, zone)) if part is not None]
    if slots or view.no_window is None:
        sections.append(cautions_section(speech))
    return Letter(
        call=view.call,
        home_call=view.home.call,
        subject=subject_words(view, slots, withdrawn),
        title=speech.say(sentences.TITLE, home=view.home.call, call=view.call),
        greeting=greeting_words(view.letters.greeting, values, speech),
        changes=change_words(slots, withdrawn, refused_labels(view), zone, speech),
        lead=lead_words(view, slots, zone),
        slots=tuple(slot_view(view, slot, zone) for slot in slots),
        ask=ask_words(view, slots),
        sections=tuple(sections),
        closing=filled(season_words(view.letters.closing, speech), values),
        sender_name=one_line(sender.name),
        sender_email=one_line(sender.email),
        footer=footer_words(view),
        number=view.number,
        heads=heads_of(speech),
    )


def heads_of(speech: Speech) -> Heads:
    """What the templates print besides finished lines."""
    return Heads(
        speech.language,
        speech.say(sentences.CHANGED),
        speech.say(sentences.YOUR_TIME),
        speech.say(sentences.UTC_TIME),
        speech.say(sentences.OTHER_TIME),
    )


def told_slots(view: PartnerView) -> tuple[OfferedSlot, ...]:
    """The partner's slots with all that this letter says of them: in English, so that no translation is a change."""
    return with_told(view, offered_slots(view), meet_place(english_view(view) or view))


def places(view: PartnerView) -> dict[str, str]:
    """What the named places of greeting, closing and meeting place are filled with."""
    sender, speech = view.letters.sender, speech_for(view.station)
    return {
        "operator": person(view.station),
        "call": view.call,
        "home": view.home.call,
        "sender": one_line(sender.name) if sender else view.home.call,
        "period": speech.period(view.first_night, view.last_night),
    }


def greeting_words(pattern: str, values: dict[str, str], speech: Speech) -> str:
    """The greeting; a comma after it where it ends without any sign."""
    greeting = filled(season_words(pattern, speech), values)
    return speech.say(sentences.GREETING, greeting=greeting) if greeting[-1:].isalnum() else greeting


def footer_words(view: PartnerView) -> str:
    """The last line of a letter and the foot of its page."""
    speech = speech_for(view.station)
    titles = dict.fromkeys(view.home_at(slot.start).title for slot in view.slots) or [view.home.title]
    return speech.say(
        sentences.FOOTER,
        period=speech.period(view.first_night, view.last_night),
        home=view.home.call,
        title=formats.short(one_line(", ".join(titles))),
        band=formats.band(view.band),
        number=view.number,
    )


def subject_words(view: PartnerView, slots: tuple[OfferedSlot, ...], withdrawn: tuple[OfferedSlot, ...]) -> str:
    """One line that says what is asked."""
    speech = speech_for(view.station)
    figures = {"home": view.home.call, "period": speech.period(view.first_night, view.last_night)}
    moved, changes = any(slot.before and not slot.chosen for slot in slots) or withdrawn, changes_of(slots)
    times = [speech.say(sentences.CHANGED_TIMES)] if moved else []
    alone = failed_first(changes) if not times else None
    if alone is not None:
        return speech.say(phrases.SUBJECT_FIRST_FAILED, first=alone[0], label=alone[1], **figures)
    changed = [*times, *subject_names(changes, speech)]
    if changed:
        return speech.say(sentences.SUBJECT_CHANGED, things=speech.listed(changed), **figures)
    if not slots:
        none = sentences.SUBJECT_NO_SLOT if view.no_window is None else sentences.SUBJECT_NO_WINDOW
        return speech.say(none, **figures)
    if all(slot.is_confirmed for slot in slots):
        return speech.say(sentences.SUBJECT_AGREED, **figures)
    waiting = sum(not slot.is_confirmed for slot in slots)
    return speech.count(sentences.SUBJECT_ASK_ONE, sentences.SUBJECT_ASK_MANY, waiting, **figures)


def slots_words(labels: list[str], speech: Speech) -> str:
    """`slot A`, `slots A and B`."""
    return speech.count(sentences.SLOTS_ONE, sentences.SLOTS_MANY, len(labels), labels=speech.listed(labels))


def change_words(
    slots: tuple[OfferedSlot, ...],
    withdrawn: tuple[OfferedSlot, ...],
    refused: tuple[str, ...],
    zone: ZoneInfo | None,
    speech: Speech,
) -> tuple[str, ...]:
    """What is other than the partner was told before; nothing in a first letter."""
    said, say = [], speech.say
    is_first = not (withdrawn or refused or any(slot.offered_before for slot in slots))
    fresh = [slot for slot in slots if not slot.offered_before]
    if refused and fresh:
        labels = speech.listed(refused)
        said.append(speech.count(sentences.SAID_NO_ONE, sentences.SAID_NO_MANY, len(refused), labels=labels))
    for slot in slots:
        if slot.chosen:
            time = one_time(slot.start_utc, slot.end_utc, zone, speech)
            said.append(say(sentences.YOU_CHOSE, chosen=slot.chosen, label=slot.label, time=time))
        elif slot.before:
            before, now = (one_time(*edges, zone, speech) for edges in (slot.before, (slot.start_utc, slot.end_utc)))
            moves = sentences.SLOT_MOVES_TO_YOURS if slot.is_own_proposal else sentences.SLOT_MOVES
            said.append(say(moves, label=slot.label, before=before, now=now))
        elif slot in fresh and not is_first:
            time = one_time(slot.start_utc, slot.end_utc, zone, speech)
            new = sentences.SLOT_IS_YOURS if slot.is_own_proposal else sentences.SLOT_NEW
            said.append(say(new, label=slot.label, time=time))
        elif slot.is_confirmed and slot.offered_before and slot.state_before != CONFIRMED:
            said.append(say(sentences.SLOT_AGREED, label=slot.label))
        elif slot.state == TENTATIVE and slot.offered_before and slot.state_before != TENTATIVE:
            said.append(say(sentences.SLOT_MAYBE, label=slot.label))
        if slot.gone and not slot.is_confirmed:
            said.append(say(sentences.NO_LONGER_FREE, labels=speech.listed(slot.gone)))
    said += change_sentences(changes_of(slots), speech)
    said += [
        say(sentences.SLOT_WITHDRAWN, label=slot.label, time=one_time(slot.start_utc, slot.end_utc, zone, speech))
        for slot in withdrawn
    ]
    return tuple(said)


def with_wording_told(letter: Letter, slots: tuple[OfferedSlot, ...], speech: Speech) -> Letter:
    """A letter with the same slots and other words than the last one says so: else nobody sees why it came."""
    known = {slot.told_digest for slot in slots if slot.told_digest}
    digest = content_digest(letter, [slot.offer for slot in slots])
    if letter.changes or not known or digest in known:
        return letter
    told = dataclasses.replace(letter, changes=(speech.say(sentences.OTHER_WORDS),))
    if letter.english is None:
        return told
    return dataclasses.replace(told, english=dataclasses.replace(letter.english, changes=(sentences.OTHER_WORDS,)))


def lead_words(view: PartnerView, slots: tuple[OfferedSlot, ...], zone: ZoneInfo | None) -> tuple[str, ...]:
    """What this is about, in two sentences; without a slot, why."""
    say, band = speech_for(view.station).say, formats.band(view.band)
    if slots:
        waiting = sum(not slot.is_confirmed for slot in slots)
        choices = any(slot.alternatives for slot in slots)
        words = [say(lead_sentence(waiting, len(slots) - waiting, choices), band=band)]
    else:
        words = [say(sentences.CONTACT_WANTED, band=band), no_slot_words(view)]
    if zone is None:
        words.append(say(sentences.ZONE_UNKNOWN))
    return tuple(words)


def slot_view(view: PartnerView, slot: OfferedSlot, zone: ZoneInfo | None) -> SlotView:
    """One slot in words."""
    names, speech = operator_names(view.operators, view.home), speech_for(view.station)
    say = speech.say
    company = ""
    if len(names) > 1 or slot.operator != view.home.call:
        name = names.get(slot.operator, "")
        company = say(sentences.YOU_WORK_NAMED if name else sentences.YOU_WORK, operator=slot.operator, name=name)
    yes = sentences.YOU_PROPOSED if slot.is_own_proposal else sentences.CONFIRMED_ANSWER
    answers = {CONFIRMED: yes, TENTATIVE: sentences.MAYBE_ANSWER}
    answer = say(answers[slot.state]) if slot.state in answers else choose_words(slot, speech)
    return SlotView(
        label=slot.label,
        title=say(sentences.SLOT, label=slot.label),
        local=unbroken(local_words(slot.start_utc, slot.end_utc, zone, speech)) if zone else "",
        utc=unbroken(span_words(slot.start_utc, slot.end_utc, dt.UTC, speech)),
        company=" ".join(filter(None, (company, only_if_words(slot, speech)))),
        answer=answer,
        is_confirmed=slot.is_confirmed,
        alternatives=other_times(slot, zone, speech),
    )


def ask_words(view: PartnerView, slots: tuple[OfferedSlot, ...]) -> tuple[str, ...]:
    """What answer is asked for, by when, and how."""
    speech, reply_by = speech_for(view.station), view.letters.reply_by
    date = date_words(reply_by, speech=speech) if reply_by else ""
    answer = speech.say(sentences.ANSWER_BY if date else sentences.ANSWER_SOON, date=date)
    asked, question = one_question(view), question_words(view)
    if not slots:
        if question and asked is not Thing.HOURS and len(view.windows):
            return (question, answer)
        by, soon = (
            (sentences.OTHER_HOURS_BY, sentences.OTHER_HOURS_SOON)
            if len(view.windows)
            else (sentences.OTHER_PLACE_BY, sentences.OTHER_PLACE_SOON)
        )
        return (speech.say(by if date else soon, date=date),)
    last = (question,) if question else ()
    waiting = [slot.label for slot in slots if not slot.is_confirmed]
    if not waiting:
        nothing = sentences.TIMES_AGREED if question else sentences.NOTHING_TO_ANSWER
        return (speech.say(nothing), *last)
    example = speech.say(sentences.COMMA).join(example_words(slots, speech))
    said = [
        answer,
        *held_for_words(slots, speech, phrases.HELD_FOR),
        *ask_choice_words(slots, speech),
        speech.say(sentences.HOW_TO_ANSWER, example=example),
    ]
    if len(slots) > 1:
        said.append(speech.say(sentences.ONE_SLOT_SHOWN, label=waiting[0]))
    if asked is not Thing.HOURS:
        said.append(speech.say(sentences.NO_TIME_SUITS))
    return (*said, *last)


def names_a_place(letters: Letters) -> bool:
    """Whether a season says where to meet."""
    return letters.meet is not None


def meet_place(view: PartnerView) -> str:
    """The season's meeting place, its words filled in, without a full stop; empty where it names none."""
    return filled(view.letters.meet or "", places(view)).rstrip(".")


def meet_section(view: PartnerView, slots: tuple[OfferedSlot, ...]) -> Section | None:
    """Where to meet, and what happens when someone is late; None where there is no slot and no place is named."""
    say, place = speech_for(view.station).say, meet_place(view)
    if not place and not slots:
        return None
    if place:
        points = [say(sentences.MEET_IN_SLOT if slots else sentences.MEET, place=place)]
    else:
        points = [say(phrases.MEET_UNNAMED)]
        points += [] if view.station.telephone else [say(phrases.MEET_ASK)]
    if slots:
        breaks = sentences.SOMETHING_BREAKS if place else phrases.SOMETHING_BREAKS_WRITE
        points += [say(sentences.WHO_IS_LATE), say(breaks)]
    return Section("meet", say(sentences.MEET_TITLE), (), tuple(points))


def fall_back_section(view: PartnerView, slots: tuple[OfferedSlot, ...], zone: ZoneInfo | None) -> Section:
    """Where to go when a slot fails."""
    speech = speech_for(view.station)
    points, found = [], False
    for slot in slots:
        times: list[str] = []
        for start, end in slot.planned.fall_backs if slot.planned else ():
            other = next((one.label for one in slots if one.start_utc == start), "")
            if other:
                line = sentences.OR_ELSE_SLOT if times else sentences.INSTEAD_SLOT
                times.append(speech.say(line, label=slot.label, other=other))
                continue
            line = sentences.OR_ELSE if times else sentences.INSTEAD
            words = speech.say(line, label=slot.label, time=_both_times(start, end, zone, speech))
            times.append(f"{words} {aim_words(view, start, end)}".strip())
        found |= bool(times)
        points += times or [speech.say(sentences.INSTEAD_NOTHING, label=slot.label)]
    lead = (speech.say(sentences.FALL_BACK_LEAD),) if found else ()
    return Section("fall_back", speech.say(sentences.FALL_BACK_TITLE), lead, tuple(points))


def _both_times(start: dt.datetime, end: dt.datetime, zone: ZoneInfo | None, speech: Speech) -> str:
    utc = short_span(start, end, dt.UTC, False, speech)
    if zone is None:
        return speech.say(sentences.ONLY_UTC, utc=utc)
    return speech.say(sentences.BOTH_TIMES, local=short_span(start, end, zone, False, speech), utc=utc)


def windows_section(view: PartnerView, zone: ZoneInfo | None, with_pdf: bool) -> Section | None:
    """The best times at which the Moon is up for both, for a partner without a slot."""
    rows = records(view.windows)
    if not rows:
        return None
    best = sorted(rows, key=lambda row: (-float(row.get("chance") or 0.0), row["window_start_utc"]))[:MOST_WINDOWS]
    speech, points = speech_for(view.station), []
    for row in sorted(best, key=lambda row: row["window_start_utc"]):
        start, end = formats.inward(as_instant(row["window_start_utc"]), as_instant(row["window_end_utc"]))
        points.append(speech.say(sentences.ONE_TIME, time=_both_times(start, end, zone, speech)))
    lead = speech.say(sentences.WINDOWS_LEAD)
    if len(rows) > len(best):
        file = "windows.pdf" if with_pdf else "windows.ics"
        lead += f" {speech.say(sentences.WINDOWS_FILE, file=file, number=len(rows))}"
    return Section("windows", speech.say(sentences.WINDOWS_TITLE), (lead,), tuple(points))


def figures_section(speech: Speech) -> Section:
    """How the figures of the slots are to be read."""
    points = tuple(speech.say(one) for one in sentences.FIGURES)
    return Section("figures", speech.say(sentences.FIGURES_TITLE), points=points)


def clock_section(view: PartnerView, zone: ZoneInfo | None) -> Section | None:
    """A notice where the partner's clocks change within the period."""
    changes = formats.clock_changes(zone, *view.edges) if zone else ()
    if zone is None or not changes:
        return None
    speech = speech_for(view.station)
    say = speech.say
    points = [
        say(
            sentences.CLOCKS_CHANGE,
            date=date_words(moment.astimezone(zone).date(), speech=speech),
            time=formats.clock(moment),
            before=before,
            after=after,
        )
        for moment, before, after in changes
    ]
    return Section("clocks", say(sentences.CLOCKS_TITLE), (say(sentences.CLOCKS_LEAD),), tuple(points))


def cautions_section(speech: Speech) -> Section:
    """Short cautions."""
    points = tuple(speech.say(one) for one in sentences.CAUTIONS)
    return Section("cautions", speech.say(sentences.CAUTIONS_TITLE), (), points)
