"""What stands on the terminal: how wide it is, the stage that runs now, and letters that it can show.

A stage is a line on the error stream; on a terminal the seconds of a long one run below it, rewritten in place.
"""

from __future__ import annotations

import codecs
import io
import os
import sys
import threading
import time
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import TextIO

from pipeline.reports.folding import WIDTH

NARROWEST = 40
TICK_S = 0.9
# What people read for signs that an old code page has not; accents and small caps fall to their letters.
PLAIN = {
    **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212", "-"),
    **dict.fromkeys("\u2018\u2019\u2032", "'"),
    **dict.fromkeys("\u201c\u201d\u2033", '"'),
    "\u2026": "...",
    "\u00d7": "x",
    "\u00b7": "-",
    "\u2022": "*",
    "\u2192": "->",
    "\u2190": "<-",
    "\u2264": "<=",
    "\u2265": ">=",
    "\u00b1": "+-",
    "\u00b0": " deg",
    "\u00b5": "u",
    "\u03bb": "lambda",
    "\u03c0": "pi",
    "\u2007": " ",
    "\u202f": " ",
}


def _readable(error: UnicodeError) -> tuple[str, int]:
    """Letters that an encoding lacks, in others that say the same; a question mark where there are none."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(map(_spelled, error.object[error.start : error.end])), error.end


def _spelled(letter: str) -> str:
    plain = PLAIN.get(letter) or unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode()
    return plain or ("" if unicodedata.combining(letter) else "?")


def show_what_can_be_shown(*streams: TextIO) -> None:
    """Makes streams write readable substitutes for what their encoding lacks, instead of failing."""
    codecs.register_error("readable", _readable)
    for stream in streams:
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="readable")


def known_columns() -> int | None:
    """How wide the terminal is, by COLUMNS or by itself; None where output goes elsewhere."""
    try:
        columns = int(os.environ.get("COLUMNS", "")) or None
    except ValueError:
        columns = None
    try:
        columns = columns or os.get_terminal_size(sys.__stdout__.fileno() if sys.__stdout__ else 1).columns
    except (OSError, ValueError):
        return None
    return max(columns, NARROWEST) if columns else None


def text_width() -> int:
    """How wide text is set: as the terminal, and no wider than one reads at ease."""
    return min(known_columns() or WIDTH, WIDTH)


class Stages:
    """The stage that runs now, told on a stream, and how long it has been running where somebody watches."""

    def __init__(self, stream: Callable[[], TextIO], clock: Callable[[], float] = time.monotonic) -> None:
        self.stream, self._clock = stream, clock
        self._lock = threading.Lock()
        self._named, self._shown, self._begun = False, 0, clock()

    def tell(self, stage: str) -> None:
        """A new stage, on a line of its own."""
        with self._lock:
            self._wipe()
            self._named, self._begun = True, self._clock()
            self._write(f"  {stage}\n")

    def tick(self) -> None:
        """The seconds of this stage, below it. The cursor returns, so that whatever comes next is written over them."""
        with self._lock:
            seconds = self._clock() - self._begun
            if seconds < TICK_S or not self.stream().isatty():
                return
            text = f"    {'' if self._named else 'loading, '}{seconds:.0f} s"
            self._shown = max(self._shown, len(text))
            self._write(f"\r{text.ljust(self._shown)}\r")

    def wipe(self) -> None:
        """Takes the seconds away before something else is printed."""
        with self._lock:
            self._wipe()

    def _wipe(self) -> None:
        if self._shown:
            self._write(f"\r{' ' * self._shown}\r")
            self._shown = 0

    def _write(self, text: str) -> None:
        # A terminal that is gone ends no run.
        with suppress(OSError, ValueError):
            self.stream().write(text)
            self.stream().flush()


stages = Stages(lambda: sys.stderr)
tell = stages.tell
wipe = stages.wipe


@contextmanager
def watched() -> Iterator[None]:
    """While the block runs, somebody at a terminal sees that it lives: a tick a second."""
    over = threading.Event()

    def run() -> None:
        while not over.wait(TICK_S):
            stages.tick()

    ticker = threading.Thread(target=run, daemon=True, name="ticks")
    if sys.stderr.isatty():
        ticker.start()
    try:
        yield
    finally:
        over.set()
        if ticker.ident is not None:
            ticker.join()
        stages.wipe()
