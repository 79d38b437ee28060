"""`record/replies_read.txt`: which answers were read and settled, a SHA-256 a line, so that nothing is told twice.

What was done with them stands in `agenda.yaml`; without this file they are all shown once more, and no harm is done.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from pipeline.inputs import bounds
from pipeline.inputs.yaml_tree import read_bytes
from pipeline.record.model import FOLDER, REPLIES_READ
from pipeline.record.writing import write_whole

NAME = f"{FOLDER}/{REPLIES_READ}"
DIGEST = re.compile(r"[0-9a-f]{64}", re.ASCII)


def replies_read(folder: Path) -> frozenset[str]:
    """The digests noted in the record of a season's folder; InputFaults where the file cannot be read."""
    path = folder / FOLDER / REPLIES_READ
    if not path.exists():
        return frozenset()
    text = read_bytes(path, bounds.REPLIES_READ, NAME).decode("ascii", "replace")
    return frozenset(line for line in text.split() if DIGEST.fullmatch(line))


def note_replies_read(folder: Path, digests: Iterable[str]) -> None:
    """Put digests to those noted; the caller holds the record's lock. Nothing is written where all are known."""
    known = replies_read(folder)
    new = known.union(digests)
    if new != known:
        write_whole(folder / FOLDER / REPLIES_READ, "".join(f"{digest}\n" for digest in sorted(new)))
