"""How much work a piece of code does, told so that a busy machine cannot change the answer.

`calls` counts the functions entered, ours and the interpreter's own in C: the same on every run. `processor_s` is this
thread's own time on the processor, for what a single call does inside C, such as the search of a pattern.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from types import FrameType


@dataclass
class Effort:
    """What a `counted` block took; filled in as it ends."""

    calls: int = 0
    processor_s: float = 0.0


@contextmanager
def counted() -> Iterator[Effort]:
    """Counts what the block does; whoever profiles outside goes on afterwards."""
    effort, outside = Effort(), sys.getprofile()

    def count(frame: FrameType, event: str, _: object) -> None:
        if event in ("call", "c_call"):
            effort.calls += 1

    began = time.thread_time()
    sys.setprofile(count)
    try:
        yield effort
    finally:
        sys.setprofile(outside)
        effort.processor_s = time.thread_time() - began
