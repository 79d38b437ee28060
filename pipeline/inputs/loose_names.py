"""What a word of a group stands for: a key of the contract, the name of an entry, a group of keys."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from typing import Any

from pipeline.inputs import keys_said, scalars

# An entry under its own name, in braces or with its keys below it; and the key that holds the name of each.
NAMED = re.compile(r"\s*(?:-\s+)?[\"']?([^\s:{}\[\],][^:{}\[\],]*?)[\"']?\s*:\s*(\{.*)?")
BY_NAME = {"partners": "call", "landmarks": "name"}


@cache
def names_below(root: Any, key: str) -> Mapping[str, tuple[str, ...]]:
    """The places below a group by their keys, each less the group's own name."""
    found = {}
    for name, places in keys_said.places(root).items():
        inside = [place.split(".")[1:] for place in places if place.startswith(f"{key}.")]
        if inside:
            found[name] = tuple(inside[0])
    return found


def resolved(word: str, names: Mapping[str, Any]) -> str | None:
    """The key of a group that a word stands for; None where none is sure."""
    bare = word.strip()
    same = next((name for name in names if keys_said.folded(name) == keys_said.folded(bare)), None)
    if same:
        return same
    meant = [name for name in keys_said.keys_meant(bare) if name in names]
    near = meant[0] if meant else scalars.nearest(bare, names, 0.85) if len(bare) > 4 else None
    # Watts under a key of amperes are no other name of it.
    is_other_unit = near is not None and re.search(r"_wh?$", bare) and not near.endswith("_w")
    return None if is_other_unit else near


def is_name(key: str, word: str, names: Mapping[str, Any]) -> bool:
    """Whether a word is that of an entry: a call, or a text that stands for no key."""
    if key == "partners":
        return bool(scalars.CALL.fullmatch(word.upper())) and not word.isdigit() and not word.isalpha()
    return resolved(word, names) is None


def is_group(name: str, names: Mapping[str, tuple[str, ...]]) -> bool:
    """Whether other keys stand below one."""
    steps = names[name]
    return any(len(other) > len(steps) and other[: len(steps)] == steps for other in names.values())
