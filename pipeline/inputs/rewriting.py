"""A group as its keys and values make it, laid out again line by line in the manner of its author.

Each line of the group keeps what stood in it where that can be, so that only lines with a slip change.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pipeline.inputs.line_scan import TEXTS, indented, without_comment
from pipeline.inputs.loose_reading import Leaf, Reading, value_of

Place = tuple[str | int, ...]
# A text that means itself without quotes, in braces as well.
PLAIN = re.compile(r"[^\W_](?:[\w.+/@()' -]|:(?!\s|$))*|[-+]?[\d.]+|")


@dataclass
class Layout:
    """Lines made of a reading: by the number of the line that each takes the place of, several where it takes more."""

    reading: Reading
    original: Mapping[int, str]
    made: dict[int, list[str]] = field(default_factory=dict)

    def put(self, line: int, text: str) -> None:
        """One more line in the place of another."""
        self.made.setdefault(line, []).append(text)

    def below(self, place: Place) -> list[Leaf]:
        """The leaves of a group."""
        return [leaf for leaf in self.reading.leaves if leaf.place[: len(place)] == place]

    def children(self, place: Place) -> list[Place]:
        """The places right below one, in the order in which they were written."""
        return list(dict.fromkeys(leaf.place[: len(place) + 1] for leaf in self.below(place)))

    def head(self, place: Place) -> int:
        """The line in which a group begins."""
        return self.reading.headings.get(place, min(leaf.line for leaf in self.below(place)))

    def columns(self, lines: list[int], above: int) -> int:
        """The column of what stands below a group whose heading begins at `above`: the author's, or two further in."""
        mine = Counter(indented(self.original[line]) for line in lines)
        best = max(mine, key=lambda column: (mine[column], column > above))
        return best if best > above or self.dashed(lines, best) else above + 2

    def dashed(self, lines: list[int], column: int) -> bool:
        """Whether entries begin in a column with their dashes, where the heading's own column is allowed."""
        return all(
            self.original[line].lstrip().startswith("-") for line in lines if indented(self.original[line]) == column
        )

    def lay(self, place: Place, column: int) -> None:
        """A group from its heading on."""
        lines = {self.head(place)} | {leaf.line for leaf in self.below(place)}
        head, name = self.head(place), place[-1]
        children = self.children(place)
        further = self.columns([self.head(child) for child in children if self.head(child) != head] or [head], column)
        shared = any(leaf.line == head for leaf in self.below(place))
        if len(lines) == 1 or shared:
            self.put(head, f"{' ' * column}{name}: {flow(self.value(place))}")
            return
        self.put(head, f"{' ' * column}{name}:")
        for child in children:
            self.lay_child(child, further)

    def lay_child(self, place: Place, column: int) -> None:
        """What stands below a group: a value, an entry of a list or a group of its own."""
        leaves = self.below(place)
        if isinstance(place[-1], int):
            self.lay_entry(place, column)
        elif len(leaves) == 1 and leaves[0].place == place:
            self.put(leaves[0].line, f"{' ' * column}{place[-1]}: {flow(value_of(leaves[0]), place)}")
        else:
            self.lay(place, column)

    def lay_entry(self, place: Place, column: int) -> None:
        """One entry of a list: in braces where it stands in one line or has no dash, else a key a line."""
        leaves = self.below(place)
        lines = [leaf.line for leaf in leaves]
        if leaves[0].place == place:
            self.put(lines[0], f"{' ' * column}- {flow(leaves[0].value, place)}")
            return
        dashed = any(self.original[line].lstrip().startswith("-") for line in lines)
        if len(set(lines)) == 1 or not dashed:
            self.put(lines[0], f"{' ' * column}- {flow(self.value(place))}")
            return
        for number, leaf in enumerate(leaves):
            mark = "- " if number == 0 else "  "
            self.put(leaf.line, f"{' ' * column}{mark}{leaf.place[-1]}: {flow(value_of(leaf), leaf.place)}")

    def value(self, place: Place) -> Any:
        """What stands at a place, as the reader takes it."""
        data = {self.reading.key: self.reading.data()}
        for step in place:
            data = data[step]  # type: ignore[index]
        return data


def flow(value: Any, place: Place = ()) -> str:
    """A value in one line: braces, brackets, and quotes where they are needed."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {flow(entry, (key,))}" for key, entry in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(flow(entry) for entry in value) + "]"
    text = str(value)
    sure = PLAIN.fullmatch(text) or (place and place[-1] not in TEXTS and not re.search(r"[\[\]{},#\"]|: ", text))
    return text if sure else '"' + text.replace("\\", "/").replace('"', "'") + '"'


def laid_out(reading: Reading, original: Mapping[int, str]) -> dict[int, list[str]]:
    """The lines of a group as they should be, by the numbers of those that they take the place of."""
    layout = Layout(reading, original)
    value = reading.data()
    head = reading.headings[(reading.key,)]
    if isinstance(value, (str, list)) and not reading.leaves[0].place[1:]:
        layout.put(head, f"{reading.key}: {flow(value, (reading.key,))}")
    else:
        layout.lay((reading.key,), 0)
    return layout.made


def bare(line: str) -> str:
    """A line without its comment and without the quotes and blanks that say nothing."""
    body = re.sub(r"\"([^\"\\]*)\"|'([^'\\]*)'", lambda found: found[1] or found[2] or "", without_comment(line))
    return " " * indented(body) + re.sub(r"(?<=[\[{,]) +| +(?=[\]}])| +(?= )", "", body.strip())


def changed(made: Mapping[int, list[str]], original: Mapping[int, str]) -> dict[int, list[str]]:
    """Those lines that differ from what stood there."""
    return {
        line: made.get(line, [])
        for line, text in original.items()
        if [bare(text)] != [bare(one) for one in made.get(line, [""])]
        and (without_comment(text).strip() or made.get(line))
    }
