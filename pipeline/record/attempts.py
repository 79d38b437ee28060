"""`record/attempts.csv`: the attempts that applied reviews have learnt from, so that next month's log adds to them.

Written and read here alone; the plan does not depend on it. Whoever changes a station's equipment deletes its lines.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Sequence
from pathlib import Path

from pipeline.inputs import bounds, scalars
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.yaml_tree import read_bytes
from pipeline.record.doubles import doubles_of
from pipeline.record.log_csv import GUESSED, PERIODS, WHOLE
from pipeline.record.log_entry import LogEntry
from pipeline.record.model import FOLDER

NAME = "attempts.csv"
LABEL = f"{FOLDER}/{NAME}"
TEXTS = ("call", "operator", "band", "mode", "report_sent", "report_received", "remarks")
INSTANTS = ("time_utc", "slot_start_utc", "slot_end_utc")
NUMBERS = ("frequency_mhz", "report_sent_db", "report_received_db")
# A record of before periods were logged ends with these, one of before guesses were marked with the periods.
OLDER_COLUMNS = (
    *("call", "operator", "time_utc", "band", "frequency_mhz", "mode", "report_sent", "report_received"),
    *("report_sent_db", "report_received_db", "completed", "heard", "remarks", "slot_start_utc", "slot_end_utc"),
)
BEFORE_GUESSED = (*OLDER_COLUMNS, *PERIODS)
COLUMNS = (*BEFORE_GUESSED, *GUESSED)
WORDS = {"yes": True, "no": False, "": None}
# What stands in the column `completed` of slots that no log tells of, and of those in which an end was not there.
SILENT, ABSENT = "silent", "absent"


def together(entries: Sequence[LogEntry], remembered: Sequence[LogEntry]) -> tuple[LogEntry, ...]:
    """Both in order of time; an attempt that stands in both is taken once, as the log now says it."""
    every = [*entries, *remembered]
    doubles = doubles_of(every)
    kept = [one for one in every if id(one) not in doubles]
    return tuple(sorted(kept, key=lambda one: (one.time_utc, one.call)))


def attempts_text(entries: Sequence[LogEntry]) -> str:
    """The whole file."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows([_told(entry, name) for name in COLUMNS] for entry in entries)
    return out.getvalue()


def _told(entry: LogEntry, name: str) -> str:
    if name == "completed" and (entry.silent or entry.absent):
        return SILENT if entry.silent else ABSENT
    return _cell(getattr(entry, name))


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return f"{value.astimezone(dt.UTC):%Y-%m-%dT%H:%M:%SZ}"
    return f"{value:g}" if isinstance(value, float) else str(value)


def remembered(folder: Path) -> tuple[LogEntry, ...]:
    """The attempts in the record of a season's folder. Raises InputFaults where a line is damaged."""
    path = folder / FOLDER / NAME
    if not path.is_file():
        return ()
    try:
        rows = list(csv.reader(io.StringIO(read_bytes(path, bounds.RECORD, LABEL).decode("utf-8-sig"), newline="")))
    except (UnicodeDecodeError, csv.Error):
        raise _fault(None, "", "this is no table of this program") from None
    names = tuple(rows[0]) if rows else ()
    if names not in (COLUMNS, BEFORE_GUESSED, OLDER_COLUMNS):
        raise _fault(1, "", "the first line does not name the columns that this program writes")
    return tuple(_entry(row, line, names) for line, row in enumerate(rows[1:], start=2) if row)


def _entry(row: list[str], line: int, names: tuple[str, ...]) -> LogEntry:
    if len(row) != len(names):
        raise _fault(line, "", f"the line has {len(row)} columns and not {len(names)}")
    cells = dict.fromkeys(COLUMNS, "") | dict(zip(names, row, strict=True))
    values: dict[str, object] = {name: cells[name] for name in TEXTS}
    said = cells["completed"]
    if said in (SILENT, ABSENT):
        cells["completed"] = "no"
        values |= {"silent": said == SILENT, "absent": said == ABSENT}
    for name in (*INSTANTS, *NUMBERS, *PERIODS, "completed", "heard"):
        try:
            values[name] = _value(name, cells[name])
        except (ValueError, KeyError):
            raise _fault(line, name, f"{name} is '{cells[name][:40]}', which this program does not write") from None
    for name in GUESSED:
        values[name] = cells[name] == "yes"
    if values["time_utc"] is None or values["completed"] is None:
        raise _fault(line, "time_utc", "the time of the attempt or whether it was completed is missing")
    return LogEntry(file=LABEL, line=line, moonbounce=True, **values)  # type: ignore[arg-type]


def _value(name: str, text: str) -> dt.datetime | float | int | bool | None:
    if name in ("completed", "heard"):
        return WORDS[text]
    if not text:
        return None
    if name in NUMBERS:
        value = scalars.number(text)
        if abs(value) > (bounds.HIGHEST_MHZ if name == "frequency_mhz" else bounds.HIGHEST_DB):
            raise ValueError(text)
        return value
    if name in PERIODS:
        if not WHOLE.fullmatch(text):
            raise ValueError(text)
        return int(text)
    return bounds.in_utc(dt.datetime.fromisoformat(text))


def _fault(line: int | None, field: str, what: str) -> InputFaults:
    advice = "delete the line" if line and line > 1 else "delete the file and review all logs again"
    return InputFaults([Fault(LABEL, line, field, f"{what}; {advice}.")])
