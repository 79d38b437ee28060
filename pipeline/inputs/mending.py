"""A station or season file read as far as it can be: faults of its lines' shapes, and the tree of the lines put right.

What was put right is told all the same; the tree is there so that every other fault of the file comes in the same go.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.line_shapes import shapes_of
from pipeline.inputs.yaml_tree import Key, Tree, decoded, read_bytes, tree_of


def load_mended(raw: bytes, file: str, folder: Path) -> tuple[Tree | None, list[Fault]]:
    """The tree, None where even the mended text is none, and every fault of the text."""
    try:
        text, faults = decoded(raw, file)
    except InputFaults as found:
        return None, list(found.faults)
    shapes, mended = shapes_of(text)
    faults += [Fault(file, shape.line, "", shape.message) for shape in shapes]
    try:
        return tree_of(mended, file, folder), unlike(faults)
    except InputFaults as found:
        # Where lines were put right already, the parser may stumble over the rest of the same slip.
        first = min((fault.line or 1 for fault in faults), default=None)
        parsed = [fault for fault in found.faults if first is None or (fault.line or 0) < first]
        return None, unlike([*faults, *parsed])


def told_by_shape(text: str, file: str, parsed: Iterable[Fault]) -> list[Fault]:
    """What the parser stumbled over, told by the shapes of the lines where they show it; else as the parser has it."""
    shapes = [Fault(file, shape.line, "", shape.message) for shape in shapes_of(text)[0]]
    return shapes or list(parsed)


def unlike(faults: list[Fault]) -> list[Fault]:
    """One fault a line for what is wrong with its characters or its shape, the first that was found."""
    lines: dict[int | None, Fault] = {}
    for fault in faults:
        lines.setdefault(fault.line, fault)
    return sorted(lines.values(), key=lambda fault: fault.line or 0)


def without_twins(shapes: list[Fault], read: list[Fault]) -> list[Fault]:
    """The faults of reading that do not stand in a line whose own shape was told and would only repeat it."""
    told = {fault.line for fault in shapes}
    # One of two keys in a line cannot be read.
    parted = [re.search(r"write `(\w+):.*begin a new line before (\w+)", fault.message) for fault in shapes]
    hidden = {key for found in parted if found for key in found.groups()}
    read = [fault for fault in read if not (fault.field in hidden and " is missing;" in fault.message)]
    return [
        fault
        for fault in read
        if fault.line not in told
        or not re.search(
            r"unknown (key|band)|is missing|is a (list|mapping)|keys and values|has no|is empty| needs ", fault.message
        )
    ]


def line_of_key(path: Path, dotted: str) -> int | None:
    """The line of a dotted key of a file, or of the group around it; None where the file has neither."""
    try:
        tree, _ = load_mended(read_bytes(path), path.name, path.parent)
    except InputFaults:
        return None
    if tree is None:
        return None
    place: list[Key] = []
    inner: Any = tree.data
    rest = dotted
    while rest:
        if isinstance(inner, list):
            number, _, rest = rest.partition(".")
            index = int(number) - 1 if number.isdecimal() else len(inner)
            if index >= len(inner):
                break
            place, inner = [*place, index], inner[index]
            continue
        keys = inner if isinstance(inner, dict) else {}
        key = next((one for one in keys if rest == one or rest.startswith(f"{one}.")), None)
        if key is None:
            break
        place, inner, rest = [*place, key], keys[key], rest[len(key) + 1 :]
    return tree.line(tuple(place)) if place else None
