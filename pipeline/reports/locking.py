"""One run at a time in a folder: a lock of the operating system, which a crash cannot leave behind."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

NAME = ".lock"
# Longer than any run of ours takes; a run that hangs is not waited for forever.
PATIENCE_S = 600.0


class FolderBusy(RuntimeError):
    """Another run holds the folder and does not end; the text is one sentence for the user."""


@contextmanager
def only_run_in(folder: Path, patience_s: float = PATIENCE_S) -> Iterator[None]:
    """Holds the folder for this process; waits for another run that does, then raises FolderBusy."""
    folder.mkdir(parents=True, exist_ok=True)
    lock = FileLock(folder / NAME, timeout=patience_s)
    try:
        lock.acquire()
    except Timeout:
        raise FolderBusy(f"another run writes into {folder} and does not end; wait for it, then run again") from None
    try:
        yield
    finally:
        lock.release()
