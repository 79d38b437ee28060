"""Writing single files into the folder of all periods: each whole, all of them or none.

The same steps as for a folder (see writing.py): X.new is written, X moves to X.old, X.new moves in, X.old goes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from pipeline.reports.locking import only_run_in
from pipeline.reports.writing import OutputBlocked, repair


def replace_files(folder: Path, files: Mapping[str, bytes], gone: Sequence[str] = ()) -> list[Path]:
    """Write files that share their folder with others; those in `gone` are taken away with them.

    Returns the files written. Raises OutputBlocked where one cannot be written or a viewer holds it, FolderBusy where
    another run holds the folder; then all earlier files still stand.
    """
    with only_run_in(folder):
        return _replace(folder, files, gone)


def _replace(folder: Path, files: Mapping[str, bytes], gone: Sequence[str]) -> list[Path]:
    targets = [folder / name for name in files]
    stale = [folder / name for name in gone]
    for path in (*targets, *stale):
        repair(path)
    kept: list[Path] = []
    try:
        for path in targets:
            _beside(path, "new").write_bytes(files[path.name])
        for path in (*targets, *stale):
            if path.exists():
                path.rename(_beside(path, "old"))
                kept.append(path)
        for path in targets:
            _beside(path, "new").rename(path)
    except OSError as error:
        for path in kept:
            path.unlink(missing_ok=True)
            _beside(path, "old").rename(path)
        for path in targets:
            _beside(path, "new").unlink(missing_ok=True)
        held = Path(error.filename).name if isinstance(error.filename, str) else "the files in it"
        raise OutputBlocked(f"close {held} and run again; nothing was lost") from error
    for path in kept:
        # Whatever cannot be removed now is removed by the next run.
        with suppress(OSError):
            _beside(path, "old").unlink()
    return targets


def _beside(path: Path, ending: str) -> Path:
    return path.with_name(f"{path.name}.{ending}")
