"""What a sentence of advice says to write, and stretches of a value tried by the reader where advice says nothing.

A value that no rule knows is tried with its words taken off one by one; what the reader takes is proposed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from pipeline.inputs.odd_characters import plain

CONCRETE = re.compile(
    r"write (?!for instance|how|the year|\{arrive)|did you mean|leave it out|keep one|take (?:it out|the)|belongs|"
    r"if these are"
)
PROPOSED = re.compile(
    r"(?:write(?! (?:the|how|one|those|it|that|them)\b)|did you mean|alone:) "
    r"'?(\[.*?\]|\{.*?\}|[-\w.:+/@]*\w)'?(?=[.;,?:]?(?:\s|$))"
)
MOST_TRIED, LONGEST = 16, 80


def right_in(message: str) -> str:
    """The one value that a message says to write; empty where it names none or two."""
    advice = message.rsplit("; ", 1)[-1] if "did you mean" in message else message
    if re.search(r"(?<!means) if | or | for east| for instance|\.\.\.|with your", advice):
        return ""
    found = PROPOSED.search(advice)
    return found[1] if found else ""


def stretches_of(text: str) -> Iterator[str]:
    """Parts of a value that may be all that was meant: less brackets, words at its ends, other halves."""
    said = plain(text)
    yield re.sub(r"\s*[(\[{][^)\]}]*[)\]}]\s*", " ", said).strip()
    yield said.strip("\"'`.,;:!?*<>()[]{}~ ")
    words = said.split()
    for first, last in ((1, 0), (0, 1), (1, 1), (2, 0), (0, 2), (3, 0), (0, 3)):
        if len(words) > first + last:
            yield " ".join(words[first : len(words) - last])
    figures = re.search(r"(?<![^\W\d_])(?:(?<![^\W\d])[-+]|[.,])?\d(?:.*\d)?", said)
    if figures:
        yield said[figures.start() :]
        yield figures[0]
    halves = re.split(r"\s*[/|;+&]\s*|,\s+|\s+[-\u2013]\s+|\s+(?:or|oder|ou|o|und|and)\s+", said)
    for parts in (halves, re.split(r"(?<=\w)[-_\s](?=\w)", said)):
        yield from (part for part in parts if len(parts) > 1)


def tried(text: str, taken: Callable[[str], str]) -> str | None:
    """Advice from the stretches of a text; `taken` gives what to write for one, empty for none. None where all fail."""
    if len(text) > LONGEST or "\n" in text or re.fullmatch(r"[+-]?[\d.]+(?:e[+-]?\d+)?", text, re.IGNORECASE):
        return None
    if not re.search(r"[^\W\d_]|[^\w\s.:-]|\s", plain(text)[1:]):
        return None
    found: list[str] = []
    read: list[str] = []
    for part in sorted(list(dict.fromkeys(stretches_of(text)))[:MOST_TRIED], key=len, reverse=True):
        if not part or part == text or any(part in whole for whole in read):
            continue
        right = taken(part)
        if right:
            read.append(part)
            found += [right] if right not in found else []
    if len(found) == 1:
        return f"if {read[0]} is meant, write {found[0]}."
    if len(found) == 2:
        return f"write {found[0]} or {found[1]}, by which is meant."
    return None
