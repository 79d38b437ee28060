"""Rooms and modules in DEVELOPERS.md, floor by floor: `python -m tests.ladder` writes them anew between their marks.

The floors are those that `tests/test_rooms.py` holds; what a module does is the first sentence of its docstring.
"""

from __future__ import annotations

import ast
from pathlib import Path

from tests.test_rooms import FLOORS, PIPELINE

DEVELOPERS = Path(__file__).resolve().parents[1] / "DEVELOPERS.md"
BEGIN, END = "<!-- rooms: begin -->", "<!-- rooms: end -->"


def first_sentence(path: Path) -> str:
    """What a module says of itself in its first paragraph. Raises ValueError where it says nothing."""
    found = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    if not found:
        raise ValueError(f"{path.name} does not say what it is for")
    return " ".join(found.split("\n\n", 1)[0].split())


def modules_of(room: str) -> list[Path]:
    """The modules of a room, without its `__init__`; a room may be one module."""
    folder = PIPELINE / room
    if not folder.is_dir():
        return [PIPELINE / f"{room}.py"]
    return sorted(path for path in folder.glob("*.py") if path.name != "__init__.py")


def ladder() -> str:
    """The whole text between the marks, from the ground up."""
    lines = []
    for number, rooms in enumerate(FLOORS):
        for room in rooms:
            init = PIPELINE / room / "__init__.py"
            lines += [f"**{number} · `{room}`**" + (f" {first_sentence(init)}" if init.exists() else ""), ""]
            lines += [f"- `{path.stem}`: {first_sentence(path)}" for path in modules_of(room)]
            lines.append("")
    return "\n".join(lines).rstrip()


def renewed(text: str) -> str:
    """DEVELOPERS.md with the rooms as they are now. Raises ValueError where the marks are gone."""
    before, rest = text.split(f"{BEGIN}\n", 1)
    _, after = rest.split(f"\n{END}", 1)
    return f"{before}{BEGIN}\n{ladder()}\n{END}{after}"


if __name__ == "__main__":
    DEVELOPERS.write_text(renewed(DEVELOPERS.read_text(encoding="utf-8")), encoding="utf-8")
