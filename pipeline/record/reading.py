"""The folder `record/` to a `Record`: agreed slots, the ledger's offers, corrections, key; every fault is gathered.

What it says of stations or operators that the season does not know is left alone and told as a warning: a record
outlives seasons.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import re
from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Literal, TypeVar

from pydantic import Field
from pydantic.dataclasses import dataclass as checked

from pipeline.inputs import scalars
from pipeline.inputs.bounds import RECORD
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.kinds import CONFIG, AnyCase, BandName, Call, Keys, Number, Presence, Text, Words, text_by
from pipeline.inputs.messages import read, shown
from pipeline.inputs.model import Season
from pipeline.inputs.odd_characters import LINE_BREAK
from pipeline.inputs.yaml_tree import Place, Tree, decode, dotted, load_tree, printable, read_bytes
from pipeline.record.ledger import Ledger, offers_of, read_ledger
from pipeline.record.measurements import LABEL as MEASUREMENTS
from pipeline.record.measurements import read_measurements
from pipeline.record.model import AGENDA, CORRECTIONS, FOLDER, PARTNER, Answer, Correction, Measurement, Record
from pipeline.record.uid_key import read_uid_key

LABEL = re.compile(r"[A-Z]{1,2}", re.ASCII)
LONGEST_SLOT = dt.timedelta(hours=24)
# A line of corrections.yaml with presence and without any of these tells of presence alone.
SIDES = {"transmit_db", "receive_db", "transmit_uncertainty_db", "receive_uncertainty_db"}
T = TypeVar("T")


def answer_time(text: str) -> dt.datetime:
    """When an answer came: an instant, or a day, which counts to its end, so that no mail of that day overturns it."""
    if len(text) > len("2027-03-13"):
        return scalars.instant(text)
    return dt.datetime.combine(scalars.date(text), dt.time(23, 59), dt.UTC)


def slot_letter(text: str) -> str:
    """The letter that names a slot to its partner."""
    if not LABEL.fullmatch(text.upper()):
        raise scalars.Refusal("the letter of a slot is meant: A, B, C.")
    return text.upper()


Instant = Annotated[dt.datetime, text_by(scalars.instant)]
Decibels = Annotated[Number, Field(ge=-40, le=40)]
Uncertainty = Annotated[Number, Field(ge=0, le=40)]


@checked(config=CONFIG)
class SlotLine(Keys):
    """The keys of one line of `agenda.yaml`."""

    partner: Annotated[Call, Field(examples=["QF4LUM"])]
    start: Annotated[Instant, Field(examples=["2027-03-13T01:15Z"])]
    state: Annotated[Literal["confirmed", "tentative", "declined", "fixed"], AnyCase, Field(examples=["confirmed"])]
    label: Annotated[str, text_by(slot_letter)] = ""
    end: Instant | None = None
    operator: Call | None = None
    answered: Annotated[dt.datetime, text_by(answer_time)] | None = None
    outcome: Annotated[Literal["made", "failed", "absent", "rained"], AnyCase] | None = None
    proposed_by: Annotated[Literal["home", "partner"], AnyCase] | None = None
    site: Text | None = None


@checked(config=CONFIG)
class CorrectionLine(Keys):
    """The keys of one line of `corrections.yaml`."""

    call: Call
    band: BandName
    transmit_db: Decibels = 0.0
    receive_db: Decibels = 0.0
    transmit_uncertainty_db: Uncertainty = 0.0
    receive_uncertainty_db: Uncertainty = 0.0
    reviewed: Words = ""
    presence: Presence | None = None
    evening_db: Uncertainty = 0.0


@dataclass
class RecordRead:
    """What came of the folder. `files` are the hashes of what the plan depends on, by `record/NAME`."""

    record: Record = field(default_factory=Record)
    ledger: Ledger = field(default_factory=Ledger)
    files: dict[str, str] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def read_record(folder: Path, season: Season | None, home: str, calls: Collection[str]) -> RecordRead:
    """The record beside a season file. `calls` are all stations of the folder, `home` is the call of home."""
    noted = RecordRead()
    place = folder / FOLDER
    if not place.exists():
        return noted
    if not place.is_dir():
        noted.faults.append(Fault(FOLDER, None, "", "this is a file; the folder of the record is meant to stand here."))
        return noted
    minutes = season.policy.slot_minutes.most if season else 60
    operators = [operator.call for operator in season.operators] if season else []
    answers = answers_of(tree_of(noted, folder, AGENDA), noted, minutes, next(iter(operators), home))
    corrections = corrections_of(tree_of(noted, folder, CORRECTIONS), noted)
    key = ""
    try:
        noted.ledger = read_ledger(folder)
    except InputFaults as found:
        noted.faults += found.faults
    try:
        key = read_uid_key(folder)
    except InputFaults as found:
        noted.faults += found.faults
    measurements: tuple[Measurement, ...] = ()
    try:
        measurements, digest = read_measurements(folder)
        noted.files |= {MEASUREMENTS: digest} if digest else {}
    except InputFaults as found:
        noted.faults += [dataclasses.replace(fault, file=MEASUREMENTS) for fault in found.faults]
    noted.warnings += strangers(answers, {*operators, home}, calls, season)
    noted.record = Record(answers, offers_of(noted.ledger), corrections, noted.ledger.sha256, key, measurements)
    return noted


def tree_of(noted: RecordRead, folder: Path, name: str) -> Tree | None:
    """The tree of one file of the record, its hash noted; None where it is missing, at fault or without entries."""
    label, path = f"{FOLDER}/{name}", folder / FOLDER / name
    if not path.exists():
        return None
    try:
        raw = read_bytes(path, RECORD)
        noted.files[label] = hashlib.sha256(raw).hexdigest()
        return None if bare(raw, label) else load_tree(raw, label, path.parent, RECORD)
    except InputFaults as found:
        noted.faults += [dataclasses.replace(fault, file=label) for fault in found.faults]
        return None


def bare(raw: bytes, label: str) -> bool:
    """Whether a file holds comments and empty lines only."""
    if not raw.strip():
        return True
    return all(
        not line.strip() or line.lstrip().startswith("#") for line in LINE_BREAK.split(decode(raw, label, RECORD))
    )


def rows_of(kind: type[T], tree: Tree, key: str) -> tuple[list[tuple[T, Place]], list[Fault]]:
    """The entries of the file's one list, each tried by itself, and the faults."""
    faults = [
        tree.fault((name,), f"unknown key '{printable(name)}'; {scalars.suggestion(name, [key])}")
        for name in tree.data
        if name != key
    ]
    value = tree.data.get(key, "")
    if value != "" and not isinstance(value, list):
        message = f"{key} is {shown(value)}; a list is meant, each entry on a line that begins with a dash."
        return [], [*faults, tree.fault((key,), message)]
    rows: list[tuple[T, Place]] = []
    for index, entry in enumerate(value or ()):
        place: Place = (key, index)
        row, found = read(kind, tree, entry, place)
        faults += found
        if row is not None:
            rows.append((row, place))
    return rows, faults


def backwards(line: SlotLine, tree: Tree, place: Place) -> Fault | None:
    """The fault of a slot that ends before its start, or days after it."""
    if line.end is None or dt.timedelta() < line.end - line.start <= LONGEST_SLOT:
        return None
    late = "before or at its start" if line.end <= line.start else "more than a day after its start"
    here, written = (*place, "end"), tree.data["slots"][place[-1]]
    return tree.fault(here, f"{dotted(here)} is {shown(written['end'])}; that is {late} {written['start']}.")


def answers_of(tree: Tree | None, noted: RecordRead, slot_minutes: int, operator: str) -> tuple[Answer, ...]:
    """The slots of `agenda.yaml`, absent ends and operators filled in."""
    if tree is None:
        return ()
    rows, faults = rows_of(SlotLine, tree, "slots")
    answers: list[Answer] = []
    first: dict[tuple[str, str, dt.datetime], Answer] = {}
    for row, place in rows:
        wrong = backwards(row, tree, place)
        if wrong:
            faults.append(wrong)
            continue
        end = row.end or row.start + dt.timedelta(minutes=slot_minutes)
        line = tree.line(place) or 1
        whom = row.operator or operator
        outcome, by, site = row.outcome or "", PARTNER if row.proposed_by == PARTNER else "", row.site or ""
        made = Answer(row.partner, row.label, row.start, end, row.state, whom, line, row.answered, outcome, by, site)
        twin = first.setdefault((made.partner, made.label, made.start_utc), made)
        if twin is not made:
            message = (
                f"the slot of {made.partner} at {made.start_utc:%Y-%m-%dT%H:%M}Z stands in line {twin.line} as well; "
                "keep one of the lines."
            )
            faults.append(tree.fault(place, message))
        answers.append(made)
    noted.faults += faults
    return tuple(answers)


def corrections_of(tree: Tree | None, noted: RecordRead) -> tuple[Correction, ...]:
    """What reviews have learnt, once per station and band."""
    if tree is None:
        return ()
    rows, faults = rows_of(CorrectionLine, tree, "corrections")
    found: dict[tuple[str, str], tuple[Correction, Place]] = {}
    for row, place in rows:
        key = (row.call, row.band)
        if key in found:
            first = tree.line(found[key][1])
            message = f"{row.call} on {row.band} stands in line {first} as well; keep one of the lines."
            faults.append(tree.fault(place, message))
            continue
        made = Correction(
            row.call,
            row.band,
            row.transmit_db,
            row.receive_db,
            row.transmit_uncertainty_db,
            row.receive_uncertainty_db,
            row.reviewed,
            row.presence,
            row.evening_db,
            row.presence is None or bool(SIDES & set(tree.data["corrections"][place[-1]])),
        )
        found[key] = (made, place)
    noted.faults += faults
    return tuple(correction for correction, _ in found.values())


def strangers(
    answers: Collection[Answer], operators: Collection[str], calls: Collection[str], season: Season | None
) -> list[str]:
    """A sentence for each agreed slot of the season's time whose partner has no file or whose operator is not named."""
    if season is None:
        return []
    told = []
    for answer in answers:
        if not within(season, answer.start_utc):
            continue
        place = f"{FOLDER}/{AGENDA}, line {answer.line}"
        if answer.partner not in calls:
            near = scalars.nearest(answer.partner, calls)
            advice = f"did you mean {near}?" if near else "the line is left out."
            told.append(f"{place}: the partner {answer.partner} has no station file in this folder; {advice}")
        elif answer.operator not in operators:
            known = ", ".join(sorted(operators))
            told.append(f"{place}: {answer.operator} is no operator of this season; there is {known}.")
    return told


def within(season: Season, moment: dt.datetime) -> bool:
    """Whether an instant falls into the season's months or dates, give or take the hours of a time zone."""
    if season.dates:
        day = dt.timedelta(days=1)
        return season.dates.first - day <= moment.date() <= season.dates.last + day
    return not season.months or f"{moment:%Y-%m}" in season.months
