"""Answers into the record: which slot at which time a letter means to a partner, and what it is from now on.

What a letter may mean is `offered`'s; the record is written by `record.writing`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from pipeline.inputs.scalars import Refusal, instant, nearest
from pipeline.inputs.season import BEST
from pipeline.inputs.yaml_tree import printable
from pipeline.letters.offered import STATE_OF, WORDS, AnswerFault, Offered
from pipeline.record.inputs import Inputs
from pipeline.record.ledger import LetterSlot
from pipeline.record.model import AGENDA, CONFIRMED, FOLDER, OUTCOMES
from pipeline.record.writing import (
    Changed,
    SlotOutcome,
    SlotState,
    Stretch,
    minute,
    proposed_of,
    set_slots,
)
from pipeline.windows.nights import nights_of
from pipeline.windows.span import Span
from pipeline.wording.slots import both_clocks, utc_span

if TYPE_CHECKING:
    from pipeline.agenda.proposal import Judged

EXAMPLE = "A=yes, B=no, C=perhaps"
# `A=no@all`: no to every time that the letter may mean.
NO, ALL_TIMES = "no", "all"
Zones = Mapping[str, dt.tzinfo | None]


@dataclass(frozen=True)
class Said:
    """One answer as it was typed: `start_utc` is the time that it names, None where it names none.

    `is_to_all` is a no to every time that the letter may mean.
    """

    text: str
    word: str
    start_utc: dt.datetime | None = None
    is_to_all: bool = False


def partner_call(inputs: Inputs, typed: str) -> str:
    """The partner that was typed, letter case aside."""
    calls = [station.call for station in inputs.partners]
    if typed.upper() in calls:
        return typed.upper()
    near = nearest(typed, calls)
    advice = f"did you mean {near}?" if near else f"there is {', '.join(calls)}."
    raise AnswerFault(f"{printable(typed)} is no partner of this season; {advice}")


def parse_answers(call: str, texts: Sequence[str], offered: dict[str, Offered]) -> dict[str, Said]:
    """`A=yes B=no@2027-03-13T01:15Z` to answers by letter; AnswerFault with everything that is wrong."""
    open_labels = [label for label, slot in sorted(offered.items()) if not slot.withdrawn]
    there = f"there is {', '.join(open_labels)}" if open_labels else "no slot was offered to it"
    faults: list[str] = []
    found: dict[str, Said] = {}
    for text in texts:
        label, equals, rest = (part.strip() for part in text.partition("="))
        word, at, time = (part.strip() for part in rest.partition("@"))
        label, shown = label.upper(), printable(text)
        is_to_all = time.casefold() == ALL_TIMES and word.casefold() == NO
        start, wrong = named_time(time) if at and not is_to_all else (None, "")
        if not equals and label.casefold() in WORDS and open_labels:
            faults.append(f"{shown}: of which slot? Write for instance {open_labels[0]}={label.casefold()}; {there}.")
        elif not equals or not label or not word:
            faults.append(f"{shown.rstrip('=')}: no answer; write for instance {EXAMPLE}.")
        elif word.casefold() not in WORDS:
            near_word = nearest(word, WORDS)
            meant = f"yes, no or perhaps is meant, or how it went: {', '.join(OUTCOMES)}."
            advice = f"did you mean {near_word}?" if near_word else meant
            faults.append(f"{shown}: '{printable(word)}' is no answer; {advice}")
        elif wrong:
            faults.append(f"{shown}: {wrong}")
        elif label not in offered:
            faults.append(f"{shown}: {call} was offered no slot {printable(label, 10)}; {there}.")
        elif offered[label].withdrawn:
            faults.append(f"{shown}: slot {label} was withdrawn from {call}; {there}.")
        elif label in found:
            faults.append(f"{shown}: slot {label} is answered twice; keep one answer.")
        else:
            found[label] = Said(shown, word.casefold(), start, is_to_all)
    if faults:
        raise AnswerFault("\n".join(faults))
    return found


def named_time(text: str) -> tuple[dt.datetime | None, str]:
    """The instant behind `@`, or what is wrong with it."""
    try:
        return instant(text), ""
    except Refusal as refused:
        return None, str(refused)


def settled_slots(
    call: str, said: Mapping[str, Said], offered: Mapping[str, Offered], zones: Zones, folder: Path = Path()
) -> list[Offered]:
    """The slots that are answered, each at its time; AnswerFault where an answer may concern, or names, another one.

    A yes to an old time is no yes to the new one: it is asked, never taken. A no to it refuses that time alone.
    `folder` is that of the season.
    """
    found: list[Offered] = []
    faults: list[str] = []
    for label, one in said.items():
        slot = offered[label]
        known = next((other for other in slot.others if other[0] == one.start_utc), None)
        if known is not None and known[0] in slot.agreed:
            found.append(replace(slot, start_utc=known[0], end_utc=known[1]))
        elif known is not None and one.word == NO:
            found.append(at_old_time(slot, known))
        elif one.start_utc not in (None, slot.start_utc):
            lines = other_time(call, one, slot, known, zones)
            faults.append("\n".join([*lines, *_to_stand(call, one, slot, known, folder)]))
        elif one.start_utc is None and slot.others and one.word in STATE_OF and not one.is_to_all:
            faults.append(which_time(call, one, slot, zones))
        else:
            found.append(slot)
    if faults:
        raise AnswerFault("\n".join(faults))
    return found


def which_time(call: str, said: Said, slot: Offered, zones: Zones) -> str:
    """Asks for the time of an answer that names none, where the partner may know several."""
    lines = [f"{said.text}: which time? {call} may know more than one for slot {slot.label}; nothing was changed."]
    for start, end in slot.others:
        lines.append(f"  told or agreed before: {time_words(start, end, zones)}")
    lines.append(f"  offered now: {time_words(slot.start_utc, slot.end_utc, zones)}")
    lines.append(f"  If it is to the one offered now: {command(call, slot, said.word)}")
    if said.word == NO:
        old = [replace(slot, start_utc=start) for start, _ in slot.others]
        lines += [f"  If it is to the one of before: {command(call, one, NO)}" for one in old]
        lines.append(f"  If it is to {'both' if len(old) == 1 else 'all'}: `answer {call} {slot.label}=no@{ALL_TIMES}`")
    return "\n".join(lines)


def at_old_time(slot: Offered, old: Stretch) -> Offered:
    """The slot's letter at a time that was told before: a no to it says nothing of the slot as it is offered now."""
    return replace(slot, start_utc=old[0], end_utc=old[1], instead_of=slot.label, others=())


def other_time(call: str, said: Said, slot: Offered, known: Stretch | None, zones: Zones) -> list[str]:
    """Why an answer to another time than the offer's is not taken, and what to do."""
    assert said.start_utc is not None
    then = time_words(*known, zones) if known else f"{said.start_utc:%Y-%m-%d %H:%M} UTC"
    return [
        f"{said.text}: slot {slot.label} is offered to {call} at another time; nothing was changed.",
        f"  answered: {then}",
        f"  offered now: {time_words(slot.start_utc, slot.end_utc, zones)}",
        f"  Ask again; if it holds for the time offered now: {command(call, slot, said.word)}",
    ]


def _to_stand(call: str, said: Said, slot: Offered, known: Stretch | None, folder: Path) -> list[str]:
    """What to write where the other time is to stand; nothing where it is refused."""
    if said.start_utc is None or said.word not in STATE_OF or said.word == "no":
        return []
    end = known[1] if known else said.start_utc + (slot.end_utc - slot.start_utc)
    return [f"  If the other time is to stand: {fixed_line(call, slot, said.start_utc, end, folder)}"]


def time_words(start: dt.datetime, end: dt.datetime, zones: Zones) -> str:
    """A time in UTC and by both clocks."""
    clocks = both_clocks(start, end, zones)
    return utc_span(start, end) + (f" ({clocks})" if clocks else "")


def command(call: str, slot: Offered, word: str) -> str:
    """The `answer` that says a word of a slot at its time, between backquotes."""
    return f"`answer {call} {answer_part(slot.label, word, slot.start_utc)}`"


def answer_part(label: str, word: str, start_utc: dt.datetime) -> str:
    """`A=yes@2027-03-13T01:15Z`."""
    return f"{label}={word}@{minute(start_utc)}"


def fixed_line(
    call: str, slot: Offered | LetterSlot, start: dt.datetime, end: dt.datetime, folder: Path = Path()
) -> str:
    """What to write into the record for a slot at a time of the operator's own choice."""
    line = (
        f"{{partner: {call}, label: {slot.label}, start: {minute(start)}, end: {minute(end)}, "
        f"state: fixed, operator: {slot.operator}}}"
    )
    return f"write into {(folder / FOLDER / AGENDA).as_posix()}, under slots: - {line}"


def zones_of(inputs: Inputs, call: str) -> Zones:
    """Both ends' zones by call: home's, then the partner's where its file gives one."""
    partner = next((station.zone for station in inputs.partners if station.call == call), None)
    return {inputs.home.call: inputs.zone, call: partner}


def period_named(name: str, zone: ZoneInfo) -> Span | None:
    """The period that a folder's name means: `2027-03` or `2027-03-05_2027-04-02`; None where it is none."""
    first, _, last = name.partition("_")
    try:
        if last:
            return Span(dt.date.fromisoformat(first), dt.date.fromisoformat(last), zone)
        start = dt.date.fromisoformat(f"{first}-01")
    except ValueError:
        return None
    return Span(start, (start + dt.timedelta(days=32)).replace(day=1) - dt.timedelta(days=1), zone)


def write_answers(
    folder: Path, inputs: Inputs, period: Span, states: Sequence[SlotState], only_look: bool = False
) -> list[Changed]:
    """Put states into the agenda of the season's folder; the caller holds the record's lock, but to `only_look`.

    A letter means one slot within the nights of its span. Raises EphemerisUnavailable as `nights_of`.
    """
    nights = nights_of(inputs, period)
    operators = inputs.season.operators
    default = operators[0].call if operators else inputs.home.call
    span, minutes = (nights.start, nights.end), inputs.season.policy.slot_minutes.most
    return set_slots(folder, states, span, default, minutes, only_look)


def take_proposal(folder: Path, inputs: Inputs, period: Span, judged: Judged, now: dt.datetime) -> list[Changed]:
    """Put a proposed time that is possible into the record; the caller holds its lock.

    The partner's own proposal is marked as such; a time that it was offered before is a yes. Raises as `write_answers`.
    """
    if judged.agreed:
        return []
    call, edges = judged.partner.station.call, (judged.start, judged.end)
    state = (
        SlotState(call, judged.label, *edges, CONFIRMED, judged.operator, now)
        if judged.offered
        else proposed_of(call, judged.label, *edges, judged.operator, now)
    )
    site = judged.home.station.title if inputs.season.policy.sites == BEST else ""
    return write_answers(folder, inputs, period, [replace(state, site=site)])


def changed_lines(changed: Changed, zones: Zones) -> list[str]:
    """`QF4LUM A  2027-03-13 01:15 to 02:15 UTC: confirmed (was tentative)`, then by both clocks, then what was before.

    How a slot went is told as `... UTC: made`.
    """
    state, before = changed.after, changed.before
    was, said = "", state.state
    moved = before is not None and before.start_utc != state.start_utc
    if isinstance(state, SlotOutcome):
        said, was = state.outcome, f" (was {before.outcome})" if before is not None and before.outcome else ""
        moved = False
    elif before is not None and before.state != state.state:
        was = f" (was {before.state})"
    label = f" {state.label}" if state.label else ""
    lines = [f"{state.partner}{label}  {utc_span(state.start_utc, state.end_utc)}: {said}{was}"]
    if clocks := both_clocks(state.start_utc, state.end_utc, zones):
        lines.append(f"    {clocks}")
    if moved and before is not None:
        lines.append(f"    before: {time_words(before.start_utc, before.end_utc or before.start_utc, zones)}")
    return lines
