"""What a function shows of itself: few parameters; where it takes or gives arrays, their shapes and units."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.test_rooms import MODULES, PIPELINE

MOST_PARAMETERS = 7
# Functions that may take more, and why.
MANY = {
    "commands/measure.py: measure": "a command's options are its interface; they go on as one Measurement",
    "commands/night.py: night": "a command's options are its interface; they go on as one Slip and one Offsets",
    "commands/plan.py: plan": "a command's options are its interface; they go on as one WhatIf and one season",
    "commands/send.py: send": "a command's options are its interface; each goes on to the part that it is for",
    "commands/propose.py: propose": "a command's options are its interface; they go on as one Asked",
    "commands/survey.py: survey": "a command's options are its interface; they go on as one _Asked",
    "commands/stations.py: new": "a command's options are its interface; they go on as one NewHome",
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


# Rooms whose public functions pass arrays on to each other.
ARRAY_ROOMS = ("link", "radio_sky", "ephemeris", "windows", "pairs", "agenda")
ARRAY = re.compile(r"\b(FloatArray|IntArray|BoolArray|Array|NDArray|ArrayLike)\b")
# Numbers with a unit; rows, counts and yes or no have none.
QUANTITY = re.compile(r"\b(FloatArray|Array|ArrayLike|float64)\b")
DIMENSION = r"(\d+|[a-z]|\.\.\.|nodes|periods|windows|columns|rows|items|nights|demands|stations|pairs|rest|slots)"
SHAPE = re.compile(rf"\({DIMENSION},( {DIMENSION},?)*\)|\bbroadcast|\b(one|any|same|common) shape\b|\bshapes? of\b")
UNIT_IN_NAME = re.compile(
    r"(^|_)(deg|rad|db|dbi|dbw|hz|mhz|s|m|km|k|w_m2|hz_per_s|km_per_s|sfu|mm_per_h|share|ratio|wavelengths|fraction|efficiency)$"
)
UNIT = re.compile(
    r"\b(degrees?|rad|radians|dB|dBi|K|kelvins?|Hz|MHz|GHz|s|seconds|minutes?|hours|days|km|km/s|m|metres|W/m2|sfu|mm/h"
    r"|0 to 1|share|probability|chance|ratio|factor|number|no unit|without a unit|units?|month)\b",
    re.IGNORECASE,
)


def public_functions(path: Path) -> Iterator[ast.FunctionDef]:
    """Functions of a module and methods of its classes that other modules may call."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    classes = [node for node in tree.body if isinstance(node, ast.ClassDef) and not node.name.startswith("_")]
    for node in (*tree.body, *(inner for one in classes for inner in one.body)):
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node


def array_functions() -> dict[str, ast.FunctionDef]:
    """Public functions and methods that take or give arrays, by room, module and name."""
    found = {}
    for path in MODULES:
        if path.relative_to(PIPELINE).parts[0] not in ARRAY_ROOMS:
            continue
        for one in public_functions(path):
            hints = [*(arg.annotation for arg in parameters(one)), one.returns]
            if any(hint and ARRAY.search(ast.unparse(hint)) for hint in hints):
                found[f"{name_of(path, one)} {one.lineno}"] = one
    return found


def is_quantity(hint: ast.expr | None) -> bool:
    return hint is not None and QUANTITY.search(ast.unparse(hint)) is not None


ARRAY_FUNCTIONS = array_functions()


@pytest.mark.parametrize("name", ARRAY_FUNCTIONS)
def test_functions_on_arrays_tell_shapes_and_units(name: str) -> None:
    """A shape as `(n,)` or that arguments broadcast; a unit where a name does not carry it."""
    function = ARRAY_FUNCTIONS[name]
    told = ast.get_docstring(function) or ""
    assert SHAPE.search(told), "no shape in the docstring"
    named = [one.arg for one in parameters(function) if is_quantity(one.annotation)]
    named += [function.name] if is_quantity(function.returns) else []
    bare = [one for one in named if not UNIT_IN_NAME.search(one)]
    assert not bare or UNIT.search(told), f"no unit of {', '.join(bare)} in the docstring"
