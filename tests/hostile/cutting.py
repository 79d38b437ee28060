"""A disk that ends at the n-th change: the process is gone at once, or there is no space left from then on.

Every call that changes files is counted, each write into an open file too. A cut process can do nothing more, not even
tidy up: each later change fails as well. Without space only what needs room fails; removing and renaming still work.
The write at which it happens leaves half of its bytes.
"""

from __future__ import annotations

import builtins
import errno
import io
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

CHANGES = ("rename", "replace", "mkdir", "rmdir", "unlink", "remove", "link", "symlink", "fsync", "ftruncate", "chmod")
NEED_ROOM = ("mkdir", "link", "symlink", "fsync")
WRITING = set("wax+")
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC


class Cut(BaseException):
    """The process is gone; nothing may catch this and go on."""


class Disk:
    """Counts changes; from number `limit` on they fail. `changes` are their names, in order."""

    def __init__(self, limit: int | None, no_space: bool) -> None:
        self.limit, self.no_space = limit, no_space
        self.changes: list[str] = []

    @property
    def count(self) -> int:
        return len(self.changes)

    def step(self, name: str, needs_room: bool) -> None:
        """One change is asked for."""
        if self.no_space and not needs_room:
            return
        self.changes.append(name)
        if self.limit is not None and self.count >= self.limit:
            if self.no_space:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "the disk")
            raise Cut()


class Written:
    """An open file whose writes are counted; the one at which the disk ends leaves half of its bytes."""

    def __init__(self, file: Any, disk: Disk) -> None:
        self._file, self._disk = file, disk

    def write(self, content: Any) -> int:
        ended = self._disk.limit is not None and self._disk.count >= self._disk.limit
        try:
            self._disk.step("write", needs_room=True)
        except (Cut, OSError):
            if not ended:
                self._file.write(content[: len(content) // 2])
                self._file.flush()
            raise
        return int(self._file.write(content))

    def __enter__(self) -> Written:
        self._file.__enter__()
        return self

    def __exit__(self, *error: Any) -> Any:
        return self._file.__exit__(*error)

    def __iter__(self) -> Iterator[Any]:
        return iter(self._file)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)


@contextmanager
def failing_disk(monkeypatch: pytest.MonkeyPatch, limit: int | None, no_space: bool = False) -> Iterator[Disk]:
    """The disk fails from change number `limit` on (never with None, then it only counts)."""
    disk = Disk(limit, no_space)

    def counted(name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def change(*arguments: Any, **named: Any) -> Any:
            disk.step(name, name in NEED_ROOM)
            return real(*arguments, **named)

        return change

    def opened(real: Callable[..., Any]) -> Callable[..., Any]:
        def open_(file: Any, mode: str = "r", *arguments: Any, **named: Any) -> Any:
            if not isinstance(mode, str) or not WRITING & set(mode) or str(file).startswith("/dev"):
                return real(file, mode, *arguments, **named)
            if isinstance(file, str | bytes | os.PathLike):
                disk.step("open", needs_room=not Path(os.fsdecode(file)).exists())
            return Written(real(file, mode, *arguments, **named), disk)

        return open_

    def opened_low(real: Callable[..., int]) -> Callable[..., int]:
        def open_(path: Any, flags: int, *arguments: Any, **named: Any) -> int:
            if flags & WRITES:
                disk.step("open", needs_room=bool(flags & os.O_CREAT) and not os.path.lexists(path))
            return real(path, flags, *arguments, **named)

        return open_

    with monkeypatch.context() as patch:
        for name in CHANGES:
            patch.setattr(os, name, counted(name, getattr(os, name)))
        patch.setattr(os, "open", opened_low(os.open))
        patch.setattr(builtins, "open", opened(builtins.open))
        patch.setattr(io, "open", opened(io.open))
        yield disk
