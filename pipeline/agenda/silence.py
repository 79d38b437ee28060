"""Nothing of the solver's own reaches standard output: HiGHS prints some remarks whatever it is asked.

Its C library holds lines back until a buffer is full, so that is emptied before and after, while descriptor 1 leads to
a pipe that nobody reads; where there is no standard output nothing is changed.
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager

STANDARD_OUTPUT = 1


@contextmanager
def silent_solver() -> Iterator[None]:
    """Whatever the C library prints to standard output inside is lost; what Python printed before is not."""
    if sys.stdout is not None:
        sys.stdout.flush()
    _empty_buffers()
    try:
        kept = os.dup(STANDARD_OUTPUT)
    except OSError:
        yield
        return
    nobody, nowhere = os.pipe()
    os.close(nobody)
    try:
        os.dup2(nowhere, STANDARD_OUTPUT)
        yield
    finally:
        _empty_buffers()
        os.dup2(kept, STANDARD_OUTPUT)
        os.close(nowhere)
        os.close(kept)


def _empty_buffers() -> None:
    """Every stream of the C library is written out."""
    ctypes.CDLL("ucrtbase" if sys.platform == "win32" else None).fflush(None)
