"""What words say of the slots and other times that a partner was offered: read alike for `replies` and for `answer`.

From what the partner was offered (`offered`) and the reader of sentences (`reply_words`). Nothing counts as read that
`answer` would not take.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from pipeline.letters.answers import Said, Zones, answer_part, parse_answers, settled_slots, time_words
from pipeline.letters.choices import Said as Settled
from pipeline.letters.choices import all_said, states_of
from pipeline.letters.offered import AnswerFault, Offered
from pipeline.letters.reply_times import Named, OpenSlot, by_clocks
from pipeline.letters.reply_vocabulary import NO, YES
from pipeline.letters.reply_words import Read, is_all_known, read_words
from pipeline.record.model import DECLINED, RAINED, Answer

# So many times are proposed at once, and so many days on either side are near.
MOST_PROPOSED, NEAR_DAYS = 4, 40
# So many slots are taken together in one line.
MOST_TOGETHER = 4


@dataclass(frozen=True)
class Reading:
    """What lines say of the offers: the answers by letter, empty where that is not plain, and a time of none of them.

    `several` are the letters of one slot to all of which they say yes; `proposed` and `named` as in `Read`.
    """

    told: tuple[Settled, ...] = ()
    other_time: str = ""
    several: tuple[str, ...] = ()
    proposed: tuple[Named, ...] = ()
    named: frozenset[str] = frozenset()


def waiting_of(offered: Mapping[str, Offered], answers: Sequence[Answer]) -> dict[str, Offered]:
    """What may still be answered, by letter in order: not withdrawn, and no slot of which it is told how it went."""
    over = {(line.partner, line.label) for line in answers if line.outcome and line.outcome != RAINED}
    rained = {(line.partner, line.label, line.start_utc) for line in answers if line.outcome == RAINED}
    kept = {
        label: one
        for label, one in offered.items()
        if not one.withdrawn
        and (one.partner, one.instead_of or label) not in over
        and (one.partner, label, one.start_utc) not in rained
    }
    return dict(sorted(kept.items(), key=lambda item: (len(item[0]), item[0])))


def read_lines(lines: Sequence[str], offered: Mapping[str, Offered], zones: Zones) -> Read:
    """What lines say by letter, as the reader of sentences has it."""
    return read_words(lines, open_slots(offered, zones))


def open_slots(offered: Mapping[str, Offered], zones: Zones) -> list[OpenSlot]:
    """What was offered, as the reader of sentences takes it."""
    clocks = list(zones.values())
    return [
        OpenSlot(label, by_clocks(one.start_utc, clocks), by_clocks(one.end_utc, clocks), one.instead_of)
        for label, one in offered.items()
    ]


def reading_of(
    call: str, lines: Sequence[str], offered: Mapping[str, Offered], zones: Zones, answers: Sequence[Answer]
) -> Reading:
    """What lines say, settled as `answer` settles it."""
    read = read_lines(lines, offered, zones)
    yes: dict[str, list[str]] = {}
    for label, word in read.words:
        if word == YES:
            yes.setdefault(offered[label].instead_of or label, []).append(label)
    several = next((tuple(labels) for labels in yes.values() if len(labels) > 1), ())
    heard = Reading(other_time=read.other_time, several=several, proposed=read.proposed, named=read.named)
    if not read.words or several:
        return heard
    said = {label: Said("", word, offered[label].start_utc) for label, word in read.words}
    try:
        told = all_said(said, settled_slots(call, said, offered, zones), answers)
        states_of(told, dt.datetime.now(dt.UTC))
    except AnswerFault:
        return replace(heard, other_time="")
    return replace(heard, told=tuple(sorted(told, key=lambda one: (len(one.offered.label), one.offered.label))))


def proposals_of(call: str, reading: Reading, waiting: Mapping[str, Offered], zones: Zones) -> tuple[str, ...]:
    """A `propose` for each time that lines ask for, by the partner's clock, on the day of the slots that they name.

    Of a partner whose clock is not known only times in UTC.
    """
    slots = [one for label, one in waiting.items() if label in reading.named or not reading.named & set(waiting)]
    found: list[str] = []
    for named in reading.proposed:
        zone = dt.UTC if named.is_utc else zones.get(call)
        if zone is None:
            continue
        for slot in slots:
            day = day_named(named, slot.start_utc.astimezone(zone).date())
            typed = f"{named.clock}Z" if named.is_utc else f"{named.clock} --zone partner"
            found += [f"`propose {call} {day:%Y-%m-%d}{'T' if named.is_utc else ' '}{typed}`"] if day else []
    return tuple(dict.fromkeys(found))[:MOST_PROPOSED]


def day_named(named: Named, day: dt.date) -> dt.date | None:
    """The day that a time stands beside, nearest to a slot's; that one itself where it stands alone."""
    near = [day + dt.timedelta(days=sign * away) for away in range(NEAR_DAYS) for sign in (1, -1)]
    fits = (
        one
        for one in near
        if (named.weekday is None or one.weekday() == named.weekday)
        and (not named.dates or bool(named.dates & {(one.month, one.day), (0, one.day)}))
    )
    return next(fits, None)


def said_as_typed(
    call: str, text: str, typed: Sequence[str], offered: Mapping[str, Offered], zones: Zones
) -> dict[str, Said]:
    """Answers by letter: as `typed` has them one by one, else what the whole text says as a sentence.

    Raises AnswerFault where neither is plain; a sentence is none where a word of it is not known.
    """
    try:
        return parse_answers(call, typed, dict(offered))
    except AnswerFault:
        plain = "=" not in text and "@" not in text and is_all_known(text)
        words = read_lines([text], waiting_of(offered, ()), zones).words if plain else ()
        if not words:
            raise
        return parse_answers(call, [f"{label}={word}" for label, word in words], dict(offered))


def is_in_record(one: Settled, answers: Sequence[Answer]) -> bool:
    """Whether the record says an answer already."""
    slot, wanted = one.offered, one.slot.said(one.word, dt.datetime.now(dt.UTC)).state
    lines = [line for line in answers if line.partner == slot.partner and line.start_utc == slot.start_utc]
    labels = {one.slot.label, ""} if wanted == DECLINED else {one.slot.label}
    return any(line.state == wanted and line.label in labels for line in lines)


def command_of(call: str, told: Sequence[Settled]) -> str:
    """The `answer` that says it, between backquotes."""
    return _command(call, [(one.offered, one.word) for one in told])


def all_readings(call: str, waiting: Mapping[str, Offered]) -> tuple[str, ...]:
    """Every answer that may be meant, a command each: a yes to each time, a no to each slot with all its
    times, and a yes to all slots together.
    """
    slots: dict[str, list[Offered]] = {}
    for label, one in waiting.items():
        slots.setdefault(one.instead_of or label, []).append(one)
    found: list[str] = []
    for times in slots.values():
        found += [_command(call, [(one, YES)]) for one in times]
        found.append(_command(call, [(one, NO) for one in times]))
    together = list(product(*slots.values())) if len(slots) > 1 else []
    if len(together) <= MOST_TOGETHER:
        found += [_command(call, [(one, YES) for one in times]) for times in together]
    return tuple(found)


def _command(call: str, words: Sequence[tuple[Offered, str]]) -> str:
    parts = " ".join(answer_part(one.label, word, one.start_utc) for one, word in words)
    return f"`answer {call} {parts}`"


def hours_of(slots: Sequence[Offered], zones: Zones) -> list[str]:
    """The hours of slots by each clock, as `18:00-23:30`."""
    clocks = list(zones.values())
    edges = [zip(by_clocks(one.start_utc, clocks), by_clocks(one.end_utc, clocks), strict=True) for one in slots]
    return [f"{start:%H:%M}-{end:%H:%M}" for both in edges for start, end in both]


def offered_lines(labels: Sequence[str], waiting: Mapping[str, Offered], zones: Zones) -> list[str]:
    """When the times of these letters are, with all others of the same slots."""
    slots = {waiting[label].instead_of or label for label in labels}
    return [
        f"{label} is offered {f'instead of {one.instead_of} ' if one.instead_of else ''}at "
        f"{time_words(one.start_utc, one.end_utc, zones)}"
        for label, one in waiting.items()
        if (one.instead_of or label) in slots
    ]
