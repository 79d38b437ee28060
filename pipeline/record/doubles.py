"""Which records of a log tell of the same attempt: several logs hold it, or a record that applied reviews have kept.

From the records alone: station, band, operator, minutes, and the slot where a `log.csv` names one.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence

from pipeline.record.log_entry import LogEntry

# An attempt takes minutes: two records of one station and band nearer than this are one attempt.
ONE_ATTEMPT = dt.timedelta(minutes=5)
LONGEST_SLOT = dt.timedelta(hours=6)


def doubles_of(entries: Sequence[LogEntry]) -> dict[int, LogEntry]:
    """By the id of each entry that another tells better, that other: the fullest of an attempt, then the first."""
    groups: dict[tuple[str, str, str], list[LogEntry]] = defaultdict(list)
    for entry in entries:
        groups[entry.call, entry.band, entry.operator].append(entry)
    doubles: dict[int, LogEntry] = {}
    for group in groups.values():
        kept: LogEntry | None = None
        for entry in sorted(group, key=lambda one: one.time_utc):
            if kept is None or not _one_attempt(kept, entry):
                kept = entry
            elif _fullness(entry) > _fullness(kept):
                doubles = {place: entry if known is kept else known for place, known in doubles.items()}
                doubles[id(kept)] = entry
                kept = entry
            else:
                doubles[id(entry)] = kept
    return doubles


def _one_attempt(first: LogEntry, second: LogEntry) -> bool:
    """Whether two records of one station and band tell of the same attempt: minutes apart, or in the slot of a log.csv.

    Of an attempt that failed, each log gives another minute of the slot.
    """
    if second.time_utc - first.time_utc <= ONE_ATTEMPT:
        return True
    for slotted, other in ((first, second), (second, first)):
        if slotted.slot_start_utc and slotted.slot_end_utc and slotted.file != other.file:
            begin, end = slotted.slot_start_utc - ONE_ATTEMPT, slotted.slot_end_utc + ONE_ATTEMPT
            if begin <= other.time_utc <= end and end - begin < LONGEST_SLOT:
                return True
    return False


def _fullness(entry: LogEntry) -> tuple[bool, bool, bool, int, int]:
    figures = (entry.report_sent_db is not None) + (entry.report_received_db is not None)
    return (
        entry.moonbounce,
        not entry.silent,
        entry.completed,
        figures,
        bool(entry.report_sent) + bool(entry.report_received),
    )
