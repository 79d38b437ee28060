"""The night's log as a table to fill in: written from the slots, read back so that nothing written in it is lost.

Whoever fills it in may use a spreadsheet of any country: commas, semicolons or tabs, with or without a byte mark.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Collection, Sequence

from pipeline.operating.night_slots import NightSlot

# `review` reads these columns; `completed` is yes or no, so that an attempt that failed is logged as well.
LOG_COLUMNS = (
    "partner",
    "night",
    "slot_start_utc",
    "slot_end_utc",
    "frequency_mhz",
    "band",
    "mode",
    "operator",
    "report_sent",
    "report_received",
    "completed",
    "time_utc",
    "remarks",
)
FILLED_IN = LOG_COLUMNS[LOG_COLUMNS.index("report_sent") :]
LOG_NAME = "log.csv"
YES, NO = ("yes", "y"), ("no", "n")
LogRow = dict[str, str]


def log_rows(night: dt.date, slots: Sequence[NightSlot]) -> list[LogRow]:
    """A row a slot, filled in as far as the plan knows it."""
    return [
        dict.fromkeys(LOG_COLUMNS, "")
        | {
            "partner": slot.call,
            "night": night.isoformat(),
            "slot_start_utc": f"{slot.start:%Y-%m-%dT%H:%M:%SZ}",
            "slot_end_utc": f"{slot.end:%Y-%m-%dT%H:%M:%SZ}",
            "frequency_mhz": f"{slot.home_mhz:.6f}".rstrip("0").rstrip("."),
            "band": slot.band,
            "mode": slot.mode.mode if slot.mode else "",
            "operator": slot.operator,
        }
        for slot in slots
    ]


def read_log(content: bytes) -> list[LogRow] | None:
    """The rows of a log; None where the file is no log, so that whoever calls can set it aside unread."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("cp1252", errors="replace")
    head = text.split("\n", 1)[0]
    mark = max(",;\t", key=head.count)
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=mark))
    except csv.Error:
        return None
    names = [cell.strip().lower() for cell in rows[0]] if rows else []
    if "partner" not in names or "slot_start_utc" not in names:
        return None
    return [
        dict.fromkeys(LOG_COLUMNS, "") | dict(zip(names, _cells(row, len(names), mark), strict=False))
        for row in rows[1:]
        if any(cell.strip() for cell in row)
    ]


def _cells(row: Sequence[str], count: int, mark: str) -> list[str]:
    """The cells of a row; what is beyond the head's columns is a remark in which somebody typed a comma."""
    beyond = mark.join(row[count - 1 :]).rstrip(mark + " ") if len(row) > count else ""
    cells = [*row[: count - 1], beyond] if beyond else row[:count]
    return [cell.strip() for cell in cells]


def is_filled_in(row: LogRow) -> bool:
    """Whether somebody wrote in the row, be it in a column of its own."""
    return any(value for name, value in row.items() if name not in LOG_COLUMNS or name in FILLED_IN)


def outcomes(rows: Sequence[LogRow]) -> dict[tuple[str, str], bool]:
    """(partner, operator) to whether the log says that the contact was completed; silent rows are left out."""
    found: dict[tuple[str, str], bool] = {}
    for row in rows:
        word = row["completed"].lower()
        if word in YES + NO:
            key = row["partner"].upper(), row["operator"].upper()
            found[key] = found.get(key, False) or word in YES
    return found


def merged(before: Sequence[LogRow], new: Sequence[LogRow]) -> list[LogRow]:
    """What was written before, as it stands, and the new rows that it does not hold yet, by time."""
    written = [row for row in before if is_filled_in(row)]
    held = {(row["partner"], row["operator"], row["slot_start_utc"]) for row in written}
    fresh = [row for row in new if (row["partner"], row["operator"], row["slot_start_utc"]) not in held]
    return sorted([*written, *fresh], key=lambda row: row["slot_start_utc"])


def log_text(rows: Sequence[LogRow]) -> str:
    """The file; columns that somebody added stay at the end."""
    more = list(dict.fromkeys(name for row in rows for name in row if name and name not in LOG_COLUMNS))
    buffer = io.StringIO()
    writer = csv.DictWriter(buffer, [*LOG_COLUMNS, *more], restval="", extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return buffer.getvalue()


def log_files(
    night: dt.date, slots: Sequence[NightSlot], before: bytes | None, taken: Collection[str] = ()
) -> dict[str, bytes]:
    """`log.csv` of the night, with what was written in the one that stands there (`before`).

    A file of that name that is no log any more may hold the only notes of a night: it is kept as `log-before.csv`, or
    `log-before-2.csv` where names are `taken`.
    """
    held = None if before is None else read_log(before)
    files = {LOG_NAME: log_text(merged(held or [], log_rows(night, slots))).encode()}
    if before is not None and before.strip() and held is None:
        names = ("log-before.csv", *(f"log-before-{number}.csv" for number in range(2, len(taken) + 3)))
        files[next(name for name in names if name not in taken)] = before
    return files
