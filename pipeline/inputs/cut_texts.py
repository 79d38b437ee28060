"""Texts of season and station files that a # after a blank cuts off: in YAML it begins a comment.

`title: Autumn round #2` is read as `Autumn round`. A comment that was meant has a blank behind its # or stands apart.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from pipeline.inputs.faults import InputFaults
from pipeline.inputs.reading import folder_files
from pipeline.inputs.yaml_tree import read_bytes

KEYS = "title|name|operator|telephone|meet|greeting|closing"
CUT = re.compile(rf"^[ ]*(?:- )?({KEYS}):[ ]+(?!['\"#])((?:[^#\n]|(?<=\S)#)*?\S) (#\S.*?)[ \t\r]*$")


@dataclass(frozen=True)
class CutText:
    """One text, as it is read and as it was most likely meant."""

    file: str
    line: int
    key: str
    read: str
    meant: str

    def __str__(self) -> str:
        whole = self.meant.replace('"', "'")
        return (
            f"{self.file}, line {self.line}: {self.key} is read as '{self.read}', for a # after a blank begins a "
            f'comment; if it belongs to the text write {self.key}: "{whole}"'
        )


def cut_texts(folder: Path) -> list[CutText]:
    """Those of all files of a folder."""
    found = []
    for path in folder_files(folder):
        try:
            text = read_bytes(path).decode("utf-8", "replace")
        except InputFaults:
            continue
        for number, line in enumerate(text.splitlines(), 1):
            if cut := CUT.match(line):
                found.append(CutText(path.name, number, cut[1], cut[2], f"{cut[2]} {cut[3]}"))
    return found
