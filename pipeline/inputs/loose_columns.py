"""A list of points or hours that was written column by column, as it stands in a spreadsheet, read entry by entry.

`azimuth_deg: [0, 80]` above `elevation_deg: [3.0, 1.5]` are two points; each column holds one value an entry.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from pipeline.inputs.line_scan import GROUP_LISTS, TEXTS
from pipeline.inputs.loose_names import names_below, resolved
from pipeline.inputs.loose_reading import HEAD, WORDS, Leaf, Reading, plain_body

COLUMN = re.compile(r"\s*(?:-\s+)?[\"']?([\w. ]+?)[\"']?\s*[:=]\s*\[?([^\[\]{}]+)\]?\s*,?\s*")
IN_ONE_LINE = re.compile(r"[\"']?([\w. ]+?)[\"']?\s*[:=]\s*\[([^\[\]{}]+)\]")
FEWEST = 2


def read_columns(root: Any, key: str, lines: Mapping[int, str]) -> Reading | None:
    """The entries of a group whose keys hold a row of values each, all of one length; None where they do not."""
    bodies = {number: plain_body(line) for number, line in lines.items() if plain_body(line).strip()}
    head = HEAD.match(bodies[min(bodies)]) if bodies else None
    if key not in GROUP_LISTS or head is None:
        return None
    first = min(bodies)
    bodies[first] = bodies[first][head.end() :]
    columns: list[tuple[int, str, str]] = []
    for number, body in bodies.items():
        found = IN_ONE_LINE.findall(body) if number == first or body.count("[") > 1 else COLUMN.fullmatch(body)
        if body.strip() and not found:
            return None
        pairs = found if isinstance(found, list) else [found.groups()] if found else []
        columns += [(number, word, values) for word, values in pairs]
    names = names_below(root, key)
    reading = Reading(key, headings={(key,): first})
    cells = {resolved(word, names): [part.strip("\"' ") for part in apart(values)] for _, word, values in columns}
    lengths = {len(values) for values in cells.values()}
    if len(cells) < FEWEST or len(cells) < len(columns) or len(lengths) != 1 or min(lengths) < FEWEST:
        return None
    if not all(name and name not in (*TEXTS, *WORDS) and len(names[name]) == 1 for name in cells):
        return None
    at = columns[0][0]
    for entry in range(min(lengths)):
        for name, values in cells.items():
            reading.leaves.append(Leaf(at, (key, entry, str(name)), values[entry], ""))
    reading.renamed = {word: str(resolved(word, names)) for _, word, _ in columns if resolved(word, names) != word}
    return reading


def apart(values: str) -> list[str]:
    """The values of a row, parted by semicolons or bars, else by commas, else by blanks."""
    for mark in (r";|\|", r",(?=\s)|,(?=\S*,)|,"):
        if re.search(mark, values):
            return [part for part in re.split(mark, values) if part.strip()]
    return values.split()
