"""Columns of tables as text, each value once: the cells of a CSV file and the values of JSON differ little.

The digits that are known (`precision`), ISO 8601 with Z and tenths of a second, dates as YYYY-MM-DD.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from pipeline.reports.precision import TENTHS_OF_A_SECOND, rounded
from pipeline.windows.frames import is_missing
from pipeline.windows.instants import as_instant

NULL = "null"
# Rows of a large table that are text at a time: a cell takes some hundred bytes until it is joined with others.
BLOCK_ROWS = 10_000


@dataclass(frozen=True)
class Column:
    """One column, a text a row: as a cell of CSV (empty where it is missing) and as JSON."""

    name: str
    cells: list[str]
    json: list[str]


def columns_of(frame: pd.DataFrame) -> list[Column]:
    """All columns of a table. Raises ValueError where one has instants without a zone."""
    return [_column(str(name), frame[name]) for name in frame.columns]


def _column(name: str, column: pd.Series[Any]) -> Column:
    if isinstance(column.dtype, pd.DatetimeTZDtype) or column.dtype.kind == "M":
        cells = _stamps(column)
        return Column(name, cells, [f'"{cell}"' if cell else NULL for cell in cells])
    if column.dtype.kind == "f":
        values = rounded(name, column.to_numpy())
        # Many values come often: each is text once.
        place, each = pd.factorize(values)
        texts = np.array([*map(repr, each.tolist()), ""], dtype=object)
        cells = texts[place].tolist()
        for row in np.flatnonzero(np.isinf(values)):
            cells[row] = ""
        return Column(name, cells, [cell or NULL for cell in cells])
    if column.dtype.kind in "iu":
        cells = list(map(str, column.tolist()))
        return Column(name, cells, cells)
    return _mixed(name, column.tolist())


def _mixed(name: str, values: list[Any]) -> Column:
    """Words, dates, truth values: few different ones, so that each is looked at and written once."""
    plain = {value: None if is_missing(value) else _plain(name, value) for value in dict.fromkeys(values)}
    cells = {value: "" if one is None else str(one) for value, one in plain.items()}
    texts = {value: json_text(one) for value, one in plain.items()}
    return Column(name, [cells[value] for value in values], [texts[value] for value in values])


def _stamps(column: pd.Series[Any]) -> list[str]:
    """Instants as text: tenths of a second, Z; empty for NaT."""
    if column.dt.tz is None:
        raise ValueError(f"the column {column.name} has instants without a zone")
    naive = column.dt.tz_convert("UTC").dt.tz_localize(None).to_numpy(dtype="datetime64[us]")
    missing = np.isnat(naive)
    tenths = (naive.astype(np.int64) + TENTHS_OF_A_SECOND // 2) // TENTHS_OF_A_SECOND
    stamps = np.datetime_as_string((tenths * 100).astype("datetime64[ms]"), unit="ms")
    return ["" if gap else f"{text[:-2]}Z" for text, gap in zip(stamps, missing, strict=True)]


def _plain(name: str, value: Any) -> Any:
    """One value as JSON knows it."""
    if isinstance(value, pd.Timestamp | dt.datetime):
        return _stamps(pd.Series([as_instant(value)], name=name))[0]
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, np.generic):
        value = value.item()
    if not isinstance(value, float):
        return value
    return float(rounded(name, value)) if np.isfinite(value) else None


def json_text(value: Any) -> str:
    """JSON on one line, letters as they are."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def csv_of(columns: list[Column], header: bool = True) -> str:
    """A table as CSV: header, `\\n` ends, empty cells for what is missing."""
    lines = [[column.name, *column.cells] if header else column.cells for column in columns]
    count = len(lines[0]) if lines else 0
    # The writer looks at each letter of each cell. Where no cell holds a sign that counts, a join gives the same.
    joined = "\n".join([*map(",".join, zip(*lines, strict=True)), ""])
    as_counted = joined.count("\n") == count and joined.count(",") == count * (len(lines) - 1)
    if len(lines) > 1 and as_counted and '"' not in joined and "\r" not in joined:
        return joined
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(zip(*lines, strict=True))
    return text.getvalue()


def json_rows(columns: list[Column]) -> str:
    """A list of objects, one a line."""
    names = [json_text(column.name) for column in columns]
    rows = zip(*(column.json for column in columns), strict=True)
    lines = [", ".join(f"{name}: {value}" for name, value in zip(names, row, strict=True)) for row in rows]
    return "[\n" + ",\n".join(f"  {{{line}}}" for line in lines) + "\n]" if lines else "[]"


@dataclass(frozen=True)
class Parts:
    """A file's bytes in parts that are made anew each time they are read."""

    make: Callable[[], Iterator[bytes]]

    def __iter__(self) -> Iterator[bytes]:
        return self.make()


@dataclass
class BlockText:
    """A large table as bytes, some rows at a time: as CSV, and as a JSON object of lists. Each value is text once.

    Of the JSON what is joined is held, from the reading of the CSV on.
    """

    frame: pd.DataFrame
    joined: dict[str, list[bytes]] = field(default_factory=dict)

    def csv(self) -> Iterator[bytes]:
        """The table as CSV. Raises ValueError where a column has instants without a zone."""
        self.joined = {str(name): [] for name in self.frame.columns}
        for first in range(0, max(len(self.frame), 1), BLOCK_ROWS):
            columns = columns_of(self.frame.iloc[first : first + BLOCK_ROWS])
            for column in columns:
                self.joined[column.name].append(", ".join(column.json).encode())
            yield csv_of(columns, header=first == 0).encode()

    def json(self) -> Iterator[bytes]:
        """An object of lists, a column a line: by rows a month of samples would repeat every name a thousand times."""
        if not self.joined:
            for _ in self.csv():
                pass
        joined, self.joined = self.joined, {}
        yield b"{\n"
        for place, name in enumerate(list(joined)):
            yield (",\n" if place else "").encode() + f"  {json_text(name)}: [".encode()
            yield b", ".join(joined.pop(name))
            yield b"]"
        yield b"\n}"
