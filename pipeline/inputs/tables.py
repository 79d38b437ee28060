"""Tables as spreadsheets of all countries save them, to rows of cells: encodings, delimiters, decimal commas.

What had to be taken another way than as UTF-8 with commas is noted; what cannot be a table is refused with the clicks
that make one.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass, field

from pipeline.inputs import bounds
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.odd_characters import INVISIBLES, LINE_BREAK, plain
from pipeline.inputs.yaml_tree import AS_CSV, FORBIDDEN, WORKBOOKS, forbidden_name, printable, utf8

DELIMITERS = (",", ";", "\t", "|")


@dataclass
class Table:
    """The rows in which anything stands, each with its line; `notes` say how the file was taken."""

    rows: list[tuple[int, list[str]]]
    delimiter: str
    notes: list[str] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


def read_table(raw: bytes, file: str) -> Table:
    """The cells of a file. Raises InputFaults where it is no table at all; other faults are gathered in the table."""
    text, notes, faults = table_text(raw, file)
    hint = re.match(r"\s*sep=(.)[ \t]*(?:\r\n|\r|\n)", text)
    delimiter = hint[1] if hint else delimiter_of(text)
    if delimiter not in text and (spaced := in_columns(text)):
        text, delimiter = spaced, ";"
        notes.append(f"{file} has blanks between its columns and was read as such; a semicolon is surer.")
    skipped = hint[0].count("\n") or 1 if hint else 0
    reader = csv.reader(io.StringIO(text[hint.end() if hint else 0 :], newline=""), delimiter=delimiter, strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            trimmed = [INVISIBLES.sub("", cell).strip() for cell in cells]
            if delimiter == "|":  # a drawn table has bars at its edges and a line below its head
                trimmed = trimmed[1:] if trimmed and not trimmed[0] else trimmed
                trimmed = [] if all(re.fullmatch(r"[-:=+ ]*", cell) for cell in trimmed) else trimmed
            while trimmed and not trimmed[-1]:
                trimmed.pop()
            if trimmed:
                rows.append((reader.line_num + skipped, trimmed))
    except csv.Error:
        message = "the row is no CSV; a quotation mark may be left open."
        faults.append(Fault(file, reader.line_num + skipped, "", message))
    return Table(rows, delimiter, notes, faults)


def table_text(raw: bytes, file: str) -> tuple[str, list[str], list[Fault]]:
    """The text, notes of its encoding, and faults of single characters."""
    if len(raw) > bounds.TEXT.largest_bytes:
        raise InputFaults([Fault(file, None, "", bounds.TEXT.words())])
    if raw.startswith(WORKBOOKS):
        raise InputFaults([Fault(file, None, "", AS_CSV)])
    notes: list[str] = []
    text = as_utf_16(raw)
    if text is not None:
        notes.append(f"{file} is UTF-16 and was read as such; UTF-8 is the usual encoding.")
    elif utf8(raw):
        text = raw.decode("utf-8-sig")
    else:
        text = raw.decode("cp1252", "replace")
        odd = next(line for line in LINE_BREAK.split(text) if not line.isascii())
        notes.append(f"{file} is not UTF-8 and was read as Windows-1252 (Latin-1): is `{printable(odd, 40)}` right?")
    if "\x00" in text:
        raise InputFaults(
            [Fault(file, None, "", "the file is not plain text; save it as CSV with the encoding UTF-8.")]
        )
    if not text.strip():
        raise InputFaults([Fault(file, None, "", "the file is empty; fill it in or move it away.")])
    faults = [
        Fault(file, number, "", message)
        for number, line in enumerate(LINE_BREAK.split(text), 1)
        if (message := odd_in(line))
    ]
    return FORBIDDEN.sub("", text).replace("\ufffd", "?"), notes, faults[:10]


def as_utf_16(raw: bytes) -> str | None:
    """The text of UTF-16, with its mark or, where every other byte is none, without; None where it is none."""
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding = "utf-16"
    elif len(raw) >= 8 and raw[1:8:2] == b"\x00" * 4:
        encoding = "utf-16-le"
    else:
        return None
    try:
        return raw.decode(encoding)
    except UnicodeDecodeError:
        return None


def odd_in(line: str) -> str:
    """What is wrong with the characters of a line; empty where nothing is."""
    if "\ufffd" in line:
        shown = printable(line.replace("\ufffd", "?"), 40)
        return f"a letter cannot be read in `{shown}`; save the table as CSV with the encoding UTF-8."
    return (
        f"the line holds the control character {forbidden_name(line)}; take it out." if FORBIDDEN.search(line) else ""
    )


def in_columns(text: str) -> str:
    """A text whose columns two blanks or more part, with semicolons; empty where its first lines differ in number."""
    lines = [line for line in LINE_BREAK.split(text) if line.strip()]
    counts = {len(re.split(r" {2,}", line.strip())) for line in lines[:5]}
    if len(counts) != 1 or counts == {1} or len(lines) < 2:
        return ""
    return "\n".join(re.sub(r" {2,}", ";", line.strip()) for line in LINE_BREAK.split(text))


def delimiter_of(text: str) -> str:
    """The mark that parts the cells: the one that the first lines hold oftenest, outside quotes."""
    head = [line for line in LINE_BREAK.split(text) if line.strip()][:5]
    bare = [re.sub(r'"[^"]*"', "", line) for line in head]
    counts = {mark: bare[0].count(mark) if bare else 0 for mark in DELIMITERS}
    if not any(counts.values()):
        counts = {mark: sum(line.count(mark) for line in bare) for mark in DELIMITERS}
    return max(DELIMITERS, key=lambda mark: counts[mark])


def with_decimal_point(cell: str, delimiter: str) -> str:
    """A number with a decimal comma, where commas do not part the cells; any other cell as it is."""
    bare = plain(cell)
    return bare.replace(",", ".") if delimiter != "," and re.fullmatch(r"[+-]?\d+,\d+", bare) else cell
