"""Bytes that are on the disk before anything else counts: after a power cut a file is there whole or not at all."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterable
from pathlib import Path

# What a file system answers that has no hard links, as on a stick: link(2), and Windows on FAT.
NO_HARD_LINKS = (errno.EPERM, errno.EOPNOTSUPP, errno.ENOTSUP, errno.ENOSYS, errno.EINVAL)

# A file's bytes, or its parts in order where all at once would fill the memory.
Content = bytes | Iterable[bytes]


def write_file(path: Path, content: Content) -> None:
    """Write a file and wait until the disk has it. Raises OSError."""
    with path.open("wb") as stream:
        stream.writelines([content] if isinstance(content, bytes) else content)
        stream.flush()
        os.fsync(stream.fileno())


def place_new(finished: Path, path: Path) -> None:
    """Move a finished file to a name that nothing has yet; of two runs one gets it. Raises FileExistsError, OSError."""
    try:
        os.link(finished, path)
    except OSError as error:
        if error.errno not in NO_HARD_LINKS:
            raise
        # The name is taken first, empty; then the file itself is put under it.
        path.open("xb").close()
        try:
            finished.replace(path)
        except OSError:
            path.unlink()
            raise
    else:
        finished.unlink()


def settle(folder: Path) -> None:
    """Ask the system to keep a folder's entries; Windows has no such call and keeps them by itself."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
