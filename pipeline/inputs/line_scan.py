"""One page of YAML line by line, before it is parsed: keys and values, comments, what stands in quotes or brackets.

A page holds its lines as they are put right, and one fault a line, the first that is found.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cache, lru_cache

from pipeline.inputs import keys_said

# Stands in a message for the line as it should be.
RIGHT = "{right}"
KEY = r"[A-Za-z0-9_](?:[\w.]*\w)?"
LEAD = r"(\s*(?:-\s+)?)"
PAIR = re.compile(rf"{LEAD}[\"']?({KEY}(?: [\w.]+)?)[\"']?\s*:(?:\s+(.*))?$")
# Up to where a value begins: behind the dash of a list, and behind a key and its colon.
TO_VALUE = re.compile(rf"\s*(?:-\s+)*(?:[\"']?{KEY}(?: [\w.]+)?[\"']?\s*:(?:\s+|$))?")
# A point of a long survey, or another short entry in which nothing can be amiss: most lines of most files.
SOUND = re.compile(r"\s*- \{[a-z_]+: -?[\d.]+(?:, [a-z_]+: -?[\d.]+)*\}")
# What may begin a comment, a quote or a bracket.
MARKS = re.compile(r"[#\"'\[\]{}]")
WORD_LISTS = ("days", "modes", "months", "nights", "unavailable_dates", "partners", "operators", "checklist")
# Keys that hold text of any kind.
TEXTS = ("name", "operator", "telephone", "meet", "title", "greeting", "closing")
GROUP_LISTS = ("horizon", "landmarks", "available", "partners", "operators")


@dataclass(frozen=True)
class Shape:
    """One fault of a line. `{right}` in the message stands for the line as it should be."""

    line: int
    message: str


@dataclass
class Page:
    """The lines as they are put right, and the faults so far: one a line, the first."""

    lines: list[str]
    found: dict[int, Shape] = field(default_factory=dict)
    inside: list[bool] = field(default_factory=list)

    def tell(self, at: int, message: str, right: str | None = None) -> None:
        """A fault of the line with an index, and that line put right."""
        self.found.setdefault(at, Shape(at + 1, message))
        if right is not None:
            self.lines[at] = right


# A file is gone through several times, and its explanations stand in every file alike.
@lru_cache(maxsize=8192)
def blanked(line: str, depth: int = 0, quote: str = "") -> tuple[str, int, str]:
    """The line less its comment, with what stands in quotes as `x`; the brackets and the quote that stay open.

    `depth` and `quote` are those that were open before it. In a plain text outside of brackets both are mere letters.
    """
    if not quote and (not MARKS.search(line) or (not depth and SOUND.fullmatch(line))):
        return line, depth, quote
    text: list[str] = []
    found = TO_VALUE.match(line)
    start = found.end() if found and not depth and not quote else 0
    at = 0
    while at < len(line):
        char, two = line[at], line[at : at + 2]
        if quote and (two == "''" == quote * 2 or (quote == '"' and char == "\\" and len(two) == 2)):
            text += ["x", "x"]
            at += 2
            continue
        if quote:
            text.append('"' if char == quote else "x")
            quote = "" if char == quote else quote
        elif char == "#" and (at == 0 or line[at - 1] in " \t"):
            break
        elif char in "\"'" and ((at == start and not depth) or (depth and opens_in_brackets(line, at))):
            quote = char
            text.append('"')
        else:
            opens = char in "[{" and (depth or at == start)
            depth += 1 if opens else -1 if char in "]}" and depth else 0
            text.append(char)
        at += 1
    return "".join(text), depth, quote


def opens_in_brackets(line: str, at: int) -> bool:
    """Whether a quotation mark begins a text there: behind a bracket, a comma or a colon."""
    before = line[:at].rstrip()
    return not before or before[-1] in "[{," or (before[-1] == ":" and len(before) < at)


def without_comment(line: str, depth: int = 0) -> str:
    """The line less its comment: `#` at its beginning or after a blank, outside quotes."""
    return line[: len(blanked(line, depth)[0])].rstrip()


def note_insides(page: Page) -> None:
    """Which lines begin inside brackets, inside quotes, or inside a text that a bar or a fold mark opened."""
    page.inside = []
    depth, block, quote = 0, -1, ""
    opened_at = 0
    for line in page.lines:
        body = without_comment(line)
        if block >= 0 and (not body.strip() or indented(body) > block):
            page.inside.append(True)
            continue
        block = -1
        if (depth or quote) and PAIR.match(body) and indented(body) <= opened_at and body.strip():
            depth, quote = 0, ""  # what was opened above is left open: told by itself
        inside = bool(depth or quote)
        page.inside.append(inside)
        text, depth, quote = blanked(line, depth, quote)
        opened_at = opened_at if inside else indented(body)
        block = indented(body) if not inside and re.search(r"(?::|^\s*-)\s+[|>][+-]?\d?$", text.rstrip()) else -1


def indented(line: str) -> int:
    """How many spaces a line begins with."""
    return len(line) - len(line.lstrip(" "))


def goes_on(page: Page, at: int) -> bool:
    """Whether a line lies deeper than a complete one above it, and may be the rest of its text."""
    above = next((line for line in reversed(page.lines[:at]) if without_comment(line).strip()), "")
    pair = PAIR.match(without_comment(above))
    return bool(pair and pair[3] and indented(page.lines[at]) > indented(above))


@cache
def known() -> frozenset[str]:
    """Every key of a station or season file, and the bands."""
    from pipeline.inputs.bands import band_table
    from pipeline.inputs.model import Season, Station

    return frozenset({*keys_said.places(Station), *keys_said.places(Season), *band_table()})


def is_key(word: str) -> bool:
    """Whether a word is a key, letter case aside."""
    return word.casefold() in known()
