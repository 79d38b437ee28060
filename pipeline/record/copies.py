"""The mails as they left, in `record/sent/`: each whole or not there, under the name that the ledger gives it.

A copy is on the disk before the ledger says `sending`, under a name of its own, and gets its name before anything
leaves; what the server did not take loses its copy again. The caller holds the record's lock.
"""

from __future__ import annotations

import contextlib
import datetime as dt
from pathlib import Path

from pipeline.inputs.atomic_writing import settle, write_file
from pipeline.record.model import FOLDER
from pipeline.record.writing import unwritable

COPIES = "sent"
UNFINISHED = ".new"


class Copies:
    """The folder of one season's copies."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / FOLDER / COPIES

    def free_name(self, moment: dt.datetime, stem: str) -> str:
        """`2027-02-01T103000Z-QF4LUM-letter.eml`, numbered where that name is taken."""
        first = f"{moment.astimezone(dt.UTC):%Y-%m-%dT%H%M%SZ}-{stem}"
        name, number = f"{first}.eml", 1
        while (self.folder / name).exists():
            number += 1
            name = f"{first}-{number}.eml"
        return name

    def prepare(self, name: str, raw: bytes) -> None:
        """The mail on the disk, not yet under its name. InputFaults where that fails."""
        try:
            self.folder.mkdir(exist_ok=True)
            for left in self.folder.glob(f"*{UNFINISHED}"):
                # What a crash has left: nothing of it was ever under way.
                left.unlink(missing_ok=True)
            write_file(self.folder / f"{name}{UNFINISHED}", raw)
        except OSError as error:
            self.drop(name)
            raise unwritable(f"{FOLDER}/{COPIES}", error) from None

    def keep(self, name: str) -> None:
        """The mail under its name. InputFaults where that fails."""
        try:
            (self.folder / f"{name}{UNFINISHED}").replace(self.folder / name)
            settle(self.folder)
        except OSError as error:
            raise unwritable(f"{FOLDER}/{COPIES}", error) from None

    def drop(self, name: str) -> None:
        """No copy of what did not leave."""
        for file in (self.folder / name, self.folder / f"{name}{UNFINISHED}"):
            with contextlib.suppress(OSError):
                file.unlink(missing_ok=True)
