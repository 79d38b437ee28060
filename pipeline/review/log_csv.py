"""Attempts of the sheets' log.csv as records with the field names of ADIF, each with its line.

From rows as `record.log_csv` reads them; what has no name in ADIF goes under that of its column, in capitals.
"""

from __future__ import annotations

from pipeline.record.log_csv import LOG_COLUMNS, WAYS, Log, LogRow
from pipeline.record.log_text import Oddity
from pipeline.review.adif import MOST_RECORDS, RawRecord

FIELDS = {
    "partner": "CALL", "operator": "OPERATOR", "frequency_mhz": "FREQ", "band": "BAND", "mode": "MODE",
    "report_sent": "RST_SENT", "report_received": "RST_RCVD", "remarks": "COMMENT",
}  # fmt: skip
assert set(FIELDS) <= set(LOG_COLUMNS)


def records_of(log: Log) -> tuple[list[RawRecord], list[tuple[str, Oddity]]]:
    """As records the attempts of which the log tells how they ended; questions about the others, with their call."""
    records: list[RawRecord] = []
    asked: list[tuple[str, Oddity]] = []
    for row in log.attempts:
        if len(records) >= MOST_RECORDS:
            records[-1].note(row.line, f"the log has more than {MOST_RECORDS:,} rows", "what follows is left out")
            break
        if row.questions:
            asked += [(row.cells["partner"], one) for one in (*row.oddities, *row.questions)]
        else:
            records.append(_record(row))
    return records, asked


def _record(row: LogRow) -> RawRecord:
    """One attempt; its slot and time as SLOT_START, SLOT_END and INSTANT in ISO 8601, where they can be read."""
    record = RawRecord(row.line, {field: row.cells[name] for name, field in FIELDS.items() if row.cells.get(name)})
    # Nobody keeps this log for anything else.
    record.fields["PROP_MODE"] = "EME"
    record.fields["QSO_COMPLETE"] = "NIL" if row.nothing_heard else "Y" if row.completed else "N"
    start, end, time = row.slot_start_utc, row.slot_end_utc, row.time_utc
    missing = time is None and start is not None
    if time is None and start is not None:
        time = start + ((end or start) - start) / 2
    for field, instant in (("SLOT_START", start), ("SLOT_END", end), ("INSTANT", time)):
        if instant is not None:
            record.fields[field] = instant.isoformat()
    for way, periods in zip(WAYS, (row.at_home, row.at_partner), strict=True):
        for what, count in (("tried", periods.tried), ("heard", periods.heard)):
            if count is not None:
                record.fields[f"periods_{what}_{way}".upper()] = str(count)
        if periods.guessed:
            record.fields[f"guessed_{way}".upper()] = "Y"
    for one in row.oddities:
        record.note(*one)
    if missing and row.completed:
        record.note(row.line, "the time of the contact is missing", "the middle of the slot is taken")
    return record
