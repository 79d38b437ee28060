"""The data files: every DataFrame of the plan as CSV, all of it with units as plan.json, its provenance as run.json.

Full digits, ISO 8601 with Z and fractions, dates as YYYY-MM-DD, `\\n` line ends; no clock time and no path of the
machine, so that the same inputs give the same bytes.
"""

from __future__ import annotations

import datetime as dt
import json
import platform
from importlib.metadata import PackageNotFoundError, version
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pipeline import __version__
from pipeline.reports import formats

if TYPE_CHECKING:
    from pipeline.planning.plan import Plan

FRAMES = ("windows", "samples", "nights", "partners", "agenda")
PACKAGES = (
    "numpy",
    "pandas",
    "scipy",
    "skyfield",
    "skyfield-data",
    "astropy-iers-data",
    "pydantic",
    "pyyaml",
    "jinja2",
    "weasyprint",
    "font-source-sans-pro",
    "tzdata",
)
# The longest ending that fits a column's name gives its unit.
UNITS = {
    "_hz_per_s": "hertz per second",
    "_mhz": "megahertz",
    "_hz": "hertz",
    "_db": "decibel",
    "_deg": "degree",
    "_km": "kilometre",
    "_min": "minute",
    "_k": "kelvin",
    "_s": "second",
    "_w": "watt",
    "_m": "metre",
    "_utc": "UTC, ISO 8601",
    "_fraction": "1 (0 to 1)",
    "_local": "local time, ISO 8601",
}
NAMED_UNITS = {
    "night": "date of the home station's local noon at which the night begins",
    "best_night": "date of the home station's local noon at which the night begins",
    "partners_in_reach": "count",
    "windows": "count",
    "hours": "hour",
    "chance": "1 (0 to 1)",
    "rank": "1 is best",
    "slot": "running number",
}


def frames(plan: Plan) -> dict[str, pd.DataFrame]:
    """The plan's tables that exist so far, by name."""
    found = {name: getattr(plan, name, None) for name in FRAMES}
    return {name: frame for name, frame in found.items() if isinstance(frame, pd.DataFrame)}


def data_files(plan: Plan) -> dict[str, str]:
    """File name to text for the whole `data/` folder."""
    texts = {f"{name}.csv": csv_text(frame) for name, frame in frames(plan).items()}
    texts["plan.json"] = plan_json(plan)
    texts["run.json"] = run_json(plan)
    return texts


def _stamps(column: pd.Series[Any]) -> list[str | None]:
    """Instants as text: microseconds, Z; NaT as None."""
    if column.dt.tz is None:
        raise ValueError(f"the column {column.name} has instants without a zone")
    naive = column.dt.tz_convert("UTC").dt.tz_localize(None).to_numpy(dtype="datetime64[us]")
    missing = np.isnat(naive)
    return [None if gap else f"{text}Z" for text, gap in zip(np.datetime_as_string(naive), missing, strict=True)]


def _plain(value: Any) -> Any:
    """One value as JSON knows it."""
    if isinstance(value, pd.Timestamp | dt.datetime):
        moment = None if pd.isna(value) else formats.instant(value)
        return None if moment is None else moment.strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or value is pd.NaT or (isinstance(value, float) and not np.isfinite(value)):
        return None
    return value


def column_values(column: pd.Series[Any]) -> list[Any]:
    """A column as plain Python values, None for what is missing."""
    if isinstance(column.dtype, pd.DatetimeTZDtype) or column.dtype.kind == "M":
        return list(_stamps(column))
    if column.dtype.kind == "f":
        return [value if ok else None for value, ok in zip(column.tolist(), np.isfinite(column), strict=True)]
    if column.dtype.kind in "iub":
        return list(column.tolist())
    return [None if formats.is_missing(value) else _plain(value) for value in column.tolist()]


def csv_text(frame: pd.DataFrame) -> str:
    """A DataFrame as CSV: header, `\\n` ends, empty cells for what is missing."""
    plain = pd.DataFrame({name: pd.Series(column_values(frame[name]), dtype=object) for name in frame.columns})
    text = plain.to_csv(index=False, lineterminator="\n")
    return str(text)


def unit_of(name: str) -> str | None:
    """The unit of a column by its name; None for words."""
    if name in NAMED_UNITS:
        return NAMED_UNITS[name]
    return next((unit for ending, unit in UNITS.items() if name.endswith(ending)), None)


def _line(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _records(frame: pd.DataFrame) -> str:
    """One line a row."""
    columns = [column_values(frame[name]) for name in frame.columns]
    names = [str(name) for name in frame.columns]
    rows = [_line(dict(zip(names, row, strict=True))) for row in zip(*columns, strict=True)]
    return "[\n" + ",\n".join(f"  {row}" for row in rows) + "\n]" if rows else "[]"


def _columns(frame: pd.DataFrame) -> str:
    """One line a column: a month of samples by rows would repeat every name ten thousand times."""
    lines = [f"  {_line(str(name))}: {_line(column_values(frame[name]))}" for name in frame.columns]
    return "{\n" + ",\n".join(lines) + "\n}"


def plan_json(plan: Plan) -> str:
    """Everything with its units. `samples` is an object of columns, the other tables are lists of rows."""
    tables = frames(plan)
    names = sorted({str(name) for frame in tables.values() for name in frame.columns})
    heads: dict[str, Any] = {
        "plan": {
            "number": plan.number,
            "title": plan.inputs.season.title,
            "home": plan.inputs.home.call,
            "band": plan.band,
            "frequency_mhz": plan.frequency_mhz,
            "first_night": plan.first_night.isoformat(),
            "last_night": plan.last_night.isoformat(),
            "time_zone": plan.zone.key,
        },
        "units": {name: unit for name in names if (unit := unit_of(name))},
        "notes": list(plan.notes),
        "assumed": {call: list(keys) for call, keys in sorted(plan.assumed.items())},
    }
    parts = [f"{_line(name)}: {_line(value)}" for name, value in heads.items()]
    parts += [
        f"{_line(name)}: {_columns(frame) if name == 'samples' else _records(frame)}" for name, frame in tables.items()
    ]
    return "{\n" + ",\n".join(parts) + "\n}\n"


def _version(package: str) -> str | None:
    try:
        return version(package)
    except PackageNotFoundError:
        return None


def run_json(plan: Plan) -> str:
    """What the plan was made from: inputs and their hashes, versions, ephemeris, UT1 source, warnings, assumptions."""
    record = {
        "plan_number": plan.number,
        "inputs_sha256": plan.inputs.digest,
        # Names only: the folder in which somebody keeps the files is nobody's business.
        "inputs": {_relative(name): digest for name, digest in sorted(plan.inputs.files.items())},
        "versions": {
            "mutual-moon": __version__,
            "python": platform.python_version(),
            **{package: _version(package) for package in PACKAGES},
        },
        "ephemeris": plan.kernel,
        "ut1": plan.clock_note,
        "notes": list(plan.notes),
        "warnings": list(plan.inputs.warnings),
        "assumed": {call: list(keys) for call, keys in sorted(plan.assumed.items())},
    }
    return json.dumps(record, ensure_ascii=False, allow_nan=False, indent=2) + "\n"


def _relative(name: str) -> str:
    path = PurePath(name)
    return path.name if path.is_absolute() else path.as_posix()
