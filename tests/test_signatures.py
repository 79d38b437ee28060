"""What a function shows of itself: few parameters; where it takes or gives arrays, their shapes and units."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.test_rooms import MODULES, PIPELINE

MOST_PARAMETERS = 7
# Functions that may take more, and why.
MANY = {
    "commands/stations.py: add": "a command's options are its interface; they go on as one NewPartner",
}


def functions(path: Path) -> Iterator[ast.FunctionDef]:
    """Every function and method of a module, inner ones too."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))


def parameters(function: ast.FunctionDef) -> list[ast.arg]:
    """All of them but `self` and `cls`."""
    taken = function.args
    return [one for one in (*taken.posonlyargs, *taken.args, *taken.kwonlyargs) if one.arg not in ("self", "cls")]


def name_of(path: Path, function: ast.FunctionDef) -> str:
    return f"{path.relative_to(PIPELINE).as_posix()}: {function.name}"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PIPELINE).as_posix())
def test_no_function_takes_many_parameters(path: Path) -> None:
    many = {name_of(path, one): len(parameters(one)) for one in functions(path)}
    assert not {name: count for name, count in many.items() if count > MOST_PARAMETERS and name not in MANY}


def test_every_exception_is_still_one() -> None:
    many = {name_of(path, one) for path in MODULES for one in functions(path) if len(parameters(one)) > MOST_PARAMETERS}
    assert set(MANY) == many
