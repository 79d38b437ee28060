"""Rows of the sheets' log.csv as records with the field names of ADIF, each with its line.

Columns: partner, night, slot_start_utc, slot_end_utc, frequency_mhz, band, mode, operator, report_sent,
report_received, completed, time_utc, remarks. A row whose last five were left empty was not attempted.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Iterator

from pipeline.review.adif import MOST_RECORDS, RawRecord

FIELDS = {
    "partner": "CALL", "call": "CALL", "operator": "OPERATOR", "frequency_mhz": "FREQ", "band": "BAND", "mode": "MODE",
    "report_sent": "RST_SENT", "report_received": "RST_RCVD", "completed": "QSO_COMPLETE", "remarks": "COMMENT",
}  # fmt: skip
FILLED_IN = ("report_sent", "report_received", "completed", "time_utc", "remarks")
CLOCK = re.compile(r"(\d{1,2})[:.h]?(\d{2})(?:[:.]?(\d{2}))?\s*(?:Z|UTC)?", re.IGNORECASE | re.ASCII)
HALF_DAY = dt.timedelta(hours=12)


def is_log_csv(text: str) -> bool:
    """Whether the first line names the columns of a log."""
    names = _names(text.lstrip().split("\n", 1)[0])
    return ("partner" in names or "call" in names) and len(set(names) & {"time_utc", "slot_start_utc"}) > 0


def read_log_csv(text: str) -> tuple[list[RawRecord], int]:
    """The rows attempted as records, and how many rows have nothing filled in."""
    rows, broken = _rows(text)
    names: list[str] = []
    records: list[RawRecord] = []
    untouched = 0
    for line, cells in rows:
        if not any(cell.strip() for cell in cells):
            continue
        if not names:
            names = [cell.strip().casefold() for cell in cells]
            continue
        if len(records) >= MOST_RECORDS:
            records[-1].note(line, f"the log has more than {MOST_RECORDS:,} rows", "what follows is left out")
            break
        row = dict(zip(names, (cell.strip() for cell in cells), strict=False))
        if not any(row.get(name) for name in FILLED_IN):
            untouched += 1
            continue
        record = _record(row, line)
        if len(cells) > len(names):
            what = f"the row has {len(cells)} cells for {len(names)} columns"
            record.note(line, what, "put text with a comma in quotes; what stands beyond is left out")
        records.append(record)
    if broken and records:
        records[0].note(broken, "a quotation mark is left open", "each line is taken as a row")
    return records, untouched


def _names(line: str) -> list[str]:
    return [name.strip().strip('"').casefold() for name in re.split("[,;\t]", line)]


def _rows(text: str) -> tuple[list[tuple[int, list[str]]], int | None]:
    """Rows with their first lines; where quotes do not match, every line is a row, and the second value its line."""
    first = text.lstrip().split("\n", 1)[0]
    # Spreadsheets of countries with a decimal comma part their cells with semicolons.
    delimiter = next((mark for mark in (";", "\t") if mark in first and "," not in first), ",")
    rows: list[tuple[int, list[str]]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    begin = 1
    try:
        for cells in reader:
            rows.append((begin, cells))
            begin = reader.line_num + 1
    except csv.Error:
        return list(_line_by_line(text, delimiter)), begin
    return rows, None


def _line_by_line(text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    for number, line in enumerate(re.split(r"\r\n|\r|\n", text), 1):
        try:
            yield number, next(csv.reader([line], delimiter=delimiter), [])
        except csv.Error:
            yield number, line.split(delimiter)


def _record(row: dict[str, str], line: int) -> RawRecord:
    """One row; its slot and time as SLOT_START, SLOT_END and INSTANT in ISO 8601, where they can be read."""
    record = RawRecord(line, {field: row[name] for name, field in FIELDS.items() if row.get(name)})
    # Nobody keeps this log for anything else.
    record.fields["PROP_MODE"] = "EME"
    edges: dict[str, dt.datetime] = {}
    for name, field in (("slot_start_utc", "SLOT_START"), ("slot_end_utc", "SLOT_END")):
        if row.get(name):
            instant = _instant(row[name])
            if instant is None:
                record.note(line, f"{name} '{row[name][:30]}' is no time", "write it as 2027-03-13T01:15Z")
            else:
                edges[field] = instant
                record.fields[field] = instant.isoformat()
    # A log says "completed: no" or nothing for an attempt that came to nothing; ADIF takes silence for success.
    record.fields.setdefault("QSO_COMPLETE", "")
    when = row.get("time_utc", "")
    instant = _instant(when) if when else None
    if when and instant is None:
        instant = _clock_time(when, edges.get("SLOT_START"))
        if instant is None:
            record.note(line, f"time_utc '{when[:30]}' is no time", "write it as 01:23 or 2027-03-13T01:23Z")
    if instant is None and "SLOT_START" in edges:
        start = edges["SLOT_START"]
        instant = start + (edges.get("SLOT_END", start) - start) / 2
        if record.fields["QSO_COMPLETE"].casefold() in ("y", "yes"):
            record.note(line, "the time of the contact is missing", "the middle of the slot is taken")
    if instant is not None:
        record.fields["INSTANT"] = instant.isoformat()
    return record


def _instant(text: str) -> dt.datetime | None:
    """An ISO 8601 instant; without an offset it is UTC. None for anything else."""
    try:
        # A bare time of four figures would pass as a year's date.
        found = dt.datetime.fromisoformat(text.strip().replace(" UTC", "Z")) if len(text.strip()) > 9 else None
        if found is None:
            return None
        return found.replace(tzinfo=dt.UTC) if found.tzinfo is None else found.astimezone(dt.UTC)
    except (ValueError, OverflowError):
        return None


def _clock_time(text: str, slot_start: dt.datetime | None) -> dt.datetime | None:
    """Hours and minutes on the date that brings them nearest to the slot's start."""
    found = CLOCK.fullmatch(text.strip())
    if found is None or slot_start is None:
        return None
    hours, minutes, seconds = (int(part or 0) for part in found.groups())
    if hours > 23 or minutes > 59 or seconds > 59:
        return None
    try:
        at = slot_start.replace(hour=hours, minute=minutes, second=seconds, microsecond=0)
        if at - slot_start > HALF_DAY:
            return at - 2 * HALF_DAY
        return at + 2 * HALF_DAY if slot_start - at > HALF_DAY else at
    except OverflowError:
        return None
