"""A record of ten years is read whole and in one pass: its cost grows with its length, never with the square of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.record.attempts import remembered
from pipeline.record.reading import RecordRead, read_record
from pipeline.record.replies_read import replies_read
from tests.effort import counted
from tests.record.ten_years import write_record

MAILS = 3_000


def read(folder: Path) -> RecordRead:
    return read_record(folder, None, "QM7TOR", [])


def test_ten_years_of_a_hundred_partners_are_read_whole(tmp_path: Path) -> None:
    """Within the bounds of every file; what is kept takes no more than 9 MB beside the mails themselves."""
    write_record(tmp_path, MAILS)
    made = read(tmp_path)
    assert made.faults == []
    assert len(made.ledger.messages) == MAILS
    assert all(message.state == "sent" for message in made.ledger.messages)
    assert len(made.record.offers) == len(made.record.answers) == 2 * MAILS
    assert len(remembered(tmp_path)) == 2 * MAILS
    assert len(replies_read(tmp_path)) == MAILS
    assert sum(file.stat().st_size for file in (tmp_path / "record").iterdir()) < 9_000_000


def test_twice_the_record_costs_twice_as_much(tmp_path: Path) -> None:
    calls = []
    for mails in (150, 300, 600):
        folder = write_record(tmp_path / str(mails), mails)
        read(folder)
        with counted() as effort:
            read(folder)
            remembered(folder)
        calls.append(effort.calls)
    first, second = calls[1] - calls[0], calls[2] - calls[1]
    assert second == pytest.approx(2 * first, rel=0.1)
