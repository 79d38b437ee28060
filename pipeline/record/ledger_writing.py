"""Writing the ledger: one line before a message leaves, one after, each on the disk before anything else happens.

What was told by hand is one line. The format and its reading stand in `record.ledger`; the caller holds the lock.
"""

from __future__ import annotations

import datetime as dt
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pipeline.inputs.atomic_writing import settle
from pipeline.record.ledger import BY_HAND, NAME, SENDING, TORN, entry_of
from pipeline.record.model import FOLDER, LEDGER
from pipeline.record.writing import unwritable


def stamp(moment: dt.datetime) -> str:
    """`2027-02-01T10:00:00Z`: a mail's date has no fractions of a second."""
    return f"{moment.astimezone(dt.UTC):%Y-%m-%dT%H:%M:%SZ}"


class LedgerWriter:
    """Adds lines to the ledger of one season's folder."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / FOLDER / LEDGER

    def begin(self, moment: dt.datetime, message_id: str, what: Mapping[str, Any]) -> None:
        """A message is about to leave; `what` is the rest of the entry."""
        self.append({"event": SENDING, "stamp": stamp(moment), "message_id": message_id, **what})

    def by_hand(self, moment: dt.datetime, message_id: str, what: Mapping[str, Any]) -> None:
        """The operator has told it; `what` is the rest of the entry."""
        self.append({"event": BY_HAND, "stamp": stamp(moment), "message_id": message_id, **what})

    def end(self, moment: dt.datetime, message_id: str, event: str, words: str = "") -> None:
        """How it ended."""
        self.append({"event": event, "stamp": stamp(moment), "message_id": message_id, "words": words})

    def mend(self) -> None:
        """After a line that a crash cut off the next one says so, once; else nothing."""
        with self.path.open("rb") as stream:
            whole = not self.mended(stream)
        if not whole:
            self.append({"event": TORN})

    def append(self, entry: Mapping[str, Any]) -> None:
        """One line, whole and on the disk, or InputFaults with the file as it was."""
        line = json.dumps(entry, ensure_ascii=False, allow_nan=False).encode() + b"\n"
        new = not self.path.exists()
        try:
            with self.path.open("ab+") as stream:
                before = stream.seek(0, os.SEEK_END)
                try:
                    stream.write(self.mended(stream) + line)
                    stream.flush()
                    os.fsync(stream.fileno())
                except BaseException:
                    # A half line on a full disk; where even this fails, the next run tells the line as cut off.
                    os.ftruncate(stream.fileno(), before)
                    raise
            if new:
                settle(self.path.parent)
        except OSError as error:
            raise unwritable(NAME, error) from None

    def mended(self, stream: Any) -> bytes:
        """What must stand before a new line: nothing, or the end of a line that a crash cut off."""
        size = stream.seek(0, os.SEEK_END)
        if size == 0:
            return b""
        stream.seek(0)
        last = stream.read().rsplit(b"\n", 1)[-1]
        stream.seek(0, os.SEEK_END)
        if not last:
            return b""
        # All of the line but its end may have reached the disk; then it counts.
        whole = entry_of(last) is not None
        return b"\n" if whole else b"\n" + json.dumps({"event": TORN}).encode() + b"\n"
