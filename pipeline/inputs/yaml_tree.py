"""YAML text to plain dictionaries, lists and strings, with the line of every key.

Only strings come out: plain YAML loading turns `18:00` into 1080 and `NO` into false. The tree is built from the
parser's events with a stack of our own, so that depth, aliases, tags and duplicate keys are met before they can harm.
"""

from __future__ import annotations

import dataclasses
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from pipeline.inputs import bounds
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.odd_characters import LINE_BREAK, NAMES

Key = str | int
Place = tuple[Key, ...]

# The contract nests four deep (horizon, a point, a value); the rest is room for mistakes.
DEEPEST = 12
# What is told of a key that stands twice.
LONGEST_BOTH = 120
AGAIN = "stands here again"
ABSENT = {"", "~", "null", "Null", "NULL"}
# Control characters, halves of surrogate pairs, line separators, marks that turn the direction of writing, and what
# YAML itself refuses. Names go into file names and mail headers.
FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ufeff\ufffe\uffff\ud800-\udfff]")
WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
AS_CSV = (
    "the file is a workbook, not a CSV table; open it in the spreadsheet, choose File, then Save As (or Download), "
    "take the file type CSV with the encoding UTF-8, and give the file that comes of it."
)
# What files of word processors and spreadsheets begin with.
DOCUMENTS = {
    b"PK\x03\x04": "a document of a word processor or spreadsheet",
    b"\xd0\xcf\x11\xe0": "a document of a word processor or spreadsheet",
    b"{\\rtf": "a document of a word processor (RTF)",
    b"%PDF": "a PDF",
    b"<!DOCTYPE": "a page of the web",
    b"<html": "a page of the web",
}
# A line that holds a tab outside quotes and comments.
TAB = re.compile(r"[^#\"'\t]*\t")


@dataclass(frozen=True)
class Tree:
    """One file's content. `lines` has the 1-based line of each place, `key_lines` that of a column's name in a CSV."""

    file: str
    data: dict[str, Any]
    lines: dict[Place, int]
    key_lines: dict[Place, int] = field(default_factory=dict)
    folder: Path = Path()

    def line(self, place: Place) -> int | None:
        """The line of a place, or of the nearest thing around it."""
        while place and place not in self.lines:
            place = place[:-1]
        return self.lines.get(place)

    def fault(self, place: Place, message: str) -> Fault:
        """A whole sentence about a place."""
        return Fault(self.file, self.line(place), dotted(place), message)


def dotted(place: Place) -> str:
    """`bands.3cm.power_w`; entries of a list count from 1: `horizon.2.azimuth_deg`."""
    return ".".join(str(key + 1) if isinstance(key, int) else key for key in place)


def read_bytes(path: Path, size: bounds.Size = bounds.TEXT, name: str = "") -> bytes:
    """The file's bytes; InputFaults where it is missing, no file, unreadable or too large. `name` is told of it."""
    name = name or path.name
    try:
        if not path.exists():
            raise InputFaults([Fault(name, None, "", f"there is no file {printable(str(path))}; check its name.")])
        if not path.is_file():
            raise InputFaults([Fault(name, None, "", "this is no file; a text file is meant.")])
        return size.read(path)
    except bounds.TooMuch as much:
        raise InputFaults([Fault(name, None, "", str(much))]) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name cannot be used"
        raise InputFaults([Fault(name, None, "", f"the file cannot be read ({reason.lower()}).")]) from None


def decode(raw: bytes, file: str, size: bounds.Size = bounds.TEXT) -> str:
    """Text of a UTF-8 file; InputFaults where it is empty, too large, binary or in another encoding."""
    text, faults = decoded(raw, file, size)
    if faults:
        raise InputFaults(faults)
    return text


def decoded(raw: bytes, file: str, size: bounds.Size = bounds.TEXT) -> tuple[str, list[Fault]]:
    """The text with what is wrong about its characters, taken as far as it can be read.

    Raises InputFaults where it is empty, too large or no text at all.
    """
    if len(raw) > size.largest_bytes:
        raise InputFaults([Fault(file, None, "", size.words())])
    document = next((name for start, name in DOCUMENTS.items() if raw.startswith(start)), None)
    if document:
        message = f"the file is not plain text but {document}; save it as plain text (UTF-8), with the ending .yaml."
        table = not file.casefold().endswith((".yaml", ".yml")) and raw.startswith(WORKBOOKS)
        raise InputFaults([Fault(file, None, "", AS_CSV if table else message)])
    if b"\x00" in raw:
        raise InputFaults([Fault(file, None, "", "the file is not plain text; save it as UTF-8 text.")])
    faults = []
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", "replace")
        for number, line in enumerate(LINE_BREAK.split(raw.decode("latin-1")), 1):
            if not utf8(line.encode("latin-1")):
                shown = printable(line.encode("latin-1").decode("cp1252", "replace"), 40)
                message = "this line holds a letter that is not UTF-8; save the file with the encoding UTF-8"
                faults.append(Fault(file, number, "", f"{message} (it reads as `{shown}` then)."))
    if not text.strip():
        raise InputFaults([Fault(file, None, "", "the file is empty; fill it in or move it away.")])
    if faults or not FORBIDDEN.search(text):
        return text, faults[:10]
    odd = [
        Fault(file, number, "", f"the line holds the control character {forbidden_name(line)}; take it out.")
        for number, line in enumerate(LINE_BREAK.split(text), 1)
        if FORBIDDEN.search(line)
    ]
    return FORBIDDEN.sub("", text), odd[:10]


def utf8(raw: bytes) -> bool:
    """Whether bytes are UTF-8."""
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def forbidden_name(text: str) -> str:
    """Code point of the first forbidden character, as U+0007; empty where there is none."""
    found = FORBIDDEN.search(text)
    if not found:
        return ""
    name = f" ({NAMES[found.group()]})" if found.group() in NAMES else ""
    return f"U+{ord(found.group()):04X}{name}"


def printable(text: str, longest: int = 60) -> str:
    """The text as a message may show it: one line, no control characters, shortened."""
    text = FORBIDDEN.sub("?", LINE_BREAK.sub(" ", text)).strip()
    return text if len(text) <= longest else text[: longest - 3] + "..."


def line_of(event: yaml.Event) -> int:
    """The 1-based line on which an event begins."""
    return event.start_mark.line + 1 if event.start_mark else 1


def load_tree(raw: bytes, file: str, folder: Path | None = None, size: bounds.Size = bounds.TEXT) -> Tree:
    """Parse one file; InputFaults where it is no mapping of keys in plain YAML."""
    text = decode(raw, file, size)
    try:
        if any(TAB.match(line) and line.strip() for line in LINE_BREAK.split(text)):
            raise InputFaults([Fault(file, None, "", "the file holds tabs; YAML wants spaces.")])
        return tree_of(text, file, folder, size)
    except InputFaults as found:
        # The keys that tell a slip's line by its shape stand in rooms that build upon this one.
        from pipeline.inputs.mending import told_by_shape

        raise InputFaults(told_by_shape(text, file, found.faults)) from None


def tree_of(text: str, file: str, folder: Path | None = None, size: bounds.Size = bounds.TEXT) -> Tree:
    """The tree of a text; InputFaults with the parser's complaint in plain words."""
    try:
        # The parser in C is fifteen times quicker; where it finds a fault the one in Python tells it better.
        builder = built_by(getattr(yaml, "CBaseLoader", yaml.BaseLoader), text, file, size.most_nodes)
    except yaml.YAMLError:
        builder = built_in_python(text, file, size.most_nodes)
    builder.tell_twice()
    if builder.faults:
        raise InputFaults(up_to_a_second_station(builder.faults, text))
    if not isinstance(builder.root, dict):
        shown = "a list" if isinstance(builder.root, list) else "a single value" if builder.root else "nothing"
        message = f"the file holds {shown}; lines such as `call: QM7TOR` are meant."
        raise InputFaults([Fault(file, 1, "", message)])
    builder.lines[()] = 1
    return Tree(file, builder.root, builder.lines, {}, folder or Path())


def up_to_a_second_station(faults: list[Fault], text: str) -> list[Fault]:
    """The faults, where `call` stands twice those of its second station as one."""
    again = next((fault for fault in faults if fault.field == "call" and AGAIN in fault.message), None)
    if again is None or again.line is None:
        return faults
    call = LINE_BREAK.split(text)[again.line - 1].partition(":")[2].partition("#")[0].strip(" \t'\"")
    name = re.sub(r"\W+", "-", call.casefold()).strip("-")
    own = f"a file of its own, {name}.yaml" if name else "a file of its own"
    message = f"a second station{' ' if call else ''}{printable(call, 20)} begins here, and a file holds one; "
    told = dataclasses.replace(again, message=f"{message}put its lines, from here on, into {own}.")
    return [fault for fault in faults if (fault.line or 0) < again.line] + [told]


def built_by(loader: Any, text: str, file: str, most_nodes: int) -> Builder:
    """The tree by one of the parsers."""
    builder = Builder(file, most_nodes)
    for event in yaml.parse(text, Loader=loader):
        builder.take(event)
    return builder


def built_in_python(text: str, file: str, most_nodes: int) -> Builder:
    """The tree by the parser in Python; InputFaults with its complaint in plain words."""
    try:
        return built_by(yaml.BaseLoader, text, file, most_nodes)
    except yaml.MarkedYAMLError as error:
        raise InputFaults([broken(error, file, text)]) from None
    except (yaml.YAMLError, ValueError, OverflowError):
        # An escape such as "\UFFFFFFFF" names a letter that does not exist and ends in a ValueError.
        message = "the file holds a character or escape that YAML does not know; write the letter itself."
        raise InputFaults([Fault(file, None, "", message)]) from None


class Builder:
    """Puts the parser's events together; `faults` gathers what can be told without stopping."""

    def __init__(self, file: str, most_nodes: int) -> None:
        self.file, self.most_nodes = file, most_nodes
        self.root: Any = None
        self.lines: dict[Place, int] = {}
        self.faults: list[Fault] = []
        # Keys that stand twice: what holds them, what they had first and in which line, and which fault tells of each.
        self.twice: list[tuple[Any, str, Any, int, int]] = []
        self.stack: list[tuple[dict[str, Any] | list[Any], Place]] = []
        self.key: str | None = None
        self.documents = 0
        self.nodes = 0

    def stop(self, event: yaml.Event, message: str) -> InputFaults:
        """The fault that ends the reading of this file."""
        return InputFaults([*self.faults, Fault(self.file, line_of(event), "", message)])

    def take(self, event: yaml.Event) -> None:
        """One event."""
        if isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                raise self.stop(event, "a second document begins here (---); one file holds one station or season.")
        elif isinstance(event, yaml.AliasEvent):
            raise self.stop(event, f"the alias *{printable(event.anchor or '')} is not taken; write the lines out.")
        elif isinstance(event, (yaml.ScalarEvent, yaml.CollectionStartEvent)):
            self.refuse_marks(event)
            self.take_node(event)
        elif isinstance(event, yaml.CollectionEndEvent):
            self.stack.pop()
            self.key = None

    def refuse_marks(self, event: yaml.ScalarEvent | yaml.CollectionStartEvent) -> None:
        """Anchors and tags have no use here, and a long row of them is how small files grow huge."""
        if event.anchor is not None:
            raise self.stop(event, f"the anchor &{printable(event.anchor)} is not taken; put text with & in quotes.")
        if event.tag is not None:
            raise self.stop(event, f"the tag {printable(event.tag)} is not taken; put text with ! in quotes.")

    def take_node(self, event: yaml.Event) -> None:
        """A scalar or the start of a mapping or list, as a key or as a value."""
        self.nodes += 1
        if self.nodes > self.most_nodes:
            advice = "put surveys into a CSV file."
            raise self.stop(event, f"the file holds more than {self.most_nodes} keys and values; {advice}")
        inside_mapping = bool(self.stack) and isinstance(self.stack[-1][0], dict)
        if inside_mapping and self.key is None:
            self.take_key(event)
            return
        if isinstance(event, yaml.ScalarEvent):
            self.place(self.scalar(event), event)
            return
        if len(self.stack) >= DEEPEST:
            raise self.stop(event, "this is nested too deeply; check the brackets and the indentation.")
        value: dict[str, Any] | list[Any] = {} if isinstance(event, yaml.MappingStartEvent) else []
        self.stack.append((value, self.place(value, event)))

    def tell_twice(self) -> None:
        """Ends the faults of keys that stand twice with what to write, now that both values are known."""
        for container, key, before, first, at in self.twice:
            fault, after = self.faults[at], container[key]
            if isinstance(before, list) and isinstance(after, list):
                words = [one for one in (*before, *after) if isinstance(one, str)]
                both = f"[{', '.join(dict.fromkeys(words))}]"
                shown = len(words) == len(before) + len(after) and len(both) < LONGEST_BOTH
                whole = f"write `{key}: {both}`, and take line {first} out"
                advice = whole if shown else "keep the entries of both below one"
            else:
                short = all(isinstance(one, str) and len(one) < LONGEST_BOTH // 4 for one in (before, after))
                told = f": {before or 'nothing'} there, {after or 'nothing'} here" if short else ""
                advice = "take this line out, it says the same" if before == after else f"keep one of them{told}"
            self.faults[at] = dataclasses.replace(fault, message=f"{fault.message}{advice}.")

    def take_key(self, event: yaml.Event) -> None:
        """The key of the next value."""
        if not isinstance(event, yaml.ScalarEvent):
            raise self.stop(event, "a list or mapping stands where a key is meant; check the brackets and colons.")
        key, line = event.value.strip(), line_of(event)
        container, place = self.stack[-1]
        here = (*place, printable(key))
        if len(container) >= bounds.MOST_KEYS:
            raise self.stop(event, f"more than {bounds.MOST_KEYS} keys stand together; check the indentation.")
        if FORBIDDEN.search(key) or LINE_BREAK.search(key) or not key:
            self.faults.append(Fault(self.file, line, dotted(here), "the key is empty or holds a control character."))
        elif key == "<<":
            message = "the merge key << is not taken; write the lines out."
            self.faults.append(Fault(self.file, line, dotted(here), message))
        elif key in container:
            first = self.lines[(*place, key)]
            self.twice.append((container, key, dict(container)[key], first, len(self.faults)))
            message = f"the key '{dotted(here)}' {AGAIN}, first in line {first}; "
            self.faults.append(Fault(self.file, line, dotted(here), message))
        self.key = key
        self.lines.setdefault((*place, key), line)

    def place(self, value: Any, event: yaml.Event) -> Place:
        """Put a value where it belongs and return its place."""
        if not self.stack:
            self.root = value
            return ()
        container, place = self.stack[-1]
        if isinstance(container, dict):
            key, self.key = self.key or "", None
            container[key] = value
            return (*place, key)
        container.append(value)
        here = (*place, len(container) - 1)
        self.lines[here] = line_of(event)
        return here

    def scalar(self, event: yaml.ScalarEvent) -> str:
        """The text; an empty or null value reads as empty text, which stands for an absent key."""
        text: str = event.value.strip()
        if event.implicit[0]:  # written without quotes
            text = "" if text in ABSENT else text
        if FORBIDDEN.search(text):
            line = line_of(event)
            message = f"the value holds the control character {forbidden_name(text)}; take it out."
            self.faults.append(Fault(self.file, line, "", message))
        return text


# What the parser says, and what it means to someone who never met YAML.
RESERVED = "a value begins with a character that YAML keeps; put the value in quotes."
UNFIT = "the line does not fit the one above; check its indentation, and that both are `key: value`."
PLAIN_WORDS = (
    ("mapping values are not allowed", UNFIT),
    ("could not find expected ':'", "a key without a colon; write `key: value`."),
    ("expected <block end>", "the indentation does not fit; keys of one level begin in the same column."),
    ("expected '<document start>'", UNFIT),
    ("expected ',' or ']'", "a square bracket is not closed, or a comma or quotes are missing."),
    ("expected ',' or '}'", "a curly bracket is not closed, or a comma or quotes are missing."),
    ("found unexpected end of stream", "a quotation mark is not closed."),
    ("found unexpected document separator", "a quotation mark is not closed."),
    ("found unknown escape character", "a backslash in double quotes begins an escape; use single quotes."),
    ("found character '\\t'", "the line holds a tab; YAML wants spaces."),
    ("that cannot start any token", RESERVED),
    ("expected the node content", "a value is missing or a bracket is left over."),
    ("expected chomping or indentation", RESERVED),
    ("expected indentation indicator", RESERVED),
    ("expected a comment or a line break", RESERVED),
    ("expected alphabetic or numeric", RESERVED),
    ("expected URI", RESERVED),
    ("expected ' '", RESERVED),
    ("tag handle", RESERVED),
    ("sequence entries are not allowed", "a dash stands where none is meant; list entries go on lines of their own."),
)  # fmt: skip


def broken(error: yaml.MarkedYAMLError, file: str, text: str) -> Fault:
    """The parser's complaint in one plain sentence."""
    mark = error.problem_mark or error.context_mark
    problem = error.problem or ""
    unknown = f"this is no valid YAML ({printable(problem) or 'unknown reason'}); check brackets, quotes, colons."
    words = next((words for part, words in PLAIN_WORDS if part in problem), unknown)
    if mark is not None and words == UNFIT:
        line = LINE_BREAK.split(text)[mark.line]
        if re.search(r":\s", line[: mark.column]):
            words = "the line holds a second colon; put text with a colon in quotes."
    opened = error.context_mark
    if opened is not None and mark is not None and opened.line < mark.line and "not closed" in words:
        words = words[:-1] + f" (opened in line {opened.line + 1})."
    return Fault(file, mark.line + 1 if mark else None, "", words)
