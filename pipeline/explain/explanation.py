"""What `explain` and `check` hand on: figures with unit, formula and source, gathered in sections, still as numbers.

Nothing is computed or rounded here; printing them is the business of the reports.
"""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.inputs.model import Station

Value = float | str | None


@dataclass(frozen=True)
class Line:
    """One figure: `formula` in plain signs, `source` by name and edition, `assumed` where a default stands behind."""

    quantity: str
    value: Value
    unit: str = ""
    formula: str = ""
    source: str = ""
    assumed: bool = False


@dataclass(frozen=True)
class Section:
    """Lines that belong together, and a sentence on them where one is due."""

    title: str
    lines: tuple[Line, ...]
    note: str = ""


@dataclass(frozen=True)
class Explanation:
    """One instant's link, `headline` in one sentence. `columns` has the keys of samples.csv, None where not given."""

    home: str
    partner: str
    instant: dt.datetime
    headline: str
    columns: dict[str, object]
    sections: tuple[Section, ...]

    def as_json(self) -> dict[str, object]:
        """The columns, the headline and, as `sections`, the lines."""
        return self.columns | {
            "headline": self.headline,
            "sections": [
                {
                    "title": section.title,
                    "note": section.note,
                    "lines": [
                        {
                            "quantity": line.quantity,
                            "value": line.value,
                            "unit": line.unit,
                            "formula": line.formula,
                            "source": line.source,
                            "assumed": line.assumed,
                        }
                        for line in section.lines
                    ],
                }
                for section in self.sections
            ],
        }


def is_assumed(station: Station, *keys: str) -> bool:
    """Whether a default stands for one of these dotted keys, for a key above it or for one below it."""
    return any(
        given == key or given.startswith(f"{key}.") or key.startswith(f"{given}.")
        for key in keys
        for given in station.assumed
    )


class NotPossible(Exception):
    """What was asked for cannot be worked out; the text says why and what would be right."""


def find_call(call: str, known: Iterable[str], what: str) -> str:
    """The call as the files have it, whatever its case. Raises NotPossible with the nearest one where it is unknown."""
    calls = {one.upper(): one for one in known}
    if call.upper() in calls:
        return calls[call.upper()]
    near = difflib.get_close_matches(call.upper(), list(calls), 1, 0.5)
    hint = f"{calls[near[0]]} is the nearest; " if near else ""
    raise NotPossible(f"{call}: no such {what} in this season; {hint}there are {', '.join(calls.values())}.")
