"""Faults of several entries of one list in one answer: the whole list as it should stand.

Where one of the entries says nothing to write, all of them stay as they are.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from pipeline.inputs.advice_read import right_in
from pipeline.inputs.faults import Fault
from pipeline.inputs.missing_years import value_at
from pipeline.inputs.yaml_tree import Tree, printable

ENTRY = re.compile(r"(?P<list>.+)\.\d+")
LONGEST_LIST = 200


def told_together(faults: Iterable[Fault], trees: Mapping[str, Tree]) -> list[Fault]:
    """The faults, those of one list of words in one line as one; `trees` by their files."""
    faults = list(faults)
    lists: dict[tuple[str, int | None, str], list[Fault]] = {}
    for fault in faults:
        if found := ENTRY.fullmatch(fault.field):
            lists.setdefault((fault.file, fault.line, found["list"]), []).append(fault)
    made: dict[Fault, Fault] = {}
    for (file, line, name), mine in lists.items():
        words = value_at(trees[file].data, name) if file in trees and len(mine) > 1 else None
        whole = whole_list(words, mine) if isinstance(words, list) else ""
        if whole:
            made[mine[0]] = Fault(file, line, name, whole)
            made |= dict.fromkeys(mine[1:], made[mine[0]])
    return list(dict.fromkeys(made.get(fault, fault) for fault in faults))


def whole_list(words: list[object], faults: Iterable[Fault]) -> str:
    """The answer for a list; empty where an entry is no word or has no one thing to write."""
    mended = [word if isinstance(word, str) else "" for word in words]
    told = []
    for fault in faults:
        at = int(fault.field.rsplit(".", 1)[1]) - 1
        right = right_in(fault.message)
        if not right or not 0 <= at < len(mended) or not mended[at]:
            return ""
        told.append(f"{printable(mended[at], 40)} is written {right}")
        mended[at] = right
    text = f"[{', '.join(dict.fromkeys(mended))}]"
    plain = all(re.fullmatch(r"[\w:/.-]+", word) for word in mended)
    return f"{', '.join(told)}; write {text}." if plain and len(text) <= LONGEST_LIST else ""
