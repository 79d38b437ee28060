"""What partners answered, against what the ledger says they were offered: what is taken, and what is only told.

Matched by UID and attendee (RFC 5546, section 2.1.5): the slot and its sequence by the ledger, the person by the
address that was written to. Of several answers to a slot the newest DTSTAMP counts. All else is told, never applied.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from pipeline.agenda.commitments import DOMAIN
from pipeline.inputs.yaml_tree import printable
from pipeline.letters.reply_calendar import Attendee, EventReply
from pipeline.letters.reply_mail import Mail
from pipeline.record.inputs import Inputs
from pipeline.record.ledger import Ledger, LetterSlot
from pipeline.record.model import CONFIRMED, DECLINED, TENTATIVE, Answer
from pipeline.record.writing import SlotState, minute

STATES = {"ACCEPTED": CONFIRMED, "DECLINED": DECLINED, "TENTATIVE": TENTATIVE}
WORDS = {CONFIRMED: "yes", DECLINED: "no", TENTATIVE: "perhaps"}
EARLIEST = dt.datetime(1900, 1, 1, tzinfo=dt.UTC)


@dataclass(frozen=True)
class Known:
    """One slot that was offered: by which partner's letter of which period, and to which addresses."""

    partner: str
    period: str
    slot: LetterSlot
    withdrawn: bool
    addresses: frozenset[str]


@dataclass(frozen=True)
class Verdict:
    """What one answer comes to: `state` is None where nothing is applied; `sentence` says why, `advice` what next.

    Commands in an advice stand between backquotes, to be told in the form in which the user types them.
    """

    file: str
    sentence: str
    advice: str = ""
    known: Known | None = None
    state: str | None = None
    stamp_utc: dt.datetime = EARLIEST

    def as_state(self, now: dt.datetime) -> SlotState:
        """What goes into the record."""
        assert self.known is not None
        assert self.state is not None
        slot = self.known.slot
        moment = min(self.stamp_utc, now) if self.stamp_utc > EARLIEST else now
        return SlotState(
            self.known.partner, slot.label, slot.start_utc, slot.end_utc, self.state, slot.operator, moment
        )


def known_slots(ledger: Ledger, inputs: Inputs) -> dict[str, Known]:
    """Every slot that was offered, by UID, as it was offered last."""
    now = {station.call: station.email.casefold() for station in inputs.partners if station.email}
    addresses: dict[str, set[str]] = {call: {address} for call, address in now.items()}
    for message in ledger.messages:
        addresses.setdefault(message.partner, set()).add(message.to.casefold())
    found: dict[str, Known] = {}
    for message in ledger.messages:
        if not message.delivered:
            continue
        for withdrawn, slots in ((False, message.slots), (True, message.withdrawn)):
            for slot in slots:
                own = frozenset(addresses[message.partner])
                found[slot.uid.casefold()] = Known(message.partner, message.period, slot, withdrawn, own)
    return found


def judge(mails: Sequence[Mail], ledger: Ledger, inputs: Inputs, answers: Sequence[Answer]) -> list[Verdict]:
    """A verdict for each answer, in the order of the files; of several valid ones to a slot only the newest applies."""
    known = known_slots(ledger, inputs)
    partners = {address: one.partner for one in known.values() for address in one.addresses}
    partners |= {station.email.casefold(): station.call for station in inputs.partners if station.email}
    verdicts: list[Verdict] = []
    for mail in mails:
        if mail.events:
            verdicts += [judge_event(mail, event, known, inputs) for event in mail.events]
        else:
            verdicts.append(judge_words(mail, partners, known))
    return told_of_strangers(against_record(only_newest(verdicts), answers), inputs)


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


def judge_words(mail: Mail, partners: dict[str, str], known: dict[str, Known]) -> Verdict:
    """A mail without a calendar part: for the operator to read."""
    file, sender = mail.file, printable(mail.sender, 80) or "nobody"
    if mail.fault:
        return Verdict(file, f"not read: {mail.fault}.", "look at it yourself, with care.")
    returned = [partners[address] for address in mail.bounced if address in partners]
    if returned:
        call = returned[0]
        address = printable(next(one for one in mail.bounced if one in partners), 80)
        advice = f"put the address of {call} right, then: `plan`, `letters`, `send`"
        return Verdict(file, f"the letter to {call} came back: {address} could not be reached.", advice)
    call_or_none = partners.get(mail.sender)
    subject = printable(mail.subject, 80)
    about = f", subject “{subject}”" if subject else ""
    if call_or_none is None:
        return Verdict(file, f"a mail from {sender}{about}, which is no partner's address.", "it was left alone.")
    if mail.automatic:
        return Verdict(file, f"an automatic answer from {call_or_none}{about}; it says nothing about a slot.")
    labels = sorted(one.slot.label for one in known.values() if one.partner == call_or_none and not one.withdrawn)
    advice = "read it yourself; what it says of its station or its hours goes into its file, then: `plan`"
    if labels:
        advice = f"read it yourself; then: `answer {call_or_none} {labels[0]}=yes` (or no, or perhaps)"
    return Verdict(file, f"{call_or_none} wrote in words of its own{about}.", advice)


def said_word(event: EventReply) -> str:
    """The word of `answer` for what the first attendee says; yes where nobody says anything."""
    return WORDS.get(STATES.get(event.attendees[0].answer, ""), "yes") if event.attendees else "yes"


def handed_over(event: EventReply, inputs: Inputs) -> tuple[str, str] | None:
    """Partner and letter of a slot of ours that the ledger does not know, by its UID; None for a stranger's."""
    name, _, place = event.uid.casefold().partition("@")
    for station in inputs.partners:
        begin = f"{inputs.home.call}-{station.call}-".casefold().replace("/", "-")
        label = name.rpartition("-")[2]
        if place == DOMAIN and name.startswith(begin) and label.isalpha() and len(label) <= 2:
            return station.call, label.upper()
    return None


def judge_event(mail: Mail, event: EventReply, known: dict[str, Known], inputs: Inputs) -> Verdict:
    """One answer from a calendar."""
    file = mail.file
    if event.method not in ("REPLY", "COUNTER"):
        what = printable(event.method.lower(), 20) or "calendar entry"
        return Verdict(file, f"a {what} and no answer.", "it was left alone.")
    one = known.get(event.uid.casefold())
    if one is None and (ours := handed_over(event, inputs)):
        call, label = ours
        word = said_word(event)
        sentence = f"an answer of {call} to slot {label}, which send has not sent: it was handed over by you."
        return Verdict(file, sentence, f"if it is from {call}: `answer {call} {label}={word}`")
    if one is None:
        return Verdict(file, f"an answer to {printable(event.uid, 60) or 'nothing'}, which was never sent from here.")
    attendee = attendee_of(event, one)
    slot_words = f"{one.partner} slot {one.slot.label} ({when(one.slot.start_utc, one.slot.end_utc)})"
    by_hand = f"if it is from {one.partner}: `answer {one.partner} {one.slot.label}="
    if attendee is None:
        who = printable(", ".join(person.address for person in event.attendees[:3]), 80) or "nobody"
        word = said_word(event)
        return Verdict(
            file, f"someone else, {who}, answers for {slot_words}; nothing was changed.", f"{by_hand}{word}`"
        )
    state = STATES.get(attendee.answer)
    word = WORDS.get(state or "", "yes")
    if mail.sender and mail.sender not in one.addresses and mail.sender != attendee.address:
        sender = printable(mail.sender, 80)
        return Verdict(file, f"{sender} answers in the name of {slot_words}; nothing was changed.", f"{by_hand}{word}`")
    if one.withdrawn:
        return Verdict(file, f"{slot_words}: the answer is to a slot that was withdrawn.", "nothing to do.")
    return judge_answer(file, event, one, state, slot_words)


def attendee_of(event: EventReply, one: Known) -> Attendee | None:
    """The one who was asked, among those who answer."""
    return next((person for person in event.attendees if person.address in one.addresses), None)


def judge_answer(file: str, event: EventReply, one: Known, state: str | None, slot_words: str) -> Verdict:
    """An answer by the right person to a slot that stands."""
    slot, comment = one.slot, said(event.comment)
    other_time = event.start_utc is not None and event.start_utc != slot.start_utc
    stale = event.sequence is not None and event.sequence < slot.sequence
    stale = stale or (event.sequence is None and slot.sequence > 0 and (event.start_utc is None or other_time))
    ask = f"`answer {one.partner} {slot.label}={WORDS[state] if state else 'yes'}`"
    if stale:
        sentence = f"{slot_words}: the answer is to an older letter; the slot has changed since{comment}."
        return Verdict(file, sentence, f"ask again, or if it holds for the new time: {ask}")
    if event.method == "COUNTER" or other_time:
        wanted = when(event.start_utc, event.end_utc) if event.start_utc else "another time"
        sentence = f"{slot_words}: {one.partner} proposes {wanted} instead{comment}; nothing was changed."
        return Verdict(file, sentence, counter_advice(event, one))
    if state is None:
        return Verdict(file, f"{slot_words}: no answer yet{comment}.", f"if you know it: {ask}")
    sentence = f"{slot_words}: {WORDS[state]}{comment}"
    return Verdict(file, sentence, "", one, state, event.stamp_utc or EARLIEST)


def counter_advice(event: EventReply, one: Known) -> str:
    """What to do with another time: the line to write where it suits."""
    if event.start_utc is None:
        return (
            f"ask for the time, and write it into record/agenda.yaml as fixed; or ask for slot {one.slot.label} again."
        )
    end = event.end_utc or event.start_utc + (one.slot.end_utc - one.slot.start_utc)
    line = (
        f"{{partner: {one.partner}, label: {one.slot.label}, start: {minute(event.start_utc)}, end: {minute(end)}, "
        f"state: fixed, operator: {one.slot.operator}}}"
    )
    return f"if it suits, write into record/agenda.yaml, under slots: - {line}"


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


def told_only(verdict: Verdict, why: str, advice: str = "") -> Verdict:
    """An answer that is not applied after all."""
    return Verdict(verdict.file, f"{verdict.sentence}; {why}, so it was left alone.", advice)


def against_record(verdicts: Sequence[Verdict], answers: Sequence[Answer]) -> list[Verdict]:
    """Answers that are older than what the record says already are told only."""
    done = []
    for verdict in verdicts:
        known = verdict.known
        answer = None
        if known is not None and verdict.state is not None:
            answer = next((one for one in answers if is_of(one, known)), None)
        if known is None or answer is None or answer.answered is None or answer.state == verdict.state:
            done.append(verdict)
            continue
        if verdict.stamp_utc.replace(second=0) < answer.answered.replace(second=0):
            assert verdict.state is not None
            why = f"the record has {answer.state} of {answer.answered:%Y-%m-%d %H:%M} UTC, which is later"
            advice = f"if this is the last word: `answer {known.partner} {known.slot.label}={WORDS[verdict.state]}`"
            done.append(told_only(verdict, why, advice))
        else:
            done.append(verdict)
    return done


def is_of(answer: Answer, known: Known) -> bool:
    """Whether a line of the record is about a slot as it was offered, its time included."""
    slot = known.slot
    return answer.start_utc == slot.start_utc and answer.is_about(known.partner, slot.label, slot.start_utc)


def said(comment: str) -> str:
    """What the partner added, in brackets."""
    words = printable(comment, 120)
    return f" (“{words}”)" if words else ""


def when(start: dt.datetime, end: dt.datetime | None) -> str:
    """`2027-03-13 01:15 to 02:15 UTC`."""
    if end is None:
        return f"{start:%Y-%m-%d %H:%M} UTC"
    ending = f"{end:%H:%M}" if end.date() == start.date() else f"{end:%Y-%m-%d %H:%M}"
    return f"{start:%Y-%m-%d %H:%M} to {ending} UTC"
