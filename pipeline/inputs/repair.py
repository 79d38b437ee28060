"""Repairs of a group tried before they are told: read loosely, laid out again, taken where the reader finds no fault.

A group of a station or season file in which the rules of single lines leave a fault is read by what its keys mean; the
line or lines that come of it are told as one fault. What is not sure is left to the rules that told it.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import ValidationError

from pipeline.inputs import loose_names, scalars
from pipeline.inputs.advice_read import CONCRETE, right_in
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.kinds import fields_of
from pipeline.inputs.level_shapes import spaces
from pipeline.inputs.line_scan import Page, Shape, indented, without_comment
from pipeline.inputs.loose_columns import read_columns
from pipeline.inputs.loose_reading import Leaf, Reading, read_loosely
from pipeline.inputs.rewriting import changed, flow, laid_out
from pipeline.inputs.yaml_tree import Tree, dotted, tree_of

# Bounds of the work that one file can cost.
MOST_BLOCKS, MOST_LINES, MOST_HEADS, ROUNDS = 6, 60, 100, 3
# Lines that one answer shows.
SHOWN = 6
MOST_WORDS = 8
# Groups that this reading does not know whole: names of one's own stand in them.
ASIDE = ("sites",)
# Lines that are half freed hold an example, not what was meant.
COMMENTED = "still a comment|still comments|lost its #"
STRUCTURE = re.compile(
    r"unknown (key|band)|is missing|keys and values|a list of points|a list is meant|'always' or|has no|needs "
)
HEADING = re.compile(r"[\"']?([^\W_][\w.]*(?: [\w.]+)?)[\"']?\s*(?:=>|->|:=|::|:|=)(?:\s|$|[^\s/\\:=])")


@dataclasses.dataclass(frozen=True)
class Block:
    """One group of a file: its key, and its lines by their indices, the heading first."""

    key: str
    lines: Mapping[int, str]


def look(page: Page, original: list[str]) -> None:
    """Tell one fault where the rules of single lines told several or the wrong one, and put its lines right."""
    from pipeline.inputs.model import Season, Station

    heads = {found[1] for line in original if (found := HEADING.match(line))}
    root = Season if "home" in heads else Station if "call" in heads else None
    if root is None:
        return
    if not page.found and is_sound(root, "\n".join(page.lines)):
        return
    context = context_of(root, page.lines)
    tried = 0
    for block in blocks(root, original, page.lines):
        if block.key in ASIDE or block.key not in fields_of(root) or len(block.lines) > MOST_LINES:
            continue
        told = [at for at in block.lines if at in page.found]
        if any(re.search(COMMENTED, page.found[at].message) for at in told):
            continue
        faults = trial(root, context, "\n".join(page.lines[min(block.lines) : max(block.lines) + 1]))
        if doubtful(len(told), faults) and tried < MOST_BLOCKS:
            tried += 1
            tell(page, root, context, block)


def doubtful(shapes: int, faults: list[Fault] | None) -> bool:
    """Whether what was told of a group needs another look: it cannot be parsed, a fault is left, or nothing helps."""
    if faults is None:
        return True
    if not faults:
        return False
    if shapes + len(faults) > 1:
        lines = [fault.line for fault in faults]
        return shapes > 0 or len(set(lines)) < len(lines) or any(STRUCTURE.search(one.message) for one in faults)
    return bool(faults) and not CONCRETE.search(faults[0].message)


def tell(page: Page, root: Any, context: dict[str, Any], block: Block) -> None:
    """The repair of one group where there is one without a fault."""
    reading = read_columns(root, block.key, block.lines) or read_loosely(root, block.key, block.lines)
    if reading is None:
        return
    before = {leaf.place: leaf.value for leaf in reading.leaves}
    reading = with_values_put_right(root, context, reading)
    made = laid_out(reading, block.lines)
    text = "\n".join(line for at in sorted(made) for line in made[at])
    if trial(root, context, text) != []:
        return
    differing = changed(made, block.lines)
    if not differing:
        return
    for at in block.lines:
        page.found.pop(at, None)
        page.lines[at] = ""
    for group in together(reading, before, differing, block.lines):
        page.found[min(group)] = Shape(min(group) + 1, sentence(reading, before, group, block.lines))
    page.lines[min(block.lines)] = f"{reading.key}: {flow(reading.data(), (reading.key,))}"


def blocks(root: Any, original: list[str], mended: list[str]) -> list[Block]:
    """The groups of a file, each from its heading, as it was written or put right, to the line before the next."""
    found: list[tuple[str, dict[int, str]]] = []
    for at, line in enumerate(original):
        body = without_comment(line)
        head = HEADING.match(body) or (HEADING.match(without_comment(mended[at])) if body.strip() else None)
        above = found[-1][0] if found else ""
        key = key_of(root, head[1]) if head and not indented(mended[at]) else ""
        if len(found) > MOST_HEADS:
            return []
        if key and not (key == above and "." in body.split(":")[0]) and not belongs(root, above, str(head and head[1])):
            found.append((key, {at: line}))
        elif found and body.strip():
            found[-1][1][at] = line
    return [Block(key, inside) for key, inside in found]


def key_of(root: Any, word: str) -> str:
    """The key that a word at the left margin stands for, the first of several with points between them."""
    first = word.split(".")[0]
    return loose_names.resolved(word, fields_of(root)) or (first if first in fields_of(root) else word)


def belongs(root: Any, key: str, word: str) -> bool:
    """Whether a word at the left margin is a key of the group above and none of the file's own."""
    if word in fields_of(root) or not key:
        return False
    below = loose_names.names_below(root, key)
    return bool(below) and loose_names.resolved(word, below) is not None


def context_of(root: Any, lines: Iterable[str]) -> dict[str, Any]:
    """What else a file must hold for one of its groups to be read alone; its place and zone as far as they can be."""
    from pipeline.inputs.model import Season

    if root is Season:
        return {"home": "QA1AA"}
    context: dict[str, Any] = {"call": "QA1AA", "position": {"locator": "JJ00"}}
    lines = list(lines)
    for block in blocks(root, lines, lines):
        if block.key in ("position", "time_zone"):
            try:
                data = tree_of("\n".join(block.lines.values()), "").data
            except InputFaults:
                continue
            context |= {key: value for key, value in data.items() if key in ("position", "time_zone")}
    if context.get("time_zone") not in scalars.zone_names():
        context.pop("time_zone", None)
    return context


def is_sound(root: Any, text: str) -> bool:
    """Whether the reader finds no fault in a whole file; without the words for those that it finds."""
    from pipeline.inputs.horizon import HorizonKeys
    from pipeline.inputs.messages import adapter

    try:
        tree = tree_of(text, "")
        data = dict(tree.data)
        if isinstance(data.get("horizon"), dict):
            adapter(HorizonKeys).validate_python(data.pop("horizon"), by_alias=True, by_name=False, context=tree)
        adapter(root).validate_python(data, by_alias=True, by_name=False, context=tree)
    except (InputFaults, ValidationError):
        return False
    return True


def trial(root: Any, context: dict[str, Any], text: str) -> list[Fault] | None:
    """The faults that the reader finds in the text of one group; None where it is no YAML."""
    try:
        tree = tree_of(text, "")
    except InputFaults:
        return None
    return faults_of(root, context, tree)


def faults_of(root: Any, context: dict[str, Any], tree: Tree) -> list[Fault]:
    """The faults of a group's data beside what else a file must hold."""
    from pipeline.inputs.horizon import HorizonKeys
    from pipeline.inputs.messages import read

    data = context | tree.data
    whole = dataclasses.replace(tree, data=data)
    faults = []
    if isinstance(data.get("horizon"), dict):
        faults += read(HorizonKeys, whole, data["horizon"], ("horizon",))[1]
        data = {key: value for key, value in data.items() if key != "horizon"}
    faults += read(root, whole, data)[1]
    beside = context.keys() - tree.data.keys()
    return [fault for fault in faults if fault.field.split(".")[0] not in beside]


def with_values_put_right(root: Any, context: dict[str, Any], reading: Reading) -> Reading:
    """The reading with each value that the reader refuses as its own advice has it, where that is one and sure."""
    for _ in range(ROUNDS):
        tree = Tree("", {reading.key: reading.data()}, {})
        proposed = {
            fault.field: right for fault in faults_of(root, context, tree) if (right := right_in(fault.message))
        }
        leaves = [right for leaf in reading.leaves for right in put_right(leaf, proposed)]
        if leaves == reading.leaves:
            break
        reading = dataclasses.replace(reading, leaves=leaves)
    return reading


def put_right(leaf: Leaf, proposed: Mapping[str, str]) -> list[Leaf]:
    """A leaf with the value proposed for it; several where that is a group of keys."""
    right = proposed.get(dotted(leaf.place))
    keys = re.findall(r"(\w+): ([^,{}\[\]]+)", right) if right and right[0] == "{" else []
    if keys:
        return [dataclasses.replace(leaf, place=(*leaf.place, key), value=value) for key, value in keys]
    return [dataclasses.replace(leaf, value=right) if right else leaf]


def together(
    reading: Reading, before: Mapping[Any, str], differing: Mapping[int, list[str]], original: Mapping[int, str]
) -> list[dict[int, list[str]]]:
    """The lines that differ, those of one slip together: the same is amiss in each, or one moved what another lost."""
    whole = len(differing) > 2 and len(differing) == sum(bool(line.strip()) for line in original.values())
    if whole or any(len(lines) > 1 for lines in differing.values()) or not differing[min(differing)]:
        return [dict(differing)]
    groups: list[tuple[str, dict[int, list[str]]]] = []
    for at in sorted(differing):
        kind = laid_differently({at: differing[at]}, original) if differing[at] else groups[-1][0]
        if groups and (not differing[at] or (kind and kind == groups[-1][0])):
            groups[-1][1][at] = differing[at]
        else:
            groups.append((kind, {at: differing[at]}))
    return [lines for _, lines in groups]


def sentence(
    reading: Reading, before: Mapping[Any, str], differing: Mapping[int, list[str]], original: Mapping[int, str]
) -> str:
    """What is wrong and what to write, in one sentence."""
    several = any(len(lines) > 1 for lines in differing.values())
    shown = {
        at + 1: [line if several else as_shown(line, original[at]) for line in differing[at]]
        for at in sorted(differing)
    }
    texts = {number: one_below_the_other([f"`{line}`" for line in lines]) for number, lines in shown.items() if lines}
    gone = [str(number) for number, lines in shown.items() if not lines]
    out = f"take line{'' if len(gone) == 1 else 's'} {' and '.join(gone)} out"
    if not texts:
        return f"the group reads the same without it; {out}."
    (number, text), *others = texts.items()
    write = f"write {text}" if number == min(differing) + 1 else f"write in line {number} {text}"
    for number, text in others[: SHOWN - 1]:
        write += f", in line {number} {text}"
    if len(others) >= SHOWN:
        write += f", and the lines to {others[-1][0]} likewise"
    write += f", and {out}" if gone else ""
    told = reasons(reading, before, differing, original)
    return f"{told}; {write}." if told else f"{write}."


def one_below_the_other(texts: list[str]) -> str:
    """Lines that take the place of one."""
    where = "on a line of its own" if len(texts) == 2 else "each on a line of its own"
    return texts[0] + (f" and, {where}, {', '.join(texts[1:])}" if texts[1:] else "")


def as_shown(line: str, old: str) -> str:
    """A line as an answer shows it; with its blanks where they are amiss as well."""
    return line if line.strip() == old.strip() or indented(line) != indented(old) else line.strip()


def reasons(
    reading: Reading, before: Mapping[Any, str], differing: Mapping[int, list[str]], original: Mapping[int, str]
) -> str:
    """What is wrong in the lines that differ: names, values, and how they are laid out."""
    told = []
    for word, name in reading.renamed.items():
        if word.casefold() != name and any(re.search(rf"\b{re.escape(word)}\b", original[at]) for at in differing):
            told.append(f"{word} is called {name}")
    for leaf in reading.leaves:
        old = before.get(leaf.place, leaf.value)
        if old != leaf.value and leaf.line in differing:
            told.append(f"{old} is written {leaf.value}")
    told = list(dict.fromkeys(told))[:4]
    layout = laid_differently(differing, original)
    told += [layout] if layout else []
    told = told or in_other_words(differing, original)
    return " and ".join([", ".join(told[:-1]), told[-1]] if len(told) > 1 else told)


def in_other_words(differing: Mapping[int, list[str]], original: Mapping[int, str]) -> list[str]:
    """The words of the first line that stand otherwise in what to write: `Mo, Di are written mon, tue`."""
    at = min(differing)
    old, new = (re.findall(r"[^\s{}\[\],:]+", text) for text in (original[at], " ".join(differing[at])))
    gone, come = [word for word in old if word not in new], [word for word in new if word not in old]
    if not gone or len(gone) != len(come) or len(gone) > MOST_WORDS:
        return []
    return [f"{', '.join(gone)} {'is' if len(gone) == 1 else 'are'} written {', '.join(come)}"]


def laid_differently(differing: Mapping[int, list[str]], original: Mapping[int, str]) -> str:
    """What is amiss in how a line is laid out, by what is put in or taken out of it."""
    at = min(differing)
    if not differing[at]:
        return "this line is no key with its value"
    old, new = without_comment(original[at]), " ".join(differing[at])
    if re.sub(r"\s", "", old).casefold() == re.sub(r"\s", "", new) and old != old.casefold():
        return "keys are written in small letters"
    for mark in "}]{[":
        if new.count(mark) == old.count(mark) + 1 and sum(map(new.count, "{}[]")) == sum(map(old.count, "{}[]")) + 1:
            place = next((i for i, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), len(old))
            word = re.search(r"[\w.]+\W*$", new[:place])
            return f"a bracket {mark} is missing{f' behind {word[0].strip()}' if word and mark in '}]' else ''}"
        if new.count(mark) == old.count(mark) - 1 and sum(map(new.count, "{}[]")) == sum(map(old.count, "{}[]")) - 1:
            return f"a bracket {mark} stands where none is meant"
    if re.fullmatch(r"\[[\w.]+\]", old.strip()):
        return "a heading has a colon and no brackets"
    if re.match(r"\s*[\w.]+ *=", old) and "=" not in new:
        return "a colon stands between a key and its value"
    if re.match(r"\s*\w+ +[^\s:=]+$", old) and re.match(r"\s*\w+: ", new):
        return "a colon stands behind a key"
    if sorted(old) == sorted(new) and -1 < new.find("}") < old.find("}"):
        return "a bracket } stands too late"
    if indented(old) != indented(new) and old.strip() == new.strip():
        begin = f"begin it with {spaces(indented(new)) if indented(new) else 'none'}"
        return f"the line begins with {spaces(indented(old)) if indented(old) else 'no spaces'}, {begin}"
    if new.lstrip().startswith("- ") and not old.lstrip().startswith("-"):
        return "an entry of a list begins with a dash"
    if old.lstrip().startswith("-") and not new.lstrip().startswith("-"):
        return "a dash stands where no list is meant"
    if new.count("{") > old.count("{") or new.count("[") > old.count("["):
        return "keys in one line stand in braces" if ":" in old or "=" in old else "keys and values stand in braces"
    start = next(
        (at for at, pair in enumerate(zip(old, new, strict=False)) if pair[0] != pair[1]), min(len(old), len(new))
    )
    gone, come = old[start : start + len(old) - len(new)], new[start : start + len(new) - len(old)]
    if gone.strip() and old[:start] + old[start + len(gone) :] == new:
        return f"'{gone.strip()}' stands there too much"
    if come.strip() and not come[0].isalnum() and new[:start] + new[start + len(come) :] == old:
        return f"'{come.strip()}' is missing"
    return ""
