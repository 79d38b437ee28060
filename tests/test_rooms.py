"""The house keeps its order: lower rooms never import upper ones, and every module is short enough to read at once."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PIPELINE = Path(__file__).parent.parent / "pipeline"
LONGEST = 400
# From the ground up. Rooms of one floor do not import each other.
FLOORS = (
    ("data", "terrain"),
    ("inputs", "ephemeris", "radio_sky"),
    ("record",),
    ("windows", "link"),
    ("pairs",),
    ("agenda",),
    ("absence",),
    ("outlook", "need"),
    ("plan",),
    ("operating", "explain"),
    ("wording",),
    ("reports",),
    ("letters", "sheets", "review"),
    ("commands",),
    ("cli",),
    ("__main__", "bootstrap"),
)
RANK = {room: floor for floor, rooms in enumerate(FLOORS) for room in rooms}
# Physics takes numbers and arrays, never a station file.
NO_INPUTS = ("ephemeris", "radio_sky", "link")
MODULES = sorted(path for path in PIPELINE.rglob("*.py") if not {"demo", "templates"} & set(path.parts))


def room_of(dotted: str) -> str | None:
    """`pipeline.link.noise` stands in the room `link`."""
    parts = dotted.split(".")
    return parts[1] if parts[0] == "pipeline" and len(parts) > 1 else None


def imports(path: Path) -> set[str]:
    """Every module a file imports, also inside functions, relative ones spelled out."""
    package = ("pipeline", *path.relative_to(PIPELINE).parent.parts)
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else ()
            stem = ".".join((*base, *([node.module] if node.module else [])))
            found |= {f"{stem}.{alias.name}" for alias in node.names} | {stem}
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PIPELINE).as_posix())
def test_lower_rooms_never_import_upper_ones(path: Path) -> None:
    room = path.relative_to(PIPELINE).parts[0].removesuffix(".py")
    if room == "__init__" or (room == "data" and path.name.startswith("derive_")):
        return  # a derivation is run by hand, on top of whatever it needs
    assert room in RANK, f"the room {room} has no rank: add it"
    for other in {room_of(name) for name in imports(path)} - {None, room, "__init__", "__version__"}:
        assert other in RANK, f"{path.name} imports pipeline.{other}, which has no rank"
        assert RANK[other] < RANK[room], f"{room} must not import {other}"
        assert not (room in NO_INPUTS and other == "inputs"), f"{room} takes numbers and arrays, never inputs"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PIPELINE).as_posix())
def test_modules_are_short(path: Path) -> None:
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines <= LONGEST, f"{lines} lines; {LONGEST} is the most that one module may have"
