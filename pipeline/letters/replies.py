"""What partners answered, against what the ledger says they were offered: what is taken, and what is only told.

Matched by UID and attendee (RFC 5546, section 2.1.5): the slot and its times by the ledger, the person by the address
that was written to. An answer counts for the time that it was given to; of several the newest DTSTAMP. All else is
told, never applied: another time, another organizer, no plain sender, a sender whom the receiving server doubts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from pipeline.agenda.commitments import DOMAIN, slot_identifier
from pipeline.inputs.yaml_tree import printable
from pipeline.letters.answers import answer_part, period_named, time_words, zones_of
from pipeline.letters.offered import offered_to
from pipeline.letters.reply_calendar import Attendee, EventReply
from pipeline.letters.reply_mail import Mail
from pipeline.letters.reply_text import own_lines
from pipeline.letters.said_of_offers import all_readings, open_slots, proposals_of, reading_of, waiting_of
from pipeline.letters.verdicts import (
    EARLIEST,
    SINCE,
    Known,
    Verdict,
    answer_line,
    is_answered_since,
    is_of,
    known_slots,
    unclear_sender,
)
from pipeline.letters.worded_replies import judge_words, quoted
from pipeline.letters.words_beside import may_change
from pipeline.record.inputs import Inputs
from pipeline.record.ledger import Ledger
from pipeline.record.model import CONFIRMED, DECLINED, FIXED, TENTATIVE, Answer
from pipeline.record.writing import Stretch, minute
from pipeline.wording.formats import listed
from pipeline.wording.slots import utc_span

STATES = {"ACCEPTED": CONFIRMED, "DECLINED": DECLINED, "TENTATIVE": TENTATIVE}
WORDS = {CONFIRMED: "yes", DECLINED: "no", TENTATIVE: "perhaps"}


def judge(mails: Sequence[Mail], ledger: Ledger, inputs: Inputs, answers: Sequence[Answer]) -> list[Verdict]:
    """A verdict for each answer, in the order of the files; of several valid ones to a slot only the newest applies."""
    known = known_slots(ledger, inputs)
    partners = {address: one.partner for one in known.values() for address in one.addresses}
    partners |= {station.email.casefold(): station.call for station in inputs.partners if station.email}
    sources = [(mail, event) for mail in mails for event in mail.events or (None,)]
    first = only_newest(
        [
            judge_words(mail, partners, known, ledger, inputs)
            if event is None
            else judge_event(mail, event, known, inputs)
            for mail, event in sources
        ]
    )
    verdicts: list[Verdict] = []
    for (mail, event), one in zip(sources, first, strict=True):
        verdict = against_record(one, answers, inputs)
        if event is not None:
            verdict = unless_answered(beside_words(verdict, mail, event, ledger, inputs), event, known, answers)
        verdicts.append(verdict)
    return told_of_strangers(verdicts, inputs)


def told_of_strangers(verdicts: Sequence[Verdict], inputs: Inputs) -> list[Verdict]:
    """Who is no partner of the season any more is noted all the same, and that is said: nobody plans on it."""
    calls = {station.call for station in inputs.partners}
    return [
        replace(
            verdict,
            advice=f"{verdict.known.partner} is no partner of this season any more: tell it yourself, or put it back.",
        )
        if verdict.known is not None and verdict.state is not None and verdict.known.partner not in calls
        else verdict
        for verdict in verdicts
    ]


def unless_answered(
    verdict: Verdict, event: EventReply, known: Mapping[str, Known], answers: Sequence[Answer]
) -> Verdict:
    """The verdict, done with where its slot has an answer that was noted since."""
    one = known.get(event.uid.casefold())
    if one is None or not verdict.waits:
        return verdict
    since = is_answered_since(answers, one.partner, [(one.slot.label, one.slot.start_utc)], event.stamp_utc)
    return replace(verdict, is_done=True, details=(*verdict.details, SINCE)) if since else verdict


# --- answers of calendars --------------------------------------------------------------------------------------------


def judge_event(mail: Mail, event: EventReply, known: Mapping[str, Known], inputs: Inputs) -> Verdict:
    """One answer from a calendar."""
    file = mail.file
    one = known.get(event.uid.casefold())
    if event.method not in ("REPLY", "COUNTER"):
        what = printable(event.method.lower(), 20) or "calendar entry"
        return Verdict(file, f"a {what} and no answer.", "it was left alone.", is_strange=one is None, is_done=True)
    if one is None:
        return judge_unknown(file, event, inputs)
    zones = zones_of(inputs, one.partner)
    attendee = attendee_of(event, one)
    slot_words = f"{one.partner} slot {one.slot.label} ({utc_span(*one.time)})"
    doubt = doubt_of(mail, event, one, attendee, inputs)
    clocks = (f"offered at {time_words(*one.time, zones)}",)
    if doubt:
        word = WORDS.get(STATES.get(attendee.answer, ""), "yes") if attendee else said_word(event)
        advice = f"if it is from {one.partner} all the same: {answer_line(one, word)}"
        if answered_time(event, one) != one.time:
            advice = f"it is not plainly about the time offered now; ask {one.partner}, then: {answer_line(one, word)}"
        return Verdict(file, doubt.replace("SLOT", slot_words), advice, details=clocks)
    if one.withdrawn:
        return Verdict(
            file, f"{slot_words}: the answer is to a slot that was withdrawn.", "nothing to do.", is_done=True
        )
    assert attendee is not None
    return judge_answer(mail, event, one, STATES.get(attendee.answer), inputs)


def judge_unknown(file: str, event: EventReply, inputs: Inputs) -> Verdict:
    """An answer to a slot that the ledger does not know."""
    ours = handed_over(event, inputs)
    if ours is None:
        uid = printable(event.uid, 60) or "nothing"
        return Verdict(file, f"an answer to {uid}, which was never sent from here.", is_strange=True)
    call, label = ours
    word = said_word(event)
    sentence = f"an answer of {call} to slot {label}, which send has not sent: it was handed over by you."
    if event.start_utc is None:
        advice = (
            f"ask for the time that it answers, then for instance: `answer {call} {label}={word}@2027-03-13T01:15Z`"
        )
        return Verdict(file, sentence, advice)
    end = event.end_utc or event.start_utc
    details = (f"answered at {time_words(event.start_utc, end, zones_of(inputs, call))}",)
    line = f"`answer {call} {answer_part(label, word, event.start_utc)}`"
    return Verdict(file, sentence, f"if it is from {call}: {line}", details=details)


def said_word(event: EventReply) -> str:
    """The word of `answer` for what the first attendee says; yes where nobody says anything."""
    return WORDS.get(STATES.get(event.attendees[0].answer, ""), "yes") if event.attendees else "yes"


def handed_over(event: EventReply, inputs: Inputs) -> tuple[str, str] | None:
    """Partner and letter of a slot of ours that the ledger does not know, by its UID; None for a stranger's."""
    uid, key = event.uid.casefold(), inputs.record.uid_key
    name, _, place = uid.partition("@")
    if place != DOMAIN:
        return None
    if key:
        name = name.rpartition("-")[0]
        if slot_identifier(name, key) != uid:
            return None
    for station in inputs.partners:
        begin = f"{inputs.home.call}-{station.call}-".casefold().replace("/", "-")
        label = name.rpartition("-")[2]
        if name.startswith(begin) and label.isalpha() and len(label) <= 2:
            return station.call, label.upper()
    return None


def attendee_of(event: EventReply, one: Known) -> Attendee | None:
    """The one who was asked, among those who answer."""
    return next((person for person in event.attendees if person.address in one.addresses), None)


def doubt_of(mail: Mail, event: EventReply, one: Known, attendee: Attendee | None, inputs: Inputs) -> str:
    """Why an answer is not taken from the one who gives it, SLOT in it for the slot; empty where all is in order."""
    if attendee is None:
        who = printable(", ".join(person.address for person in event.attendees[:3]), 80) or "nobody"
        return f"someone else, {who}, answers for SLOT; nothing was changed."
    if not mail.sender:
        return f"an answer{unclear_sender(mail)} for SLOT; nothing was changed."
    if mail.sender not in one.addresses:
        return f"{printable(mail.sender, 80)} answers in the name of SLOT; nothing was changed."
    if mail.failed:
        found = printable(mail.failed, 80)
        return f"an answer for SLOT that the receiving server doubts to be from there ({found}); nothing was changed."
    ours = inputs.season.letters.sender
    if event.organizer and (ours is None or event.organizer != ours.email.casefold()):
        who = printable(event.organizer, 80)
        return f"an answer for SLOT to an invitation of {who}, who is not you; nothing was changed."
    return ""


def answered_time(event: EventReply, one: Known) -> Stretch | None:
    """The time that an answer is about: by its own DTSTART, else by the SEQUENCE of the letter; None where unknown."""
    if event.start_utc is not None:
        times = [stretch for _, stretch in one.told if stretch[0] == event.start_utc]
        exact = [stretch for stretch in times if event.end_utc in (None, stretch[1])]
        if one.time in exact or (exact and event.end_utc is None):
            return one.time if one.time in exact else exact[-1]
        return event.start_utc, event.end_utc or event.start_utc + (one.slot.end_utc - one.slot.start_utc)
    known = {stretch for sequence, stretch in one.told if event.sequence in (None, sequence)}
    known = known or {stretch for _, stretch in one.told}
    return next(iter(known)) if len(known) == 1 else None


def judge_answer(mail: Mail, event: EventReply, one: Known, state: str | None, inputs: Inputs) -> Verdict:
    """An answer by the right person to a slot that stands."""
    file, slot, comment = mail.file, one.slot, said(event.comment)
    zones, about = zones_of(inputs, one.partner), answered_time(event, one)
    slot_words = f"{one.partner} slot {slot.label} ({utc_span(*one.time)})"
    offered = f"offered at {time_words(*one.time, zones)}"
    ask = answer_line(one, WORDS[state] if state else "yes")
    if event.method == "COUNTER" or (about is not None and about not in {stretch for _, stretch in one.told}):
        wanted = utc_span(event.start_utc, event.end_utc) if event.start_utc else "another time"
        sentence = f"{slot_words}: {one.partner} proposes {wanted} instead{comment}; nothing was changed."
        proposed = (f"proposed {time_words(*about, zones)}",) if event.start_utc and about else ()
        return Verdict(file, sentence, counter_advice(event, one), details=(offered, *proposed))
    if about != one.time:
        before = [f"answered {time_words(*about, zones)}"] if about else ["the answer does not say which"]
        sentence = f"{slot_words}: the answer is to an older letter; the time has changed since{comment}."
        return Verdict(file, sentence, f"ask again, or if it holds for the new time: {ask}", details=(offered, *before))
    if state is None:
        return Verdict(
            file, f"{slot_words}: no answer yet{comment}.", f"if you know it: {ask}", details=(offered,), is_done=True
        )
    sentence = f"{slot_words}: {WORDS[state]}{comment}"
    return Verdict(file, sentence, "", one, state, event.stamp_utc or EARLIEST, mail.sender, (offered,))


def beside_words(verdict: Verdict, mail: Mail, event: EventReply, ledger: Ledger, inputs: Inputs) -> Verdict:
    """An answer with the words beside it; it waits where they may change it, or if it refuses one of several times."""
    one, state = verdict.known, verdict.state
    if one is None or state is None:
        return verdict
    lines = (*own_lines(event.comment), *mail.lines)
    details = (*verdict.details, *quoted(lines))
    zones, period = zones_of(inputs, one.partner), period_named(one.period, inputs.zone)
    answers = [] if period is None else [line for line in inputs.record.answers if period.holds(line.start_utc)]
    offered = offered_to(one.partner, ledger, period, None, inputs.record.answers) if period else {}
    waiting = waiting_of(offered, answers)
    others = [label for label, time in waiting.items() if time.instead_of == one.slot.label]
    if state == DECLINED and others:
        # The invitation is for the first time alone, and the letter promised to keep the others free.
        why = f", and {listed(others)} {'was' if len(others) == 1 else 'were'} offered instead"
    elif may_change(lines, one.slot.label, WORDS[state], open_slots(waiting, zones)):
        why = ", with words beside it that may change that"
    else:
        return replace(verdict, details=details)
    asked = proposals_of(one.partner, reading_of(one.partner, lines, waiting, zones, answers), waiting, zones)
    return Verdict(
        verdict.file,
        f"{verdict.sentence}{why}; nothing was changed.",
        "read them, then type what they say:",
        sender=mail.sender,
        details=details,
        readings=tuple(dict.fromkeys((answer_line(one, WORDS[state]), *all_readings(one.partner, waiting), *asked))),
    )


def counter_advice(event: EventReply, one: Known) -> str:
    """What to do with another time: the command that judges it."""
    if event.start_utc is None:
        return f"ask for the time; then: `propose {one.partner} TIME --instead {one.slot.label}`"
    command = f"propose {one.partner} {minute(event.start_utc)} --instead {one.slot.label}"
    return f"whether it would do: `{command}`"


# --- several answers, and the record ---------------------------------------------------------------------------------


def only_newest(verdicts: Sequence[Verdict]) -> list[Verdict]:
    """Of the answers to one slot the newest is kept to; a later file wins where the stamps are equal."""
    newest: dict[str, int] = {}
    for index, verdict in enumerate(verdicts):
        if verdict.state is None or verdict.known is None:
            continue
        uid = verdict.known.slot.uid
        if uid not in newest or verdict.stamp_utc >= verdicts[newest[uid]].stamp_utc:
            newest[uid] = index
    kept = set(newest.values())
    return [
        verdict if verdict.state is None or index in kept else told_only(verdict, "a newer answer came after it")
        for index, verdict in enumerate(verdicts)
    ]


def told_only(verdict: Verdict, why: str, advice: str = "", is_done: bool = True) -> Verdict:
    """An answer that is not applied after all."""
    sentence = f"{verdict.sentence}; {why}, so it was left alone."
    return Verdict(verdict.file, sentence, advice, sender=verdict.sender, details=verdict.details, is_done=is_done)


def against_record(verdict: Verdict, answers: Sequence[Answer], inputs: Inputs) -> Verdict:
    """The verdict beside what the record says already: told only where that is later, over or about another time.

    What undoes an agreement is said, with its sender and what follows from it.
    """
    known, state = verdict.known, verdict.state
    if known is None or state is None:
        return verdict
    last = f"if this is the last word: {answer_line(known, WORDS[state])}"
    elsewhere = next((line for line in answers if is_agreed_elsewhere(line, known, inputs)), None)
    if elsewhere is not None:
        when = utc_span(elsewhere.start_utc, elsewhere.end_utc)
        if elsewhere.is_own_proposal:
            return told_only(verdict, f"since then it proposed {when} itself, which is agreed")
        return told_only(verdict, f"the record has {elsewhere.state} for another time, {when}", last, is_done=False)
    line = next((one for one in answers if is_of(one, known)), None)
    if line is None or line.state == state:
        return verdict
    if line.outcome:
        return told_only(verdict, f"the record says how it went: {line.outcome}")
    if line.answered is not None and verdict.stamp_utc.replace(second=0) < line.answered.replace(second=0):
        why = f"the record has {line.state} of {line.answered:%Y-%m-%d %H:%M} UTC, which is later"
        return told_only(verdict, why, last)
    if line.state in (CONFIRMED, FIXED) and state != CONFIRMED:
        return replace(verdict, details=(*verdict.details, undoing(verdict, line, known.slot.label)))
    return verdict


def undoing(verdict: Verdict, line: Answer, label: str) -> str:
    """What an answer takes back, whose it is, and what the next plan makes of it."""
    follows = {
        DECLINED: f"slot {label} is given up, and the next plan may give its time to somebody else",
        TENTATIVE: f"slot {label} stays, but only perhaps",
    }[verdict.state or DECLINED]
    return f"this undoes what was agreed ({line.state}), by {printable(verdict.sender, 80)}: {follows}"


def is_agreed_elsewhere(line: Answer, known: Known, inputs: Inputs) -> bool:
    """Whether a line holds the same letter of the same period to another time, and says not yet how it went."""
    slot, period = known.slot, period_named(known.period, inputs.zone)
    same = line.partner == known.partner and line.label == slot.label and not line.outcome and line.state != DECLINED
    here = period is not None and period.holds(line.start_utc)
    return same and here and line.start_utc != slot.start_utc


def said(comment: str) -> str:
    """What the partner added, in brackets."""
    words = printable(comment, 120)
    return f" (“{words}”)" if words else ""
