"""Logs to entries and findings: ADI and ADX files of ADIF 3.1.x (adif.org), the sheets' log.csv; told by content.

No good record is lost beside a broken one; every oddity is told with its line. Size is limited, nothing is executed.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Sequence
from pathlib import Path
from xml.parsers import expat

from pipeline.inputs import bounds
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.yaml_tree import printable
from pipeline.record.inputs import Inputs
from pipeline.record.log_csv import Log, read_log
from pipeline.record.log_entry import Finding, LogEntry
from pipeline.record.log_text import NotText, Oddity, text_of
from pipeline.record.model import CONFIRMED, FIXED
from pipeline.review.adif import RawRecord, read_adi
from pipeline.review.adx import RefusedXml, read_adx
from pipeline.review.entries import entry_of, shown
from pipeline.review.log_csv import records_of
from pipeline.review.questions import moon_questions, not_by_the_ground, without_doubles
from pipeline.review.slot_questions import slot_questions

# Strangers and other ways of a whole station log are told one by one up to so many a file, then in one line.
MOST_ALIKE = 10
MOST_OF_A_FILE = 300
WHAT_IS_TAKEN = "a log in ADIF (.adi or .adx) or a log.csv of the sheets is meant"


def read_logs(paths: Sequence[Path], inputs: Inputs) -> tuple[tuple[LogEntry, ...], tuple[Finding, ...]]:
    """Entries of all logs in order of time, and findings in order of files and lines.

    Entries are the records of the season's partners with a time, those with the Moon down among them (`compare` does
    not use these). Raises InputFaults for files that cannot be read at all, EphemerisUnavailable for dates beyond the
    kernel.
    """
    files = [Path(path) for path in paths]
    names = _names(files)
    faults: list[Fault] = []
    entries: list[LogEntry] = []
    findings: list[Finding] = []
    named: set[int] = set()
    for path, name in zip(files, names, strict=True):
        try:
            records, notes = read_records(path, name)
        except InputFaults as found:
            faults += found.faults
            continue
        findings += notes
        for raw, entry, found_here in _judged(records, name, inputs, findings):
            findings += found_here
            entries.append(entry)
            if raw.fields.get("PROP_MODE", "").strip():
                named.add(id(entry))
    if faults:
        raise InputFaults(faults)
    entries, doubled = without_doubles(entries)
    entries, near = not_by_the_ground(entries, named, inputs)
    down = moon_questions(entries, inputs)
    agreed: dict[str, list[tuple[dt.datetime, dt.datetime]]] = defaultdict(list)
    for line in inputs.record.answers:
        if line.state in (CONFIRMED, FIXED) and line.end_utc is not None:
            agreed[line.partner].append((line.start_utc, line.end_utc))
    beside, told = slot_questions(entries, inputs.zone, {(one.file, one.line) for one in down}, agreed)
    findings += [*doubled, *near, *beside, *(one for one in down if (one.file, one.line) not in told)]
    place = {name: number for number, name in enumerate(names)}
    findings.sort(key=lambda finding: (place[finding.file], finding.line))
    findings = [one for name in names for one in _at_most([found for found in findings if found.file == name])]
    entries.sort(key=lambda entry: (entry.time_utc, place[entry.file], entry.line))
    return tuple(entries), tuple(findings)


def _names(files: Sequence[Path]) -> list[str]:
    """How each file is told of: its name, with its folder's where two have the same; never the whole path."""
    many = Counter(path.name for path in files)
    return [path.name if many[path.name] == 1 else f"{path.resolve().parent.name}/{path.name}" for path in files]


def read_records(path: Path, name: str) -> tuple[list[RawRecord], list[Finding]]:
    """The raw records of one file. Raises InputFaults where it is missing, too large, or no log."""
    raw = _bytes(path, name)
    notes: list[Finding] = []
    text = _text(raw, name, notes)
    start = text.lstrip()[:200].casefold()
    if start.startswith(("<?xml", "<adx", "<!doctype", "<!--")):
        try:
            records = read_adx(text)
        except RefusedXml as refused:
            raise InputFaults([Fault(name, None, "", f"the file is refused: {refused}.")]) from None
        except expat.ExpatError as broken:
            message = f"the XML is broken before any record; {WHAT_IS_TAKEN}."
            raise InputFaults([Fault(name, broken.lineno, "", message)]) from None
    elif (log := read_log(text)) is not None:
        records = _attempts(log, name, notes)
        if log.rows:
            return records, notes
    else:
        records = read_adi(text)
        if not records:
            raise InputFaults([Fault(name, None, "", f"there is no record in this file; {WHAT_IS_TAKEN}.")])
    if not records:
        notes.append(Finding(name, 1, "", "there is no record in this log", "nothing is compared", False))
    return records, notes


def _attempts(log: Log, name: str, notes: list[Finding]) -> list[RawRecord]:
    """The attempts of a log.csv; what is odd about the file, and what it does not tell, goes to `notes`."""
    records, asked = records_of(log)
    notes += [_finding(name, "", one, True) for one in log.oddities]
    notes += [_finding(name, call, one, False) for call, one in asked]
    untouched = len(log.rows) - len(log.attempts)
    if untouched:
        rows = "1 row has" if untouched == 1 else f"{untouched} rows have"
        notes.append(Finding(name, 1, "", f"{rows} nothing filled in", "taken as not attempted", False))
    return records


def _finding(name: str, call: str, odd: Oddity, used: bool) -> Finding:
    return Finding(name, odd.line, shown(call.upper(), 20), odd.what, odd.advice, used)


def _bytes(path: Path, name: str) -> bytes:
    try:
        if not path.exists():
            message = f"there is no file {printable(str(path))}; check its name."
            raise InputFaults([Fault(name, None, "", message)])
        if not path.is_file():
            raise InputFaults([Fault(name, None, "", f"this is no file; {WHAT_IS_TAKEN}.")])
        raw = bounds.LOG.read(path, "the log")
    except bounds.TooMuch as much:
        raise InputFaults([Fault(name, None, "", str(much))]) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name cannot be used"
        raise InputFaults([Fault(name, None, "", f"the file cannot be read ({reason.lower()}).")]) from None
    if not raw.strip():
        raise InputFaults([Fault(name, None, "", f"the file is empty; {WHAT_IS_TAKEN}.")])
    return raw


def _text(raw: bytes, name: str, notes: list[Finding]) -> str:
    """The text, what is odd about its encoding told. Raises InputFaults where it is none."""
    try:
        text, odd = text_of(raw)
    except NotText:
        raise InputFaults([Fault(name, None, "", f"the file is not plain text; {WHAT_IS_TAKEN}.")]) from None
    notes += [_finding(name, "", one, True) for one in odd]
    return text


def _judged(
    records: Sequence[RawRecord], name: str, inputs: Inputs, findings: list[Finding]
) -> list[tuple[RawRecord, LogEntry, tuple[Finding, ...]]]:
    """The records that are entries, with what is odd about them; what keeps the others out goes to `findings`."""
    kept = []
    strangers: dict[str, list[Finding]] = defaultdict(list)
    elsewhere: list[Finding] = []
    for raw in records:
        judged = entry_of(raw, name, inputs)
        if judged.entry is None:
            if judged.stranger:
                strangers[judged.findings[-1].call].append(judged.findings[-1])
            else:
                findings += judged.findings
            continue
        if not judged.entry.moonbounce:
            way = raw.fields["PROP_MODE"].strip()[:12]
            what = f"PROP_MODE is {printable(way)}, not EME"
            advice = "only contacts over the Moon are compared"
            elsewhere.append(Finding(name, raw.line, judged.entry.call, what, advice, False))
        kept.append((raw, judged.entry, judged.findings))
    findings += _in_short([_first_of(found) for found in strangers.values()], "stations are no partners of this season")
    findings += _in_short(elsewhere, "records went another way than over the Moon")
    return kept


def _first_of(found: list[Finding]) -> Finding:
    """The first finding of a station, with how many records it has."""
    first = found[0]
    if len(found) == 1:
        return first
    what = f"{first.what} ({len(found)} records)"
    return Finding(first.file, first.line, first.call, what, first.advice, False)


def _at_most(found: list[Finding]) -> list[Finding]:
    """A file's findings, in one line what goes beyond the most that anybody reads."""
    if len(found) <= MOST_OF_A_FILE:
        return found
    rest = found[MOST_OF_A_FILE:]
    what = f"from here on there are {len(rest):,} more oddities"
    first = Finding(rest[0].file, rest[0].line, "", what, "mend those above and review again", True)
    return [*found[:MOST_OF_A_FILE], first]


def _in_short(found: list[Finding], many: str) -> list[Finding]:
    """The first few, and one line for the rest."""
    if len(found) <= MOST_ALIKE:
        return found
    rest = found[MOST_ALIKE:]
    what = f"from here on {len(rest)} more {many}"
    return [*found[:MOST_ALIKE], Finding(rest[0].file, rest[0].line, "", what, "they are left out", False)]
