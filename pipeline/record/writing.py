"""Writing to the record: agreed slots and how they went, put into `agenda.yaml` where the operator's own words stay.

The file is changed value by value at the marks of the YAML parser, read back, and put in place whole or not at all.
One run writes at a time: the lock is the operating system's, so that a crash leaves none behind.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import yaml
from filelock import FileLock, Timeout

from pipeline.inputs.atomic_writing import settle, write_file
from pipeline.inputs.bounds import RECORD
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.yaml_tree import decode, load_tree, read_bytes
from pipeline.record.model import AGENDA, CONFIRMED, FIXED, FOLDER, PARTNER, RAINED, Answer
from pipeline.record.reading import RecordRead, answers_of, bare

NAME = f"{FOLDER}/{AGENDA}"
LOCK = ".lock"
# Long enough for another `answer` to end, short enough not to look hung beside a long `send`.
WAIT_S = 5.0
HEAD = """\
# What has been agreed with whom, a line a slot. The program keeps your comments and changes only what was answered.
# state: confirmed | tentative | declined, or fixed for a slot that you set by hand.
# outcome: made | failed | absent | rained, once the night is over.
# proposed_by: partner, where the partner named the time itself; it is not asked to confirm it.
slots:
"""
Stretch = tuple[dt.datetime, dt.datetime]
# A name that stands in a line of YAML as it is, also the empty one; any other goes in quotes.
PLAIN = re.compile(r"(\w[\w -]*)?")


class RecordBusy(RuntimeError):
    """Another run of this program holds the record; the text is one sentence for the user."""


@dataclass(frozen=True)
class SlotState:
    """What one slot is to be from now on; `answered` is when the answer came, `site` where home then stands."""

    partner: str
    label: str
    start_utc: dt.datetime
    end_utc: dt.datetime
    state: str
    operator: str
    answered: dt.datetime | None
    site: str = field(default="", kw_only=True)

    def values(self) -> dict[str, str]:
        """The keys of a line of the agenda, in the order in which they are written."""
        return {
            "partner": self.partner,
            "label": self.label,
            "start": minute(self.start_utc),
            "end": minute(self.end_utc),
            "state": self.state,
            "operator": self.operator,
            "answered": "" if self.answered is None else minute(self.answered),
            "site": self.site if PLAIN.fullmatch(self.site) else json.dumps(self.site, ensure_ascii=False),
        }

    def changes(self) -> dict[str, str]:
        """The keys that change in a line that is there already."""
        return self.values()

    def as_line(self) -> str:
        """The mapping in curly brackets."""
        return "{" + ", ".join(f"{key}: {value}" for key, value in self.values().items() if value) + "}"

    def is_of(self, line: Answer, span: Stretch) -> bool:
        """Whether a line of the agenda is about this slot; a letter is one slot within the period, not beyond it.

        A line of a night lost to weather is history: under the same letter another time is asked for.
        """
        if line.outcome == RAINED and line.start_utc != self.start_utc:
            return False
        here = line.start_utc == self.start_utc or span[0] <= line.start_utc < span[1]
        return here and line.is_about(self.partner, self.label, self.start_utc)

    def agrees(self, line: Answer) -> bool:
        """Whether the line says all this already; when it was answered aside."""
        said = (line.partner, line.label, line.start_utc, line.end_utc, line.state, line.operator)
        return said == (self.partner, self.label, self.start_utc, self.end_utc, self.state, self.operator)


@dataclass(frozen=True)
class SlotOutcome(SlotState):
    """How one slot went. Its line keeps all else; a slot that nobody answered for gets a line as one set by hand."""

    outcome: str

    def values(self) -> dict[str, str]:
        """The keys of a new line."""
        return super().values() | {"outcome": self.outcome}

    def changes(self) -> dict[str, str]:
        """The one key that changes."""
        return {"outcome": self.outcome}

    def agrees(self, lock: Answer) -> bool:
        """Whether the line says so already."""
        return (lock.partner, lock.outcome) == (self.partner, self.outcome)


@dataclass(frozen=True)
class SlotProposed(SlotState):
    """A time that the partner proposed and home takes: agreed, and marked as the partner's own."""

    def values(self) -> dict[str, str]:
        """The keys of a line, who proposed it included."""
        return super().values() | {"proposed_by": PARTNER}

    def agrees(self, line: Answer) -> bool:
        """Whether the line says all this already."""
        return super().agrees(line) and line.proposed_by == PARTNER


def proposed_of(
    partner: str, label: str, start_utc: dt.datetime, end_utc: dt.datetime, operator: str, answered: dt.datetime
) -> SlotProposed:
    """A proposal of the partner that is taken at that moment."""
    return SlotProposed(partner, label, start_utc, end_utc, CONFIRMED, operator, answered)


def outcome_of(
    partner: str, label: str, start_utc: dt.datetime, end_utc: dt.datetime, operator: str, outcome: str
) -> SlotOutcome:
    """The outcome of a slot by its letter and times."""
    return SlotOutcome(partner, label, start_utc, end_utc, FIXED, operator, None, outcome)


@dataclass(frozen=True)
class Changed:
    """One slot that was set, and what its line said before."""

    before: Answer | None
    after: SlotState


def minute(moment: dt.datetime) -> str:
    """`2027-03-13T01:15Z`."""
    return f"{moment.astimezone(dt.UTC):%Y-%m-%dT%H:%M}Z"


@contextlib.contextmanager
def record_lock(folder: Path, wait_s: float | None = None) -> Iterator[Path]:
    """Holds the record of a season's folder, made where there is none; RecordBusy where another run has it."""
    place = folder / FOLDER
    try:
        place.mkdir(exist_ok=True)
        lock = FileLock(place / LOCK, timeout=WAIT_S if wait_s is None else wait_s)
        lock.acquire()
    except Timeout:
        message = f"another run of this program is writing to {place.as_posix()}; wait for its end and run again."
        raise RecordBusy(message) from None
    except (OSError, NotImplementedError) as error:
        raise unwritable(str(place), error) from None
    try:
        yield place
    finally:
        lock.release()


def unwritable(where: str, error: Exception) -> InputFaults:
    """The fault of a place that cannot be written."""
    reason = (getattr(error, "strerror", None) or "the file system does not allow it").lower()
    return InputFaults([Fault(where, None, "", f"cannot write here ({reason}); nothing was changed.")])


def set_slots(
    folder: Path, states: Sequence[SlotState], span: Stretch, operator: str, minutes: int, only_look: bool = False
) -> list[Changed]:
    """Put states into the agenda of a season's folder; the caller holds the lock. Returns what was changed.

    With `only_look` it returns what would be changed, and writes nothing.

    `span` bounds the period within which a letter is one slot; `operator` and `minutes` are the season's defaults for
    lines that leave them out. InputFaults where the file is at fault or cannot be written; then it is as it was.
    """
    path = folder / FOLDER / AGENDA
    raw = read_bytes(path, RECORD) if path.exists() else b""
    text = "" if not raw else raw.decode("utf-8-sig") if bare(raw, NAME) else decode(raw, NAME, RECORD)
    changed: list[Changed] = []
    for state in states:
        answers = answers_in(text, operator, minutes)
        index = next((number for number, line in enumerate(answers) if state.is_of(line, span)), None)
        before = None if index is None else answers[index]
        if before is not None and state.agrees(before):
            continue
        new = with_line(text, state) if index is None else with_values(text, index, state)
        try:
            made = answers_in(new, operator, minutes)
        except InputFaults:
            raise InputFaults([beyond_us(state)]) from None
        place = len(answers) if index is None else index
        others = [line for number, line in enumerate(answers) if number != place]
        kept = [line for number, line in enumerate(made) if number != place]
        if not state.agrees(made[place]) or not same_slots(others, kept):
            raise InputFaults([beyond_us(state)])
        text = new
        # How a slot went is told at the time that its line has, wherever it was offered.
        start, end = made[place].start_utc, made[place].end_utc
        changed.append(Changed(before, replace(state, start_utc=start, end_utc=end or state.end_utc)))
    if changed and not only_look:
        write_whole(path, text)
    return changed


def same_slots(one: Sequence[Answer], other: Sequence[Answer]) -> bool:
    """Whether two readings say the same, the numbers of their lines aside."""
    return [replace(said, line=0) for said in one] == [replace(said, line=0) for said in other]


def beyond_us(state: SlotState) -> Fault:
    """The fault of a file laid out in a way that cannot be changed safely."""
    line = f"  - {state.as_line()}"
    return Fault(NAME, None, "", f"the file is laid out in an unusual way; change it by hand, the line is `{line}`.")


def answers_in(text: str, operator: str, minutes: int) -> tuple[Answer, ...]:
    """The slots that a text of the agenda says; InputFaults with all that is wrong in it."""
    if not text or bare(text.encode(), NAME):
        return ()
    read = RecordRead()
    answers = answers_of(load_tree(text.encode(), NAME, size=RECORD), read, minutes, operator)
    if read.faults:
        raise InputFaults(read.faults)
    return answers


def slots_node(text: str) -> yaml.Node | None:
    """The node of `slots`, None where the file has no such key."""
    # The parser in Python: its marks count characters.
    root = yaml.compose(text, Loader=yaml.BaseLoader) if text.strip() else None
    if not isinstance(root, yaml.MappingNode):
        return None
    return next((value for key, value in root.value if key.value == "slots"), None)


def line_break(text: str) -> str:
    """How the file ends its lines."""
    return "\r\n" if "\r\n" in text else "\n"


def with_line(text: str, state: SlotState) -> str:
    """The text with one more slot after the last."""
    node, eol = slots_node(text), line_break(text)
    if node is None:
        head = HEAD.replace("\n", eol) if not text.strip() else text.rstrip("\r\n ") + f"{eol}slots:{eol}"
        return f"{head}  - {state.as_line()}{eol}"
    if isinstance(node, yaml.SequenceNode) and node.value:
        last = end_of(node.value[-1])
        if node.flow_style:
            return text[:last] + f", {state.as_line()}" + text[last:]
        indent = " " * node.start_mark.column
        return after_line(text, last, f"{indent}- {state.as_line()}", eol)
    start, end = node.start_mark.index, node.end_mark.index
    # An empty list: its brackets go, and the slot stands on the line below.
    return after_line(text[:start].rstrip(" ") + text[end:], start - 1, f"  - {state.as_line()}", eol)


def after_line(text: str, index: int, line: str, eol: str) -> str:
    """The text with a line put below the one that holds a character."""
    at = text.find("\n", index)
    if at < 0:
        return f"{text}{eol}{line}{eol}"
    return f"{text[: at + 1]}{line}{eol}{text[at + 1 :]}"


def end_of(node: yaml.Node) -> int:
    """Index behind a node's last character; a block's own mark stands behind the comments that follow it."""
    if isinstance(node, yaml.CollectionNode) and not node.flow_style and node.value:
        last = node.value[-1]
        return end_of(last[1] if isinstance(last, tuple) else last)
    index: int = node.end_mark.index
    return index


def with_values(text: str, index: int, state: SlotState) -> str:
    """The text with the values of one slot put in place of what stood there; all around them stays."""
    node = slots_node(text)
    assert isinstance(node, yaml.SequenceNode)
    entry = node.value[index]
    wanted = {key: value for key, value in state.changes().items() if value}
    edits: list[tuple[int, int, str]] = []
    for key, value in entry.value:
        if key.value in wanted:
            start, end = value.start_mark.index, value.end_mark.index
            new = wanted.pop(key.value)
            edits.append((start, end, new if end > start else f" {new}"))
    if wanted:
        at = end_of(entry.value[-1][1])
        gap = ", " if entry.flow_style else line_break(text) + " " * entry.value[0][0].start_mark.column
        edits.append((at, at, "".join(f"{gap}{key}: {value}" for key, value in wanted.items())))
    for start, end, new in sorted(edits, reverse=True):
        text = text[:start] + new + text[end:]
    return text


def write_whole(path: Path, text: str) -> None:
    """Put a text in place of a file in one step, on the disk before it counts; the old one stands until then."""
    path = path.resolve()
    # The record's lock is held: nobody else writes under this name, and what a crash leaves there is overwritten.
    temporary = path.with_name(f".{path.name}.new")
    try:
        write_file(temporary, text.encode())
        temporary.chmod(path.stat().st_mode & 0o777 if path.exists() else 0o644)
        temporary.replace(path)
        settle(path.parent)
    except OSError as error:
        raise unwritable(NAME if path.name == AGENDA else path.name, error) from None
    finally:
        temporary.unlink(missing_ok=True)
