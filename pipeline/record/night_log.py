"""The night's log as a table to fill in: written from the slots, carried over so that nothing written in it is lost.

Read as `record.log_csv` says: whoever fills it in may use a spreadsheet of any country.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Protocol

from pipeline.inputs.modes import Mode
from pipeline.record.log_csv import LOG_COLUMNS, Log, LogRow, read_log
from pipeline.record.log_text import NotText, Oddity, text_of
from pipeline.record.model import ABSENT, FAILED, MADE, RAINED

if TYPE_CHECKING:
    import pandas as pd

LOG_NAME = "log.csv"
Cells = Mapping[str, str]


class LoggedSlot(Protocol):
    """What a row is prefilled from: a slot of the agenda, of which this room knows no more."""

    @property
    def call(self) -> str: ...
    @property
    def start(self) -> dt.datetime: ...
    @property
    def end(self) -> dt.datetime: ...
    @property
    def band(self) -> str: ...
    @property
    def mode(self) -> Mode | None: ...
    @property
    def operator(self) -> str: ...
    @property
    def home_mhz(self) -> float: ...


def log_rows(night: dt.date, slots: Sequence[LoggedSlot]) -> list[Cells]:
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


def log_of(content: bytes | None) -> Log | None:
    """A file's rows; None where there is none or it is no log, so that whoever calls can set it aside unread."""
    if content is None:
        return None
    try:
        return read_log(text_of(content)[0])
    except NotText:
        return None


def outcomes(log: Log) -> dict[tuple[str, str], bool]:
    """(partner, operator) to whether the log says that the contact was completed; silent rows are left out."""
    found: dict[tuple[str, str], bool] = {}
    for row in log.attempts:
        if row.completed is not None:
            key = row.cells["partner"].upper(), row.cells.get("operator", "").upper()
            found[key] = found.get(key, False) or row.completed
    return found


def noted_outcomes(agenda: pd.DataFrame, night: dt.date) -> dict[tuple[str, str], bool]:
    """The same of what the record says of a night's slots, by the agenda's rows: made, or failed and to be tried."""
    rows = agenda[(agenda["night"] == night) & agenda["slot_outcome"].isin((MADE, FAILED))]
    return {
        (partner, operator): outcome == MADE
        for partner, operator, outcome in zip(rows["partner"], rows["operator"], rows["slot_outcome"], strict=True)
    }


def absent_from(agenda: pd.DataFrame, night: dt.date) -> frozenset[str]:
    """Who the record says was not there, or was kept away by the weather, in any slot of a night, by those rows."""
    rows = agenda[(agenda["night"] == night) & agenda["slot_outcome"].isin((ABSENT, RAINED))]
    return frozenset(rows["partner"])


def questions(log: Log) -> list[Oddity]:
    """What the log does not tell of its attempts, or not in words that are understood, by line."""
    odd = [one for row in log.attempts for one in (*row.oddities, *row.questions)]
    return sorted((*log.oddities, *odd), key=lambda one: one.line)


def merged(
    before: Sequence[LogRow], new: Sequence[Cells], over: Collection[tuple[str, dt.datetime | None]] = ()
) -> list[Cells]:
    """What was written before, as it stands, rows of slots that are over (partner, start), filled in or not, and the
    new rows that it does not hold yet, by time.
    """
    kept = (row for row in before if row.is_filled_in or (row.cells["partner"].upper(), row.slot_start_utc) in over)
    written = [(_key(row.cells, row.slot_start_utc), row.cells) for row in kept]
    held = {key for key, _ in written}
    fresh = [(_key(row, dt.datetime.fromisoformat(row["slot_start_utc"])), row) for row in new]
    both = [*written, *((key, row) for key, row in fresh if key not in held)]
    return [row for _, row in sorted(both, key=lambda one: one[0][0])]


def _key(cells: Cells, start: dt.datetime | None) -> tuple[str, str, str]:
    """A slot's start, partner and operator; a spreadsheet may have written the start anew in another form."""
    begins = cells.get("slot_start_utc", "") if start is None else f"{start:%Y-%m-%dT%H:%M:%SZ}"
    return begins, cells["partner"].upper(), cells.get("operator", "").upper()


def log_text(rows: Sequence[Cells]) -> str:
    """The file; columns that somebody added stay at the end."""
    more = list(dict.fromkeys(name for row in rows for name in row if name not in LOG_COLUMNS))
    buffer = io.StringIO()
    writer = csv.DictWriter(buffer, [*LOG_COLUMNS, *more], restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return buffer.getvalue()


def log_files(
    night: dt.date,
    slots: Sequence[LoggedSlot],
    before: bytes | None,
    taken: Collection[str] = (),
    over: Collection[tuple[str, dt.datetime | None]] = (),
) -> dict[str, bytes]:
    """`log.csv` of the night, with what was written in the one that stands there (`before`), and its rows of slots that
    are `over` (partner and start): how they went is still to be told.

    A file of that name that is no log any more may hold the only notes of a night: it is kept as `log-before.csv`, or
    `log-before-2.csv` where names are `taken`.
    """
    held = log_of(before)
    files = {LOG_NAME: log_text(merged(held.rows if held else (), log_rows(night, slots), over)).encode()}
    if before is not None and before.strip() and held is None:
        names = ("log-before.csv", *(f"log-before-{number}.csv" for number in range(2, len(taken) + 3)))
        files[next(name for name in names if name not in taken)] = before
    return files
