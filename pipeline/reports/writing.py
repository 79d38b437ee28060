"""Writing whole folders so that nothing is lost: X.new is filled, X moves to X.old, X.new moves in, X.old goes.

A run that was cut short at any step is repaired by the next one: either the old folder or the complete new one stands.
"""

from __future__ import annotations

import errno
import os
import re
import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.inputs.atomic_writing import Content, settle, write_file
from pipeline.reports.blocked import OutputBlocked, sentence, told_in_a_sentence
from pipeline.reports.locking import only_run_in
from pipeline.reports.rendering import Document, note_rendered, render_documents

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

# What a cut run can leave beside a folder of ours: `calendar.new`, `nights/2027-03-13.old`.
LEFT = re.compile(r"(calendar|data|letters|\d{4}-\d\d-\d\d)\.(new|old)", re.ASCII)


def repair(path: Path) -> None:
    """Finish or undo an interrupted swap of `path`.

    `.old` beside a missing `path` means that `.new` was complete: it is only made after the last file was written.
    """
    new, old = beside(path, "new"), beside(path, "old")
    if not path.exists() and old.exists():
        (new if new.exists() else old).rename(path)
    for left in (new, old):
        if left.exists():
            _remove(left)


def repair_period(folder: Path) -> None:
    """Finish or undo whatever a run that was cut short left in a period's folder; the caller holds its lock."""
    with told_in_a_sentence(folder):
        beside = [path for place in (folder, folder / "nights", folder / "after") for path in place.glob("*.*")]
        for path in sorted({path.with_suffix("") for path in beside if LEFT.fullmatch(path.name)}):
            repair(path)


def put_in_order(folder: Path) -> None:
    """Waits for a run that is just writing a period's folder, and finishes or undoes one that was cut short."""
    if folder.is_dir():
        with only_run_in(folder.parent):
            repair_period(folder)


@contextmanager
def swapped_folder(path: Path) -> Iterator[Path]:
    """Gives an empty folder to fill; on a clean exit it takes the place of `path`, on an error `path` stays as it was.

    Raises OutputBlocked where there is no room, or a viewer holds a file (Windows); then the old folder still stands.
    """
    new, old = beside(path, "new"), beside(path, "old")
    with told_in_a_sentence(path.parent):
        path.parent.mkdir(parents=True, exist_ok=True)
        repair(path)
    with told_in_a_sentence(path):
        if path.exists() and not path.is_dir():
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
        try:
            new.mkdir()
            yield new
            for folder, _, _ in os.walk(new):
                settle(Path(folder))
        except BaseException:
            shutil.rmtree(new, ignore_errors=True)
            raise
    try:
        if path.exists():
            path.rename(old)
        new.rename(path)
        settle(path.parent)
    except (OSError, KeyboardInterrupt) as error:
        if old.exists() and not path.exists():
            old.rename(path)
        shutil.rmtree(new, ignore_errors=True)
        if isinstance(error, PermissionError):
            raise OutputBlocked(_held_sentence(path)) from error
        if isinstance(error, OSError):
            raise OutputBlocked(sentence(path.parent, error)) from error
        raise
    # Whatever cannot be removed now is removed by the next run; the new folder already stands.
    shutil.rmtree(old, ignore_errors=True)


def beside(path: Path, ending: str) -> Path:
    """The place of what is about to stand at a path, or stood there."""
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
    """A subfolder that is swapped whole: finished files, and documents still to be rendered, by name.

    Where people keep files as well, `own` are the names that this program writes: all others stay. `merge` reads such a
    folder at the last moment and gives the files in which somebody may have written since.
    """

    name: str
    files: Mapping[str, Content]
    documents: Mapping[str, Document] = field(default_factory=dict)
    own: frozenset[str] = frozenset()
    merge: Callable[[Path], Mapping[str, bytes]] | None = None


def plan_rooms(plan: Plan, with_pdf: bool) -> tuple[Room, Room]:
    """Calendar and data of a plan; with `with_pdf=False` no PDF of an earlier run is left to be taken for one.

    Raises PdfUnavailable where PDFs are asked for and no engine is there.
    """
    from pipeline.reports import calendar, pdf, tables

    page, document = calendar.calendar_pages(plan, with_pdf)
    engine = pdf.engine().name if with_pdf else None
    return (
        Room("calendar", {"calendar.html": page.encode()}, {"calendar.pdf": document} if document else {}),
        Room("data", tables.data_files(plan, engine)),
    )


def write_rooms(rooms: Sequence[Room], folder: Path, progress: Callable[[str], None] | None = None) -> list[Path]:
    """Render what is to be rendered, then write each room under `folder`, the last one last; the files written.

    All is rendered and written before anything moves: a failure leaves every folder as it was. The data go last, so
    that after a run cut short `run.json` still tells of the older plan, and no command takes the mixture for a plan.
    """
    with only_run_in(folder.parent):
        repair_period(folder)
        documents = {f"{room.name}/{name}": one for room in rooms for name, one in room.documents.items()}
        made = render_documents(documents, folder, progress=progress)
        with ExitStack() as swaps:
            # All are filled before the first takes its place; the one entered first does so last.
            for room in reversed(rooms):
                new = swaps.enter_context(swapped_folder(folder / room.name))
                _fill(new, folder / room.name, room, {name: made[f"{room.name}/{name}"] for name in room.documents})
        note_rendered(documents, made, folder)
    return [folder / room.name / name for room in rooms for name in (*room.documents, *room.files)]


def _fill(new: Path, place: Path, room: Room, rendered: Mapping[str, bytes]) -> None:
    """All that a room is to hold, also what stands in its `place` and stays."""
    if room.own and place.is_dir():
        _carry_over(place, new, room.own)
    merged = room.merge(place) if room.merge else {}
    for name, content in {**rendered, **room.files, **merged}.items():
        write_file(new / name, content)


def _carry_over(place: Path, new: Path, own: frozenset[str]) -> None:
    """What people put into a folder of ours goes into its successor."""
    for path in sorted(place.iterdir()):
        if path.name in own and not path.is_dir():
            continue
        if path.is_dir() and not path.is_symlink():
            shutil.copytree(path, new / path.name, symlinks=True, copy_function=_link)
        else:
            _link(path, new / path.name)


def _link(source: str | Path, target: str | Path) -> None:
    """The same file under a second name; a copy where the file system has no such thing. Recordings may be large."""
    try:
        os.link(source, target, follow_symlinks=False)
    except (OSError, NotImplementedError):
        shutil.copy2(source, target, follow_symlinks=False)
