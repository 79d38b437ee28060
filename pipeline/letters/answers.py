"""Answers into the record: which slot a letter of the alphabet means to a partner, and what it is from now on.

A slot's times are those that the partner was offered last by mail; where nothing was sent, those of the plan on disk.
"""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from pipeline.inputs.scalars import nearest
from pipeline.inputs.yaml_tree import printable
from pipeline.record.inputs import Inputs
from pipeline.record.ledger import Ledger, instant_of
from pipeline.record.model import CONFIRMED, DECLINED, OUTCOMES, RAINED, TENTATIVE, Answer
from pipeline.record.writing import Changed, SlotOutcome, SlotState, outcome_of, set_slots
from pipeline.windows.nights import nights_of
from pipeline.windows.span import Span
from pipeline.wording.words import both_clocks

STATE_OF = {"yes": CONFIRMED, "no": DECLINED, "perhaps": TENTATIVE}
# What may be said of a slot: an answer, or how it went.
WORDS = (*STATE_OF, *OUTCOMES)
EXAMPLE = "A=yes, B=no, C=perhaps"


class AnswerFault(ValueError):
    """An answer that cannot be taken; the text is one sentence for the user."""


@dataclass(frozen=True)
class Offered:
    """A slot as one partner knows it."""

    partner: str
    label: str
    operator: str
    start_utc: dt.datetime
    end_utc: dt.datetime
    withdrawn: bool = False

    def said(self, word: str, moment: dt.datetime) -> SlotState:
        """The slot with an answer, or with how it went."""
        if word in OUTCOMES:
            return outcome_of(self.partner, self.label, self.start_utc, self.end_utc, self.operator, word)
        state = STATE_OF[word]
        return SlotState(self.partner, self.label, self.start_utc, self.end_utc, state, self.operator, moment)


def partner_call(inputs: Inputs, typed: str) -> str:
    """The partner that was typed, letter case aside."""
    calls = [station.call for station in inputs.partners]
    if typed.upper() in calls:
        return typed.upper()
    near = nearest(typed, calls)
    advice = f"did you mean {near}?" if near else f"there is {', '.join(calls)}."
    raise AnswerFault(f"{printable(typed)} is no partner of this season; {advice}")


def offered_to(
    call: str, ledger: Ledger, period: Span, agenda_file: Path, answers: Sequence[Answer] = ()
) -> dict[str, Offered]:
    """The partner's slots by letter: what the ledger says was delivered, else what the agenda on disk says.

    Of a slot lost to weather, as the record's `answers` tell, the agenda knows the time that counts.
    """
    found = {slot.label: slot for slot in in_agenda(call, agenda_file)}
    rained = {(lock.label, lock.start_utc) for lock in answers if lock.partner == call and lock.outcome == RAINED}
    for message in ledger.messages:
        if message.partner != call or message.period != period.name or not message.delivered:
            continue
        for withdrawn, slots in ((False, message.slots), (True, message.withdrawn)):
            for slot in slots:
                made = Offered(call, slot.label, slot.operator, slot.start_utc, slot.end_utc, withdrawn)
                if slot.label not in found or (slot.label, slot.start_utc) not in rained:
                    found[slot.label] = made
    return found


def in_agenda(call: str, file: Path) -> list[Offered]:
    """The partner's rows of a plan's agenda.csv; none where there is no such file."""
    if not file.is_file():
        return []
    try:
        with file.open(encoding="utf-8", newline="") as stream:
            rows = [row for row in csv.DictReader(stream) if row["partner"] == call and row["label"]]
        return [
            Offered(
                call, row["label"], row["operator"], instant_of(row["slot_start_utc"]), instant_of(row["slot_end_utc"])
            )
            for row in rows
        ]
    except (OSError, ValueError, KeyError, TypeError, csv.Error):
        raise AnswerFault(f"{file.as_posix()} cannot be read; run: plan") from None


def parse_answers(call: str, texts: Sequence[str], offered: dict[str, Offered]) -> dict[str, str]:
    """`A=yes B=made` to words by letter; AnswerFault with everything that is wrong."""
    open_labels = [label for label, slot in sorted(offered.items()) if not slot.withdrawn]
    there = f"there is {', '.join(open_labels)}" if open_labels else "no slot was offered to it"
    faults: list[str] = []
    found: dict[str, str] = {}
    for text in texts:
        label, equals, word = (part.strip() for part in text.partition("="))
        label, shown = label.upper(), printable(text)
        if not equals or not label or not word:
            faults.append(f"{shown}: no answer; write for instance {EXAMPLE}.")
        elif word.casefold() not in WORDS:
            near = nearest(word, WORDS)
            meant = f"yes, no or perhaps is meant, or how it went: {', '.join(OUTCOMES)}."
            advice = f"did you mean {near}?" if near else meant
            faults.append(f"{shown}: '{printable(word)}' is no answer; {advice}")
        elif label not in offered:
            faults.append(f"{shown}: {call} was offered no slot {printable(label, 10)}; {there}.")
        elif offered[label].withdrawn:
            faults.append(f"{shown}: slot {label} was withdrawn from {call}; {there}.")
        elif label in found:
            faults.append(f"{shown}: slot {label} is answered twice; keep one answer.")
        else:
            found[label] = word.casefold()
    if faults:
        raise AnswerFault("\n".join(faults))
    return found


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


def write_answers(folder: Path, inputs: Inputs, period: Span, states: Sequence[SlotState]) -> list[Changed]:
    """Put states into the agenda of the season's folder; the caller holds the record's lock.

    A letter means one slot within the nights of its span. Raises EphemerisUnavailable as `nights_of`.
    """
    nights = nights_of(inputs, period)
    operators = inputs.season.operators
    default = operators[0].call if operators else inputs.home.call
    return set_slots(folder, states, (nights.start, nights.end), default, inputs.season.policy.slot_minutes.most)


def clock_lines(changed: Changed, home: ZoneInfo, partner: ZoneInfo | None) -> list[str]:
    """The slot's time by both clocks, and the one that the record had before where that was another.

    How a slot went says nothing of its time.
    """
    state, before = changed.after, changed.before
    if isinstance(state, SlotOutcome):
        return []
    now = both_clocks(state.start_utc, state.end_utc, home, partner)
    if before is None or before.end_utc is None:
        return [f"{'':10}{now}"]
    then = both_clocks(before.start_utc, before.end_utc, home, partner)
    return [f"{'':10}{now}"] if then == now else [f"{'':10}before: {then}", f"{'':10}now:    {now}"]


def changed_line(changed: Changed) -> str:
    """`QF4LUM A  2027-03-13 01:15 to 02:15 UTC: confirmed (was tentative)`, or `... UTC: made`."""
    state, before = changed.after, changed.before
    end = (
        f"{state.end_utc:%H:%M}"
        if state.end_utc.date() == state.start_utc.date()
        else f"{state.end_utc:%Y-%m-%d %H:%M}"
    )
    was, said = "", state.state
    if isinstance(state, SlotOutcome):
        said, was = state.outcome, f" (was {before.outcome})" if before is not None and before.outcome else ""
    elif before is not None and before.state != state.state:
        was = f" (was {before.state})"
    elif before is not None and before.start_utc != state.start_utc:
        was = f" (was at {before.start_utc:%Y-%m-%d %H:%M} UTC)"
    label = f" {state.label}" if state.label else ""
    return f"{state.partner}{label}  {state.start_utc:%Y-%m-%d %H:%M} to {end} UTC: {said}{was}"
