"""Why a folder cannot be written, as one sentence for the user, who finds all earlier files as they were."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

FULL = (errno.ENOSPC, errno.EDQUOT)


class OutputBlocked(RuntimeError):
    """A file or folder cannot be written now; the text is one sentence for the user."""


@contextmanager
def told_in_a_sentence(folder: Path) -> Iterator[None]:
    """Turns what the system refuses while `folder` is written into OutputBlocked."""
    try:
        yield
    except OSError as error:
        raise OutputBlocked(sentence(folder, error)) from error


def sentence(folder: Path, error: OSError) -> str:
    """What stands in the way and what would help."""
    file = next((path for path in (folder, *folder.parents) if path.is_file()), None)
    if file is not None:
        return f"{file.as_posix()} is a file where a folder is meant to be; move it away, or --out names another folder"
    where, reason = folder.as_posix(), (error.strerror or type(error).__name__).lower()
    if error.errno in FULL:
        return f"cannot write into {where}: {reason}; make room and run again; nothing was lost"
    return f"cannot write into {where}: {reason}; put that right, or --out names another folder; nothing was lost"
