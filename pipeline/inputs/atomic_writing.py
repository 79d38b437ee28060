"""Bytes that are on the disk before anything else counts: after a power cut a file is there whole or not at all."""

from __future__ import annotations

import errno
import glob
import os
import secrets
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


def unfinished(path: Path) -> Path:
    """A hidden name beside a new file's, of this run alone."""
    return path.with_name(f".{path.name}.{secrets.token_hex(4)}.new")


def clear_unfinished(path: Path) -> None:
    """Take away what runs that were cut short left of a file that is there now; who still writes it comes too late."""
    for left in path.parent.glob(f".{glob.escape(path.name)}.*.new"):
        left.unlink(missing_ok=True)


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
