"""What `explain` and `check` hand on: figures with unit, formula and source, gathered in sections, still as numbers.

Nothing is computed or rounded here. What is to be said of them is a value too; words and printing come later.
"""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.explain.remarks import Headline, Note, Obstacle, Sought, UnknownCall
from pipeline.inputs.model import Station
from pipeline.record.model import Correction

Value = float | str | None


@dataclass(frozen=True)
class Line:
    """One figure: `formula` in plain signs, `assumed` where a default stands behind.

    `source` by name and edition, or what logs have taught. `at_least`: never printed smaller than it is.
    """

    quantity: str
    value: Value
    unit: str = ""
    formula: str = ""
    source: str | Correction = ""
    assumed: bool = False
    at_least: bool = False


@dataclass(frozen=True)
class Section:
    """Lines that belong together, and a note on them where one is due."""

    title: str
    lines: tuple[Line, ...]
    note: Note | None = None


@dataclass(frozen=True)
class Explanation:
    """One instant's link. `columns` has the keys of samples.csv, None where not given.

    `site` is where home stands then, empty where it does not move.
    """

    home: str
    partner: str
    instant: dt.datetime
    headline: Headline
    columns: dict[str, object]
    sections: tuple[Section, ...]
    site: str = ""


def is_assumed(station: Station, *keys: str) -> bool:
    """Whether a default stands for one of these dotted keys, for a key above it or for one below it."""
    return any(
        given == key or given.startswith(f"{key}.") or key.startswith(f"{given}.")
        for key in keys
        for given in station.assumed
    )


class NotPossible(Exception):
    """What was asked for cannot be worked out; the obstacle says why and what would be right."""

    def __init__(self, obstacle: Obstacle) -> None:
        super().__init__(obstacle)
        self.obstacle = obstacle


def find_call(call: str, known: Iterable[str], sought: Sought) -> str:
    """The call as the files have it, whatever its case. Raises NotPossible with the nearest one where it is unknown."""
    calls = {one.upper(): one for one in known}
    if call.upper() in calls:
        return calls[call.upper()]
    near = difflib.get_close_matches(call.upper(), list(calls), 1, 0.5)
    nearest = calls[near[0]] if near else None
    raise NotPossible(UnknownCall(call, sought, nearest, tuple(calls.values())))
