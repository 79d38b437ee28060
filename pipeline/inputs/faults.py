"""Faults in the input files: one plain sentence each, with file, line and field; gathered, then told in one go."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong. `message` is a whole sentence: what is wrong, then what would be right."""

    file: str
    line: int | None
    field: str
    message: str

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}, line {self.line}"
        return f"{place}: {self.message}"


class InputFaults(Exception):
    """All faults of all files, in the order of files and lines; its text is one fault a line."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        unique = dict.fromkeys(faults)
        self.faults: tuple[Fault, ...] = tuple(sorted(unique, key=lambda fault: (fault.file, fault.line or 0)))
        super().__init__("\n".join(str(fault) for fault in self.faults))
