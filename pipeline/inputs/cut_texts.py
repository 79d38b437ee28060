"""What season and station files read as without a fault, and not as it was most likely meant, line by line.

`title: Autumn round #2` is read as `Autumn round`, for in YAML a # after a blank begins a comment; one that was meant
has a blank behind its # or stands apart. `height_m: 1.200` is read as 1.2 m, and in many countries means 1200 m.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pipeline.inputs.faults import InputFaults
from pipeline.inputs.line_scan import TEXTS
from pipeline.inputs.reading import folder_files
from pipeline.inputs.yaml_tree import read_bytes

KEYS = "|".join(TEXTS)
CUT = re.compile(rf"^[ ]*(?:- )?({KEYS}):[ ]+(?!['\"#])((?:[^#\n]|(?<=\S)#)*?\S) (#\S.*?)[ \t\r]*$")
# A text that begins with a #: all of it is read as a comment.
GONE = re.compile(rf"^[ ]*(?:- )?({KEYS}):[ ]+(#\S.*?)[ \t\r]*$")
# Figures that nobody writes to the millimetre or milliwatt: a point that parts thousands, as in many countries.
THOUSANDS = re.compile(r"^[^#]*?\b(height_m|power_w):[ ]+[\"']?([1-9])\.(\d{3})(?![\d.])")
LARGEST_READ = {"height_m": 6500, "power_w": 5000}


@dataclass(frozen=True)
class DoubtfulPoint:
    """One figure, as it is read and as it may have been meant."""

    file: str
    line: int
    key: str
    written: str

    def __str__(self) -> str:
        whole = self.written.replace(".", "")
        return (
            f"{self.file}, line {self.line}: {self.key} {self.written} is read as {float(self.written):g}, for a point "
            f"parts decimals; if {whole} is meant write {self.key}: {whole}"
        )


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
        is_read = f"read as '{self.read}'" if self.read else "empty"
        return (
            f"{self.file}, line {self.line}: {self.key} is {is_read}, for a # after a blank begins a "
            f'comment; if it belongs to the text write {self.key}: "{whole}"'
        )


def cut_texts(folder: Path) -> list[CutText]:
    """Texts that a # cuts off, of all files of a folder."""
    found = []
    for file, number, line in lines_of(folder):
        if cut := CUT.match(line):
            found.append(CutText(file, number, cut[1], cut[2], f"{cut[2]} {cut[3]}"))
        if gone := GONE.match(line):
            found.append(CutText(file, number, gone[1], "", gone[2]))
    return found


def doubtful_points(folder: Path) -> list[DoubtfulPoint]:
    """Heights and powers whose point may part thousands, of all files of a folder."""
    found = []
    for file, number, line in lines_of(folder):
        point = THOUSANDS.match(line)
        if point and int(point[2] + point[3]) <= LARGEST_READ[point[1]]:
            found.append(DoubtfulPoint(file, number, point[1], f"{point[2]}.{point[3]}"))
    return found


def lines_of(folder: Path) -> Iterator[tuple[str, int, str]]:
    """Every line of every file of a folder that can be read, with the file's name and its number."""
    for path in folder_files(folder):
        try:
            text = read_bytes(path).decode("utf-8", "replace")
        except InputFaults:
            continue
        for number, line in enumerate(text.splitlines(), 1):
            yield path.name, number, line
