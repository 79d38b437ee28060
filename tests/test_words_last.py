"""A value goes up through the rooms as a value; words are made last: no room below `wording` holds a sentence.

The rule reads literals alone. A sentence is a string of five words or more that ends in a full stop or a question mark
or holds a finite verb of VERBS; a figure put in counts as a word. Docstrings are no part of it, nor is the text of an
exception or an assertion, which only a defect of ours or the catcher's own words bring to a reader.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from tests.test_rooms import MODULES, PIPELINE, RANK

VERBS = re.compile(r"\b(is|are|was|were|has|have|had|does|do|can|cannot|will|would|may|must|should)\b")
LEAST_WORDS = 5
# Rooms that read what people write or have on their disks. Each fault of a file is made where it is found, for what
# would be right is known there alone; one renderer prints them all.
READERS = ("inputs", "record", "terrain")
EXCEPTIONS = {
    "neither feed can be turned": "a value of the column polarization_advice, compared as a member of its enum",
    "needs least at the pair's usual spread, of those both have": "a formula: by which rule the figure of the line"
    " was chosen",
}
BELOW_WORDING = [
    path
    for path in MODULES
    if RANK.get(room := path.relative_to(PIPELINE).parts[0].removesuffix(".py"), 99) < RANK["wording"]
    and room not in READERS
    and not path.name.startswith("derive_")
]


def is_sentence(text: str) -> bool:
    """Whether a reader would take it for one."""
    return len(text.split()) >= LEAST_WORDS and (text.rstrip().endswith((".", "?")) or bool(VERBS.search(text)))


def literals(tree: ast.AST) -> list[tuple[int, str]]:
    """Line and text of every string but docstrings, texts of errors and the pieces of a string counted already."""
    aside: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise | ast.Assert):
            aside |= {id(one) for one in ast.walk(node)}
        elif isinstance(node, ast.JoinedStr):
            formats = [one.format_spec for one in node.values if isinstance(one, ast.FormattedValue)]
            aside |= {id(one) for one in node.values} | {id(two) for one in formats if one for two in ast.walk(one)}
        elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            aside.add(id(node.value))
    found = []
    for node in ast.walk(tree):
        if id(node) in aside:
            continue
        if isinstance(node, ast.JoinedStr):
            pieces = (one.value if isinstance(one, ast.Constant) else "figure" for one in node.values)
            found.append((node.lineno, "".join(map(str, pieces))))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            found.append((node.lineno, node.value))
    return found


def sentences(path: Path) -> list[tuple[int, str]]:
    """Line and text of each sentence of a module."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [(line, text) for line, text in literals(tree) if is_sentence(text)]


@pytest.mark.parametrize("path", BELOW_WORDING, ids=lambda path: path.relative_to(PIPELINE).as_posix())
def test_no_room_below_wording_makes_a_sentence(path: Path) -> None:
    found = [f"line {line}: {text}" for line, text in sentences(path) if text not in EXCEPTIONS]
    assert not found, f"hand on a value and make its words in pipeline/wording: {found}"


def test_each_exception_is_still_needed() -> None:
    assert set(EXCEPTIONS) <= {text for path in BELOW_WORDING for _, text in sentences(path)}


@pytest.mark.parametrize(
    ("code", "told"),
    [
        ('note = "Not worked out: the Moon has to stand above both level horizons."', True),
        ('yield f"noise_figure_db {figure:g} is very low; {least:g} dB is hardly beaten at this frequency."', True),
        ('WORDS = {A: "polarization {0} loses 3 dB with circular stations."}', True),
        ('f"{call} has {modes}, {other} has {theirs}"', True),
        ('"loss ahead of the preamplifier, each way"', False),
        ('f"eta (pi D / lambda)^2, D = {dish:g} m, eta = {efficiency:g}"', False),
        ('"""One sentence that tells what a function is for."""', False),
        ('raise ValueError(f"{frequency:g} MHz is below the range of these levels.")', False),
        ('assert slot, "a change has a slot on one side at least"', False),
    ],
)
def test_what_is_taken_for_a_sentence(code: str, told: bool) -> None:
    texts = [text for _, text in literals(ast.parse(code))]
    assert any(map(is_sentence, texts)) == told
