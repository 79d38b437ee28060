"""Writing whole folders so that nothing is lost: X.new is filled, X moves to X.old, X.new moves in, X.old goes.

A run that was cut short at any step is repaired by the next one: either the old folder or the complete new one stands.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.reports.locking import only_run_in
from pipeline.reports.rendering import Document, note_rendered, render_documents

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
        if folder.is_dir():
            shutil.rmtree(folder)
        else:
            folder.unlink()
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


@dataclass(frozen=True)
class Room:
    """A subfolder that is swapped whole: finished files, and documents still to be rendered, by name."""

    name: str
    files: Mapping[str, bytes]
    documents: Mapping[str, Document] = field(default_factory=dict)


def plan_rooms(plan: Plan, with_pdf: bool) -> tuple[Room, Room]:
    """Calendar and data of a plan; with `with_pdf=False` no PDF of an earlier run is left to be taken for one."""
    from pipeline.reports import calendar, tables

    page, document = calendar.calendar_pages(plan, with_pdf)
    return (
        Room("calendar", {"calendar.html": page.encode()}, {"calendar.pdf": document} if document else {}),
        Room("data", {name: text.encode() for name, text in tables.data_files(plan).items()}),
    )


def write_rooms(rooms: Sequence[Room], folder: Path) -> list[Path]:
    """Render what is to be rendered, then write each room under `folder`, the last one last; the files written.

    All is rendered before anything moves: a failure leaves every folder as it was. The data go last, so that after a
    run cut short `run.json` still tells of the older plan, and no command takes the mixture for a plan.
    """
    with only_run_in(folder.parent):
        documents = {f"{room.name}/{name}": one for room in rooms for name, one in room.documents.items()}
        made = render_documents(documents, folder)
        for room in rooms:
            with swapped_folder(folder / room.name) as new:
                contents = {name: made[f"{room.name}/{name}"] for name in room.documents} | dict(room.files)
                for name, content in contents.items():
                    (new / name).parent.mkdir(parents=True, exist_ok=True)
                    (new / name).write_bytes(content)
        note_rendered(documents, made, folder)
    return [folder / room.name / name for room in rooms for name in (*room.documents, *room.files)]
