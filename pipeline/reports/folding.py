"""Text for a terminal folded to its width: each long line breaks between words and goes on under its own last column.

Texts are built of whole lines, however long; they are folded once, at the end, where the width is known.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

from pipeline.reports.unbroken import unbroken

# What one reads at ease, and what is printed where nobody knows how wide it will be read.
WIDTH = 100
# From here on a line is to be typed, so that it stays whole.
TO_TYPE = "run: "
HELD = "\x1f"
# The words of a command, quoted ones with all that they hold, to the end of its clause.
ARGUMENTS = r"""(?:"[^"]*"|'[^']*'|[^"'])*?(?= \(| (?:lays|lists|puts|says|tells|uses|writes) |[;,:.)] |[.;,:)]?$)"""
# The gap before a column and what may mark the words in it.
COLUMN = re.compile(r"(?<=\S) {2,}(?:[*-] +)?(?=\S)")
BEGINNING = re.compile(r" *(?:- )?")


def folded(text: str, columns: int = WIDTH, command: str = "") -> str:
    """The text without a line of more than `columns` letters, save for single words that are longer.

    What is to be typed stays on one line: all after `run: `, and `command` with its words, wherever it stands.
    """
    return "\n".join(
        line if len(line) <= columns or _is_command(line, command) else _fold(line, columns, command)
        for line in text.split("\n")
    )


def in_columns(rows: Sequence[Sequence[str]]) -> list[str]:
    """Rows of as many cells each as lines, every column as wide as its widest cell."""
    across = [max(map(len, cells)) for cells in zip(*rows, strict=True)]
    return ["  " + "  ".join(f"{cell:{wide}}" for cell, wide in zip(row, across, strict=True)).rstrip() for row in rows]


def _is_command(line: str, command: str) -> bool:
    return bool(command) and line.lstrip().startswith(f"{command} ")


def _held(line: str, command: str) -> str:
    """The line with each command held together, from its name to where the sentence goes on."""
    if not command:
        return line
    whole = rf"(?<!\S){re.escape(command)} {ARGUMENTS}"
    return re.sub(whole, lambda found: found[0].replace(" ", HELD), line)


def _fold(line: str, columns: int, command: str) -> str:
    before, mark, typed = _held(line, command).partition(TO_TYPE)
    lines = textwrap.wrap(
        unbroken(before, HELD) + (mark + typed).replace(" ", HELD),
        columns,
        subsequent_indent=" " * _hang(line, columns),
        break_long_words=False,
        break_on_hyphens=False,
        replace_whitespace=False,
    )
    return "\n".join(one.rstrip() for one in lines).replace(HELD, " ")


def _hang(line: str, columns: int) -> int:
    """Where a line goes on: under the last of its columns, else under its own beginning; messages two in."""
    most = columns // 2 + 10
    gaps = [gap.end() for gap in COLUMN.finditer(line) if gap.end() <= most]
    beginning = BEGINNING.match(line)
    return gaps[-1] if gaps else (beginning.end() if beginning else 0) or 2
