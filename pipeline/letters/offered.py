"""What a partner was offered: each slot and each other time by its letter, from the ledger and the plan on the disk.

A slot's times are those that the partner was offered last by mail; where nothing was sent, those of the plan. `answer`
and `replies` read by this alike.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pipeline.agenda.agenda_table import SITE
from pipeline.inputs.bounds import OWN, TooMuch
from pipeline.record.ledger import Ledger, instant_of, slot_of
from pipeline.record.model import CONFIRMED, DECLINED, OUTCOMES, RAINED, TENTATIVE, Answer
from pipeline.record.writing import SlotState, Stretch, outcome_of
from pipeline.windows.span import Span

STATE_OF = {"yes": CONFIRMED, "no": DECLINED, "perhaps": TENTATIVE}
# What may be said of a slot: an answer, or how it went.
WORDS = (*STATE_OF, *OUTCOMES)
# What a plan writes beside its agenda.csv.
ALTERNATIVES = "alternatives.csv"


class AnswerFault(ValueError):
    """An answer that cannot be taken; the text is one sentence for the user, commands in it between backquotes."""


@dataclass(frozen=True)
class Offered:
    """A slot as one partner knows it; or another time for one, whose letter `instead_of` gives.

    `others` are further times that its letter may mean, `agreed` the starts of those that are agreed. `site` is where
    home then stands, where it moves.
    """

    partner: str
    label: str
    operator: str
    start_utc: dt.datetime
    end_utc: dt.datetime
    withdrawn: bool = False
    instead_of: str = ""
    others: tuple[Stretch, ...] = ()
    agreed: frozenset[dt.datetime] = frozenset()
    site: str = ""

    def said(self, word: str, moment: dt.datetime) -> SlotState:
        """The slot with an answer, or with how it went."""
        edges = self.start_utc, self.end_utc
        if word in OUTCOMES:
            return replace(outcome_of(self.partner, self.label, *edges, self.operator, word), site=self.site)
        return SlotState(self.partner, self.label, *edges, STATE_OF[word], self.operator, moment, site=self.site)


def offered_to(
    call: str, ledger: Ledger, period: Span, folder: Path | None, answers: Sequence[Answer] = ()
) -> dict[str, Offered]:
    """The partner's slots and other times by letter: what the ledger says was delivered, else the plan in `folder`.

    Of a slot lost to weather, as the record's `answers` tell, the agenda knows the time that counts.
    """
    found = {slot.label: slot for slot in _planned(call, folder)}
    told: dict[str, list[Stretch]] = {}
    own = [line for line in answers if line.partner == call and period.holds(line.start_utc)]
    rained = {(line.label, line.start_utc) for line in own if line.outcome == RAINED}
    for message in ledger.messages:
        if message.partner != call or message.period != period.name or not message.delivered:
            continue
        for withdrawn, slots in ((False, message.slots), (True, message.withdrawn)):
            for slot in slots:
                for one in slot.alternatives:
                    edges = one.start_utc, one.end_utc
                    found[one.label] = Offered(
                        call, one.label, slot.operator, *edges, withdrawn, slot.label, site=one.site
                    )
                edges, site = (slot.start_utc, slot.end_utc), "" if slot.told is None else slot.told.site
                made = Offered(call, slot.label, slot.operator, *edges, withdrawn, site=site)
                told.setdefault(slot.label, []).append((slot.start_utc, slot.end_utc))
                if slot.label not in found or (slot.label, slot.start_utc) not in rained:
                    found[slot.label] = made
    for line in own:
        # What the partner proposed itself and is agreed: whatever it was offered before.
        if line.is_own_proposal and line.label:
            end = line.end_utc or line.start_utc
            found[line.label] = Offered(call, line.label, line.operator, line.start_utc, end, site=line.site)
    for label, written in in_letter(call, folder).items() if folder else ():
        if label not in told:
            # Never sent from here: what was handed over may be the letter that lies there, or one made since.
            told[label] = [written]
    # A time with a letter of its own is never meant by the slot's.
    lettered = {(one.instead_of, one.start_utc) for one in found.values() if one.instead_of}
    own = [line for line in own if (line.label, line.start_utc) not in lettered]
    return {label: with_other_times(slot, told.get(label, ()), own) for label, slot in found.items()}


def with_other_times(slot: Offered, told: Iterable[Stretch], own: Sequence[Answer]) -> Offered:
    """The slot with the other times that its letter may mean: told before, or agreed already; none that is over."""
    lines = [line for line in own if line.label == slot.label]
    if any(line.start_utc == slot.start_utc for line in lines):
        # Somebody has answered at this time already, so the letter has come to mean it.
        return slot
    # A time that was refused without a letter is over as well.
    refused = [line for line in own if not line.label and line.state == DECLINED]
    done = {line.start_utc for line in (*lines, *refused) if line.outcome or line.state == DECLINED}
    agreed = [(line.start_utc, line.end_utc or line.start_utc) for line in lines]
    agreed = [one for one in agreed if one[0] not in done]
    others = [one for one in dict.fromkeys((*told, *agreed)) if one[0] not in done and one[0] != slot.start_utc]
    return replace(slot, others=tuple(others), agreed=frozenset(start for start, _ in agreed))


def _planned(call: str, folder: Path | None) -> list[Offered]:
    """What the plan in a folder has for a partner, its slots last."""
    if folder is None:
        return []
    agenda_file = folder / "data" / "agenda.csv"
    return [*other_times(call, agenda_file), *in_agenda(call, agenda_file)]


def in_letter(call: str, folder: Path) -> dict[str, Stretch]:
    """The times by letter in the letter that lies ready for a partner; empty where there is none to be read."""
    try:
        about = json.loads(OWN.read(folder / "letters" / call.replace("/", "-") / "letter.json"))
        return {slot.label: (slot.start_utc, slot.end_utc) for slot in map(slot_of, about["slots"])}
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return {}


def in_agenda(call: str, file: Path) -> list[Offered]:
    """The partner's rows of a plan's agenda.csv; none where there is no such file."""
    return [one for one in in_agenda_of_all(file) if one.partner == call]


def other_times(call: str, agenda_file: Path) -> list[Offered]:
    """The partner's rows of the plan's alternatives.csv, which lies beside its agenda.csv."""
    return [one for one in in_agenda_of_all(agenda_file.with_name(ALTERNATIVES)) if one.partner == call]


def nights_in(file: Path) -> dict[tuple[str, str], str]:
    """The night of each slot of a plan's agenda.csv, by partner and letter; none where it cannot be read."""
    try:
        text = OWN.read(file, file.as_posix()).decode("utf-8")
        return {(row["partner"], row["label"]): row["night"] for row in csv.DictReader(io.StringIO(text, newline=""))}
    except (OSError, ValueError, KeyError, TypeError, TooMuch, csv.Error):
        return {}


def in_agenda_of_all(file: Path) -> list[Offered]:
    """Everybody's rows of a plan's agenda.csv or alternatives.csv; none where there is no such file."""
    if not file.is_file():
        return []
    try:
        text = OWN.read(file, file.as_posix()).decode("utf-8")
        rows = [row for row in csv.DictReader(io.StringIO(text, newline="")) if row["label"]]
        return [
            Offered(
                row["partner"],
                row["label"],
                row["operator"],
                instant_of(row["slot_start_utc"]),
                instant_of(row["slot_end_utc"]),
                instead_of=row.get("instead_of") or "",
                site=row.get(SITE) or "",
            )
            for row in rows
        ]
    except TooMuch as much:
        raise AnswerFault(f"{much}; run: plan") from None
    except (OSError, ValueError, KeyError, TypeError, csv.Error):
        raise AnswerFault(f"{file.as_posix()} cannot be read; run: plan") from None
