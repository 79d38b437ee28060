"""`record/replies_read.txt`: which answers were read and settled, a SHA-256 a line, so that nothing is told twice.

What was done with them stands in `agenda.yaml`; without this file they are all shown once more, and no harm is done.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from pipeline.inputs.faults import Fault, InputFaults
from pipeline.record.model import FOLDER, REPLIES_READ
from pipeline.record.writing import write_whole

NAME = f"{FOLDER}/{REPLIES_READ}"
DIGEST = re.compile(r"[0-9a-f]{64}", re.ASCII)
# A hundred thousand mails, far beyond any season.
LARGEST_BYTES = 6_500_000


def replies_read(folder: Path) -> frozenset[str]:
    """The digests noted in the record of a season's folder; InputFaults where the file cannot be read."""
    path = folder / FOLDER / REPLIES_READ
    try:
        with path.open("rb") as stream:
            text = stream.read(LARGEST_BYTES).decode("ascii", "replace")
    except FileNotFoundError:
        return frozenset()
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise InputFaults([Fault(NAME, None, "", f"the file cannot be read ({reason}).")]) from None
    return frozenset(line for line in text.split() if DIGEST.fullmatch(line))


def note_replies_read(folder: Path, digests: Iterable[str]) -> None:
    """Put digests to those noted; the caller holds the record's lock. Nothing is written where all are known."""
    known = replies_read(folder)
    new = known.union(digests)
    if new != known:
        write_whole(folder / FOLDER / REPLIES_READ, "".join(f"{digest}\n" for digest in sorted(new)))
