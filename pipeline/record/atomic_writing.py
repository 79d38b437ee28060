"""Bytes that are on the disk before anything else counts: after a power cut a file is there whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path


def write_file(path: Path, content: bytes) -> None:
    """Write a file and wait until the disk has it. Raises OSError."""
    with path.open("wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())


def settle(folder: Path) -> None:
    """Ask the system to keep a folder's entries; Windows has no such call and keeps them by itself."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
