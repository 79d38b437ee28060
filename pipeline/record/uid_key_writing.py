"""Drawing `record/uid_key.txt`: once, from the system's generator, by the command that makes the first letters."""

from __future__ import annotations

import secrets
from pathlib import Path

from pipeline.record.model import FOLDER, UID_KEY
from pipeline.record.uid_key import KEY_BYTES, read_uid_key
from pipeline.record.writing import record_lock, write_whole


def kept_uid_key(folder: Path) -> str:
    """The key of a season's folder; where there is none yet it is drawn and written whole under the record's lock.

    Raises InputFaults where it is damaged or cannot be written, RecordBusy where another run has the record.
    """
    key = read_uid_key(folder)
    if key:
        return key
    with record_lock(folder):
        # Another run may have drawn one while this one waited.
        key = read_uid_key(folder)
        if not key:
            key = secrets.token_hex(KEY_BYTES)
            write_whole(folder / FOLDER / UID_KEY, f"{key}\n")
    return key
