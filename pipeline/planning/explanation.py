"""What `explain` and `check` hand on: figures with unit, formula and source, gathered in sections, still as numbers.

Nothing is computed or rounded here; printing them is the business of the reports.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from pipeline.inputs.model import Station

Value = float | str | None


@dataclass(frozen=True)
class Line:
    """One figure. `formula` in plain signs, `source` by name and edition; `assumed` where a default stands behind it."""

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
    """One instant's link. `columns` has the keys of samples.csv; None where the figure cannot be given."""

    home: str
    partner: str
    instant: dt.datetime
    columns: dict[str, object]
    sections: tuple[Section, ...]

    def as_json(self) -> dict[str, object]:
        """The columns and, as `sections`, the lines."""
        return self.columns | {
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
            ]
        }


def is_assumed(station: Station, *keys: str) -> bool:
    """Whether a default stands for one of these dotted keys, for a key above it or for one below it."""
    return any(
        given == key or given.startswith(f"{key}.") or key.startswith(f"{given}.")
        for key in keys
        for given in station.assumed
    )
