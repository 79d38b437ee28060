"""The table "How right it is" of DEVELOPERS.md, from which the tests take their bars: they hold what it asserts.

A figure's bar stands there and nowhere else; `test_claims` holds it to a small multiple of what was measured.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

GUIDE = Path(__file__).resolve().parents[1] / "DEVELOPERS.md"
HEADING = "## How right it is"
NUMBER = re.compile(r"(\d+(?:\.\d+)?) ?(.*)")


@dataclass(frozen=True)
class Claim:
    """One row: what is compared, with what, the largest difference seen and the one allowed, as they are printed."""

    figure: str
    against: str
    measured: str
    asserted: str

    @property
    def counted(self) -> bool:
        """Whether a number is asserted; other rows hold exactly."""
        return NUMBER.fullmatch(self.asserted) is not None


def number_of(cell: str) -> tuple[float, str]:
    """A cell's number and unit; ValueError where it is none."""
    found = NUMBER.fullmatch(cell)
    if found is None:
        raise ValueError(f"{cell!r} is no number with a unit")
    return float(found[1]), found[2]


@cache
def claims() -> dict[str, Claim]:
    """The rows by their figures."""
    section = GUIDE.read_text(encoding="utf-8").split(HEADING, 1)[1].split("\n## ", 1)[0]
    lines = [line for line in section.splitlines() if line.startswith("|")][2:]
    rows = [Claim(*(cell.strip() for cell in line.strip("|").split("|"))) for line in lines]
    return {row.figure: row for row in rows}


def asserted(figure: str) -> float:
    """The difference that the table allows a figure, in the table's unit."""
    return number_of(claims()[figure].asserted)[0]
