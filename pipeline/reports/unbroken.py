"""What no line may part: a number and its percent sign. Words keep their usual blank until they are printed."""

from __future__ import annotations

import re

PERCENT = re.compile(r"(?<=\d) %")


def unbroken(words: str, blank: str = "\N{NO-BREAK SPACE}") -> str:
    """The words with this blank, which no line ends at, before each percent sign of a number."""
    return PERCENT.sub(f"{blank}%", words) if " %" in words else words
