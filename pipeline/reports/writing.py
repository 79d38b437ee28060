"""Writing whole folders so that nothing is lost: X.new is filled, X moves to X.old, X.new moves in, X.old goes.

A run that was cut short at any step is repaired by the next one: either the old folder or the complete new one stands.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.reports import formats

if TYPE_CHECKING:
    from pipeline.planning.plan import Plan


class OutputBlocked(RuntimeError):
    """A file in the folder is open in another program; the text is one sentence for the user."""


def repair(path: Path) -> None:
    """Finish or undo an interrupted swap of `path`.

    `.old` beside a missing `path` means that `.new` was complete: it is only made after the last file was written.
    """
    new, old = _beside(path, "new"), _beside(path, "old")
    if not path.exists() and old.exists():
        (new if new.exists() else old).rename(path)
    for left in (new, old):
        if left.exists():
            _remove(left)


@contextmanager
def swapped_folder(path: Path) -> Iterator[Path]:
    """Gives an empty folder to fill; on a clean exit it takes the place of `path`, on an error `path` stays as it was.

    Raises OutputBlocked where a viewer holds a file (Windows); then the old folder still stands.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    repair(path)
    new, old = _beside(path, "new"), _beside(path, "old")
    new.mkdir()
    try:
        yield new
    except BaseException:
        shutil.rmtree(new, ignore_errors=True)
        raise
    if path.exists():
        try:
            path.rename(old)
        except OSError as error:
            shutil.rmtree(new, ignore_errors=True)
            raise OutputBlocked(_held_sentence(path)) from error
    try:
        new.rename(path)
    except OSError as error:
        if old.exists():
            old.rename(path)
        shutil.rmtree(new, ignore_errors=True)
        raise OutputBlocked(_held_sentence(path)) from error
    # Whatever cannot be removed now is removed by the next run; the new folder already stands.
    shutil.rmtree(old, ignore_errors=True)


def _beside(path: Path, ending: str) -> Path:
    return path.with_name(f"{path.name}.{ending}")


def _remove(folder: Path) -> None:
    try:
        shutil.rmtree(folder)
    except OSError as error:
        raise OutputBlocked(_held_sentence(folder)) from error


def _held_sentence(folder: Path) -> str:
    """Names the file that cannot be opened for writing; else the one most likely open in a viewer."""
    files = sorted(file for file in folder.rglob("*") if file.is_file())
    for file in files:
        try:
            with file.open("r+b"):
                pass
        except OSError:
            return f"close {file.name} and run again; nothing was lost"
    likely = next((file.name for file in files if file.suffix == ".pdf"), f"the folder {folder.name}")
    return f"close {likely} and run again; nothing was lost"


def write_reports(plan: Plan, out_folder: Path, pdf: bool = True) -> list[Path]:
    """Write `calendar/` and `data/` of the plan's period under `out_folder`; each is swapped whole.

    Returns the files written, the one to open first. With `pdf=False` no PDF is made and none of an earlier run is
    left to be taken for this one's.
    """
    from pipeline.reports import calendar, tables

    folder = out_folder / formats.period_folder(plan.first_night, plan.last_night)
    rooms = {
        "calendar": calendar.calendar_files(plan, with_pdf=pdf),
        "data": {name: text.encode() for name, text in tables.data_files(plan).items()},
    }
    # All is rendered before anything moves: a failure leaves both folders as they were.
    for room, files in rooms.items():
        with swapped_folder(folder / room) as new:
            for name, content in files.items():
                (new / name).write_bytes(content)
    return [folder / room / name for room, files in rooms.items() for name in files]
