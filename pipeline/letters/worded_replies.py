"""Mails without a calendar part: whose they are, their own words, and the finished `answer` where these are plain."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from pipeline.inputs.yaml_tree import printable
from pipeline.letters.answers import answer_part, time_words, zones_of
from pipeline.letters.reply_mail import Mail
from pipeline.letters.reply_words import OpenSlot, clock_times, read_words
from pipeline.letters.verdicts import Known, Verdict, is_of, unclear_sender
from pipeline.record.inputs import Inputs
from pipeline.record.model import Answer


def judge_words(
    mail: Mail, partners: Mapping[str, str], known: Mapping[str, Known], inputs: Inputs, answers: Sequence[Answer]
) -> Verdict:
    """A mail without a calendar part: for the operator to read."""
    file = mail.file
    if mail.fault:
        return Verdict(file, f"not read: {mail.fault}.", "look at it yourself, with care.")
    returned = [partners[address] for address in mail.bounced if address in partners]
    if returned:
        call = returned[0]
        address = printable(next(one for one in mail.bounced if one in partners), 80)
        advice = f"put the address of {call} right, then: `plan`, `letters`, `send`"
        return Verdict(file, f"the letter to {call} came back: {address} could not be reached.", advice)
    subject = printable(mail.subject, 80)
    about = f", subject “{subject}”" if subject else ""
    named = [partners[address] for address in mail.senders if address in partners]
    if not mail.sender and named:
        return Verdict(file, f"a mail{about}{unclear_sender(mail)}, {named[0]} among others.", "it was left alone.")
    call_or_none = partners.get(mail.sender)
    if call_or_none is None:
        sender = printable(mail.sender, 80) or "nobody"
        strange = f"a mail from {sender}{about}, which is no partner's address."
        return Verdict(file, strange, "it was left alone.", is_strange=True)
    if mail.automatic:
        return Verdict(file, f"an automatic answer from {call_or_none}{about}; it says nothing about a slot.")
    doubt = f"; but the receiving server doubts that it is from there ({printable(mail.failed, 80)})"
    sentence = f"{call_or_none} wrote in words of its own{about}{doubt if mail.failed else ''}."
    slots = [one for one in latest_open(known, call_or_none) if not has_outcome(one, answers)]
    advice, times = words_advice(mail, call_or_none, slots, inputs)
    quoted = tuple(f"| {printable(line, 120)}" for line in mail.lines)
    return Verdict(file, sentence, advice, sender=mail.sender, details=(*quoted, *times))


def latest_open(known: Mapping[str, Known], call: str) -> list[Known]:
    """The slots of a partner's newest letter's period that stand, by letter."""
    own = [one for one in known.values() if one.partner == call]
    if not own:
        return []
    newest = max(own, key=lambda one: one.slot.start_utc).period
    kept = [one for one in own if one.period == newest and not one.withdrawn]
    return sorted(kept, key=lambda one: (len(one.slot.label), one.slot.label))


def has_outcome(one: Known, answers: Sequence[Answer]) -> bool:
    """Whether the record says how a slot went."""
    return any(line.outcome and is_of(line, one) for line in answers)


def words_advice(mail: Mail, call: str, slots: Sequence[Known], inputs: Inputs) -> tuple[str, tuple[str, ...]]:
    """What to do with a mail in words, and the times of the slots that the advice names."""
    if not slots:
        return "read it yourself; what it says of its station or its hours goes into its file, then: `plan`", ()
    zones = zones_of(inputs, call)
    read = read_words(mail.lines, [open_slot(one, list(zones.values())) for one in slots])
    words = dict(read.words) or {slots[0].slot.label: "yes"}
    named = [one for one in slots if one.slot.label in words]
    parts = " ".join(answer_part(one.slot.label, words[one.slot.label], one.slot.start_utc) for one in named)
    line = f"`answer {call} {parts}`"
    times = tuple(f"{one.slot.label} is offered at {time_words(*one.time, zones)}" for one in named)
    moved = [one.slot.label for one in named if any(stretch != one.time for _, stretch in one.told)]
    if moved:
        times += (f"{', '.join(moved)} was offered at another time before: be sure which one is answered",)
    if read.words:
        return f"if that is what it says: {line}", times
    if read.other_time:
        return f"it names {read.other_time}, which is not plainly a slot's time; ask, then for instance: {line}", times
    return f"read it yourself; then: {line} (or no, or perhaps)", times


def open_slot(one: Known, zones: Sequence[dt.tzinfo | None]) -> OpenSlot:
    """A slot by its letter and by the clocks by which a partner may name it."""
    return OpenSlot(one.slot.label, *(clock_times(edge, zones) for edge in one.time))
