"""The boxes of README.md: what stands between fences, by heading, and the commands with the output that is shown."""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass
from pathlib import Path

README = Path(__file__).resolve().parents[1] / "README.md"
PROMPT = "$ mutual-moon "
LEFT_OUT = "..."
PLAN_NUMBER = re.compile(r"plan [A-Z0-9]{4}\b")


@dataclass(frozen=True)
class Typed:
    """One command of a box with what it prints; `is_whole` where nothing of it is left out at the end."""

    words: tuple[str, ...]
    shown: tuple[str, ...]
    is_whole: bool

    def fits(self, printed: str) -> bool:
        """Whether that was printed; a plan's number hangs on the bytes of the example files and is not compared."""
        lines = [PLAN_NUMBER.sub("plan", line.rstrip()) for line in printed.replace("\\", "/").rstrip().splitlines()]
        shown = [PLAN_NUMBER.sub("plan", line.rstrip()) for line in self.shown]
        return lines == shown if self.is_whole else lines[: len(shown)] == shown


def boxes(heading: str) -> list[str]:
    """The texts between fences of the section of a heading, whatever its level."""
    text = README.read_text(encoding="utf-8")
    section = re.split(rf"(?m)^#+ {re.escape(heading)}$", text, maxsplit=1)[1]
    section = re.split(r"(?m)^## ", section, maxsplit=1)[0]
    return re.findall(r"(?ms)^```\w*\n(.*?)^```$", section)


def typed(box: str) -> list[Typed]:
    """The commands of a box in their order."""
    found = []
    for part in box.split(PROMPT)[1:]:
        command, *shown = part.rstrip("\n").splitlines()
        is_whole = LEFT_OUT not in shown
        found.append(Typed(tuple(shlex.split(command)), tuple(line for line in shown if line != LEFT_OUT), is_whole))
    return found


def rows() -> list[str]:
    """The commands of the table of all commands, with their options and without the brackets around these."""
    text = README.read_text(encoding="utf-8").split("## Through a season", 1)[1]
    cells = re.findall(r"(?m)^\| `([^`]+)` \|", text.split("\n### ", 1)[0])
    return [re.sub(r"[\[\]]|\.\.\.", "", cell) for cell in cells]
