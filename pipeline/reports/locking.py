"""One run at a time in a folder: a lock of the operating system, which a crash cannot leave behind."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from pipeline.reports.blocked import OutputBlocked, told_in_a_sentence

NAME = ".lock"
# Longer than any run of ours takes; a run that hangs is not waited for forever.
PATIENCE_S = 600.0


class FolderBusy(OutputBlocked):
    """Another run holds the folder and does not end; the text is one sentence for the user."""


@contextmanager
def only_run_in(folder: Path, patience_s: float = PATIENCE_S) -> Iterator[None]:
    """Holds the folder, made where there is none, for this process; waits for another run that does.

    Raises FolderBusy where that one does not end, OutputBlocked where the folder cannot be written.
    """
    with told_in_a_sentence(folder):
        folder.mkdir(parents=True, exist_ok=True)
        lock = FileLock(folder / NAME, timeout=patience_s)
        try:
            lock.acquire()
        except Timeout:
            message = f"another run writes into {folder.as_posix()} and does not end; wait for it, then run again"
            raise FolderBusy(message) from None
        except NotImplementedError as error:
            raise OSError(0, "its file system knows no locks") from error
    try:
        yield
    finally:
        lock.release()
