"""Mails without a calendar part: whose they are, their own words, and the finished `answer` where these are plain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipeline.inputs.yaml_tree import printable
from pipeline.letters.answers import period_named, zones_of
from pipeline.letters.choices import Said as Settled
from pipeline.letters.facts_said import facts_in, without_hours
from pipeline.letters.offered import Offered, offered_to
from pipeline.letters.reply_mail import Mail
from pipeline.letters.reply_text import LONGEST_LINE
from pipeline.letters.reply_times import named_in
from pipeline.letters.said_of_offers import (
    Reading,
    all_readings,
    command_of,
    hours_of,
    is_in_record,
    offered_lines,
    proposals_of,
    reading_of,
    waiting_of,
)
from pipeline.letters.sky_answer import asked_of
from pipeline.letters.verdicts import SINCE, Known, Verdict, is_answered_since, unclear_sender
from pipeline.record.inputs import Inputs
from pipeline.record.ledger import Ledger
from pipeline.record.model import CONFIRMED, Answer, AskedSky
from pipeline.wording.slots import utc_span


def judge_words(
    mail: Mail, partners: Mapping[str, str], known: Mapping[str, Known], ledger: Ledger, inputs: Inputs
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
        return judge_automatic(mail, call_or_none, about)
    doubt = f"; but the receiving server doubts that it is from there ({printable(mail.failed, 80)})"
    sentence = f"{call_or_none} wrote in words of its own{about}{doubt if mail.failed else ''}."
    advice, times, readings, is_done = words_advice(mail, call_or_none, known, ledger, inputs)
    details = (*quoted(mail.lines), *times, *([SINCE] if is_done and not advice.startswith("the record") else []))
    return Verdict(file, sentence, advice, sender=mail.sender, details=details, readings=readings, is_done=is_done)


def judge_automatic(mail: Mail, call: str, about: str) -> Verdict:
    """What a machine answers in a partner's place: never to a slot; where it names a day, it is to be read."""
    names_a_day = any(named_in(line)[0] for line in mail.lines)
    return Verdict(
        mail.file,
        f"an automatic answer from {call}{about}; it answers no slot.",
        "if it keeps them from a slot: put the days into their file (`unavailable_dates:`)" if names_a_day else "",
        sender=mail.sender,
        details=quoted(mail.lines),
        is_done=not names_a_day,
    )


def quoted(lines: Sequence[str]) -> tuple[str, ...]:
    """A partner's own words, as they are shown."""
    return tuple(f"| {printable(line, LONGEST_LINE)}" for line in lines)


def newest_period(known: Mapping[str, Known], call: str) -> str:
    """The period of a partner's latest slot; empty where it was offered none."""
    own = [one for one in known.values() if one.partner == call]
    return max(own, key=lambda one: one.slot.start_utc).period if own else ""


def words_advice(
    mail: Mail, call: str, known: Mapping[str, Known], ledger: Ledger, inputs: Inputs
) -> tuple[str, tuple[str, ...], tuple[str, ...], bool]:
    """What to do with a mail in words, the times that it may be about, and every reading where none is plain.

    Beside them whether nothing is left to do: the record has what it says, or an answer to all of it given since.
    """
    period = period_named(newest_period(known, call), inputs.zone)
    zones = zones_of(inputs, call)
    answers = [] if period is None else [one for one in inputs.record.answers if period.holds(one.start_utc)]
    offered = offered_to(call, ledger, period, None, inputs.record.answers) if period else {}
    waiting = waiting_of(offered, answers)
    hours = hours_of(list(waiting.values()), zones)
    asked_sky = asked_of(call, ledger, newest_period(known, call), None)
    facts = facts_of(call, mail.lines, hours, asked_sky, inputs)
    if not waiting:
        advice = (
            "what it tells of its station:"
            if facts
            else ("read it yourself; what it says of its station or its hours goes into its file, then: `plan`")
        )
        return advice, (), facts, False
    reading = reading_of(call, without_hours(mail.lines, hours), waiting, zones, answers)
    proposed = proposals_of(call, reading, waiting, zones)
    is_done = not facts and is_settled(mail, call, reading, waiting, answers)
    if not reading.told:
        times = offered_lines(list(waiting), waiting, zones)
        return unclear_advice(reading), tuple(times), (*facts, *all_readings(call, waiting), *proposed), is_done
    labels = [one.offered.label for one in reading.told]
    times = offered_lines(labels, waiting, zones)
    for one in reading.told:
        if one.offered.others:
            times.append(f"{one.offered.label} was offered at another time before: be sure which one is answered")
        if one.line is not None and one.line.state == CONFIRMED and one.line.start_utc != one.offered.start_utc:
            held = utc_span(one.line.start_utc, one.line.end_utc)
            times.append(f"the record has slot {one.slot.label} agreed at another time, {held}")
    if all(is_in_record(one, answers) for one in reading.told):
        is_done = is_done or not (facts or proposed)
        return "the record says so already", tuple(times), (*facts, *proposed), is_done
    return (
        f"{_says(reading.told)}if that is what it says: {command_of(call, reading.told)}",
        tuple(times),
        (*facts, *proposed),
        is_done,
    )


def is_settled(
    mail: Mail, call: str, reading: Reading, waiting: Mapping[str, Offered], answers: Sequence[Answer]
) -> bool:
    """Whether all slots that a mail names, or all that wait, were answered since, or the time that it asks for was."""
    named = [one for label, one in waiting.items() if label in reading.named] or list(waiting.values())
    slots = [(one.instead_of or one.label, one.start_utc) for one in named]
    own = [(one.label, one.start_utc) for one in answers if one.partner == call and one.is_own_proposal]
    taken = reading.proposed and any(is_answered_since(answers, call, [one], mail.date_utc) for one in own)
    return bool(taken) or is_answered_since(answers, call, slots, mail.date_utc)


def facts_of(
    call: str, lines: Sequence[str], hours: Sequence[str], asked_sky: AskedSky | None, inputs: Inputs
) -> tuple[str, ...]:
    """What lines tell of the station of a partner of the season, a command each between backquotes."""
    if call not in [station.call for station in inputs.partners]:
        return ()
    band = inputs.bands[inputs.place_of(call)]
    facts = facts_in(lines, inputs.partner(call), band, hours, asked_sky)
    return tuple(f"`answer {call} {fact}`" for fact in facts)


def _says(told: Sequence[Settled]) -> str:
    """`it chooses B: `, where another time is taken."""
    chosen = [one.offered.label for one in told if one.takes_other_time]
    return f"it chooses {' and '.join(chosen)}; " if chosen else ""


def unclear_advice(reading: Reading) -> str:
    """What to do where nothing is plain; every reading stands below it."""
    if reading.other_time:
        return f"it names {reading.other_time}, which is not plainly a slot's time; ask, then type one of these:"
    if reading.several:
        labels = " and ".join(reading.several)
        return f"it says yes to {labels}, and one of them is enough; choose, and type one of these:"
    return "read it yourself, then type what it says (perhaps is an answer too):"
