"""A disk that ends at the n-th change: the process is gone at once, or there is no space left from then on.

Every call that changes files is counted. A cut process can do nothing more, not even tidy up: each later change fails
as well. Without space only what needs room fails; removing and renaming still work.
"""

from __future__ import annotations

import builtins
import errno
import io
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest

CHANGES = ("rename", "replace", "mkdir", "rmdir", "unlink", "remove", "link", "fsync", "ftruncate")
NEED_ROOM = ("mkdir", "link", "fsync")
WRITING = set("wax+")


class Cut(BaseException):
    """The process is gone; nothing may catch this and go on."""


class Disk:
    """Counts changes; from number `limit` on they fail."""

    def __init__(self, limit: int | None, no_space: bool) -> None:
        self.limit, self.no_space, self.count = limit, no_space, 0

    def step(self, needs_room: bool) -> None:
        """One change is asked for."""
        if self.no_space and not needs_room:
            return
        self.count += 1
        if self.limit is not None and self.count >= self.limit:
            if self.no_space:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "the disk")
            raise Cut()


@contextmanager
def failing_disk(monkeypatch: pytest.MonkeyPatch, limit: int | None, no_space: bool = False) -> Iterator[Disk]:
    """The disk fails from change number `limit` on (never with None, then it only counts)."""
    disk = Disk(limit, no_space)

    def counted(name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def change(*arguments: Any, **named: Any) -> Any:
            disk.step(name in NEED_ROOM)
            return real(*arguments, **named)

        return change

    def opened(real: Callable[..., Any]) -> Callable[..., Any]:
        def open_(file: Any, mode: str = "r", *arguments: Any, **named: Any) -> Any:
            writes = isinstance(mode, str) and bool(WRITING & set(mode))
            if writes and isinstance(file, str | bytes | os.PathLike) and not str(file).startswith("/dev"):
                try:
                    disk.step(needs_room=True)
                except (Cut, OSError):
                    # The file was begun, and there it ended.
                    if "w" in mode or "a" in mode:
                        real(file, mode, *arguments, **named).close()
                    raise
            return real(file, mode, *arguments, **named)

        return open_

    with monkeypatch.context() as patch:
        for name in CHANGES:
            patch.setattr(os, name, counted(name, getattr(os, name)))
        patch.setattr(builtins, "open", opened(builtins.open))
        patch.setattr(io, "open", opened(io.open))
        yield disk
