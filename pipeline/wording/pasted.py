"""Words of a command that a page or a line tells one to type, as a shell takes them: in quotes where they need them."""

from __future__ import annotations

import re
import shlex
import sys


def pasted(word: object) -> str:
    """A path or any other word; Windows knows double quotes alone."""
    text = str(word)
    if sys.platform != "win32":
        return shlex.quote(text)
    return text if re.fullmatch(r"[\w\\/:.,=+~-]+", text) else f'"{text}"'


def all_pasted(words: list[str]) -> str:
    """Words with blanks between them."""
    return " ".join(map(pasted, words))
