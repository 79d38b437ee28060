"""Writing single files into the folder of all periods: each whole, all of them or none.

The same steps as for a folder (see writing.py): X.new is written, X moves to X.old, X.new moves in, X.old goes.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from contextlib import suppress
from pathlib import Path

from pipeline.inputs.atomic_writing import settle, write_file
from pipeline.reports.blocked import OutputBlocked, sentence, told_in_a_sentence
from pipeline.reports.locking import only_run_in
from pipeline.reports.writing import beside, repair


def replace_files(folder: Path, files: Mapping[str, bytes], gone: Collection[str] = ()) -> list[Path]:
    """Write files that share their folder with others; those in `gone` are taken away with them.

    Returns the files written. Raises OutputBlocked where one cannot be written or a viewer holds it, FolderBusy where
    another run holds the folder; then all earlier files still stand.
    """
    with only_run_in(folder):
        return _replace(folder, files, gone)


def _replace(folder: Path, files: Mapping[str, bytes], gone: Collection[str]) -> list[Path]:
    targets = [folder / name for name in files]
    stale = [folder / name for name in gone]
    with told_in_a_sentence(folder):
        for path in (*targets, *stale):
            repair(path)
    taken = next((path for path in targets if path.is_dir()), None)
    if taken is not None:
        raise OutputBlocked(f"{taken.as_posix()} is a folder where a file is meant to be; move it away and run again")
    kept: list[Path] = []
    try:
        for path in targets:
            write_file(beside(path, "new"), files[path.name])
        settle(folder)
        for path in (*targets, *stale):
            if path.exists():
                path.rename(beside(path, "old"))
                kept.append(path)
        for path in targets:
            beside(path, "new").rename(path)
        settle(folder)
    except OSError as error:
        for path in kept:
            path.unlink(missing_ok=True)
            beside(path, "old").rename(path)
        for path in targets:
            beside(path, "new").unlink(missing_ok=True)
        if not isinstance(error, PermissionError):
            raise OutputBlocked(sentence(folder, error)) from error
        held = Path(error.filename).name if isinstance(error.filename, str) else "the files in it"
        raise OutputBlocked(f"close {held} and run again; nothing was lost") from error
    for path in kept:
        # Whatever cannot be removed now is removed by the next run.
        with suppress(OSError):
            beside(path, "old").unlink()
    return targets
