"""Changes tried without touching a file: `QF4LUM.bands.3cm.power_w=100` put into the tree of that station's file.

A change names a station by its call, or the season by the word `season`; then the key as in the file; entries of lists
count from 1.
"""

from __future__ import annotations

import copy
import dataclasses
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.yaml_tree import Key, Tree, load_tree, printable

OPTION = "--what-if"
SEASON = "season"
EXAMPLE = "QF4LUM.bands.3cm.power_w=100 is meant, or season.policy.slot_minutes=45"


@dataclass(frozen=True)
class Change:
    """One value put in place of what a file says; `target` is a call in capitals, or `season`."""

    target: str
    keys: tuple[str, ...]
    value: Any
    text: str


def read_changes(texts: Sequence[str]) -> tuple[Change, ...]:
    """The changes as typed; InputFaults with everything that is wrong in them."""
    faults: list[Fault] = []
    changes: list[Change] = []
    for text in texts:
        try:
            changes.append(_read_change(text))
        except InputFaults as found:
            faults += [_fault(text, fault.message) for fault in found.faults]
    if faults:
        raise InputFaults(faults)
    return tuple(changes)


def _read_change(text: str) -> Change:
    path, equals, value = text.partition("=")
    target, *keys = (part.strip() for part in path.split("."))
    if not equals or not keys or not all((target, *keys)):
        raise InputFaults([Fault(OPTION, None, "", f"this is no change of a value; {EXAMPLE}.")])
    tree = load_tree(f"value: {value}".encode(), OPTION)
    return Change(SEASON if target.casefold() == SEASON else target.upper(), tuple(keys), tree.data["value"], text)


def _fault(text: str, message: str) -> Fault:
    return Fault(f"{OPTION} {printable(text)}", None, "", message)


def changed(tree: Tree, changes: Sequence[Change]) -> Tree:
    """The tree with those changes in it that are meant for this file."""
    call = tree.data.get("call")
    target = SEASON if "home" in tree.data else call.upper() if isinstance(call, str) else ""
    mine = [change for change in changes if change.target == target]
    if not mine:
        return tree
    data = copy.deepcopy(tree.data)
    for change in mine:
        _put(data, change)
    return dataclasses.replace(tree, data=data)


def _put(data: dict[str, Any], change: Change) -> None:
    """Set one value; mappings on the way are made, entries of lists must be there."""
    here: Any = data
    for key, further in zip(change.keys[:-1], change.keys[1:], strict=True):
        place = _place(here, key, change)
        if isinstance(here, dict) and here.get(key, "") == "":
            here[key] = {}
        here = here[place]
        if isinstance(here, str):
            message = f"`{key}` holds a single value, so there is no `{further}` in it."
            raise InputFaults([_fault(change.text, message)])
    here[_place(here, change.keys[-1], change)] = change.value


def _place(here: Any, key: str, change: Change) -> Key:
    """The key of a mapping, or the index of a list's entry that counts from 1."""
    if isinstance(here, dict):
        return key
    if key.isdecimal() and 1 <= int(key) <= len(here):
        return int(key) - 1
    message = f"`{printable(key)}` is no entry of the list; entries count from 1 to {len(here)}."
    raise InputFaults([_fault(change.text, message)])


def hash_of(changes: Sequence[Change]) -> dict[str, str]:
    """What stands among the hashes of the input files, so that a tried plan has a number of its own."""
    text = "\n".join(change.text for change in changes)
    return {OPTION: hashlib.sha256(text.encode()).hexdigest()} if changes else {}


def unknown_targets(changes: Sequence[Change], calls: Sequence[str]) -> list[Fault]:
    """A fault for each change of a station that no file has."""
    known = ", ".join(sorted(calls)[:12])
    return [
        _fault(change.text, f"there is no station {printable(change.target)}; there is {known}.")
        for change in changes
        if change.target != SEASON and change.target not in calls
    ]
