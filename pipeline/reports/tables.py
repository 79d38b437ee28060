"""The data files: every DataFrame of the plan as CSV, all of it with units as plan.json, its provenance as run.json.

The digits that are known, ISO 8601 with Z and tenths of a second, dates as YYYY-MM-DD, `\\n` line ends; no clock time
and no path of the machine, so that the same inputs give the same bytes.
"""

from __future__ import annotations

import dataclasses
import json
import platform
from collections.abc import Iterator, Mapping, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

import pandas as pd

from pipeline import __version__
from pipeline.agenda.notes import Proof
from pipeline.inputs.atomic_writing import Content
from pipeline.pairs.measured import measured_correction
from pipeline.plan.tables import trips_table
from pipeline.reports.agenda_words import agenda_in_words
from pipeline.reports.precision import rounded_tree
from pipeline.reports.table_text import BlockText, Column, Parts, columns_of, csv_of, json_rows, json_text
from pipeline.wording.absences import CAUSE_WORDS, partner_absence_words
from pipeline.wording.agenda import note_words
from pipeline.wording.idle_nights import idle_night_words
from pipeline.wording.nights import night_words
from pipeline.wording.no_windows import no_window_words

if TYPE_CHECKING:
    from pipeline.agenda.reserves import Reserve
    from pipeline.outlook.facts import Fact
    from pipeline.plan.plan import Plan
    from pipeline.record.inputs import Inputs

FRAMES = ("windows", "samples", "nights", "partners", "agenda", "alternatives")
ABSENCES = ("partner", "cause", "second_cause", "change", "slot_start_utc", "chance")
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
    "_local": "local time with its offset from UTC",
}
NAMED_UNITS = {
    "night": "the local date at home on which the Moon stands highest (the date before until 06:00)",
    "best_night": "the local date at home on which the Moon stands highest (the date before until 06:00)",
    "partners_in_reach": "count",
    "windows": "count",
    "hours": "hour",
    "usable_hours": "hour",
    "contacts_expected": "contacts",
    "contacts_in_agenda": "contacts",
    "contacts_if_added": "contacts",
    "chance": "1 (0 to 1)",
    "chance_met": "1 (0 to 1)",
    "trips": "count",
    "hours_on_site": "hour",
    "joint_chance": "1 (0 to 1), of all slots with this partner and operator",
    "joint_chance_met": "1 (0 to 1), of all slots with this partner and operator",
    "window": "row of windows, the first is 0; -1 for none",
    "rank": "1 is best",
    "slot": "running number",
}


def frames(plan: Plan) -> dict[str, pd.DataFrame]:
    """The plan's tables by name, reasons in words beside their partners and nights, slots by both clocks."""
    found: dict[str, pd.DataFrame] = {name: getattr(plan, name) for name in FRAMES}
    partners, home = found["partners"], plan.inputs.home.call
    calls = [station.call for station in plan.inputs.partners]
    limits = plan.inputs.season.policy.outcome_thresholds.limits
    no_window = [
        no_window_words(one, home, call) if one else "" for one, call in zip(plan.no_windows, calls, strict=True)
    ]
    no_slot = [
        partner_absence_words(one, home, call, plan.zone, limits) if one else ""
        for one, call in zip(plan.absences, calls, strict=True)
    ]
    partners = partners.assign(no_slot_reason=no_slot)
    partners.insert(partners.columns.get_loc("ground_distance_km"), "no_window_reason", no_window)
    idle = [idle_night_words(one) if one else "" for one in plan.idle_nights]
    nights = _with_reasons(found["nights"], plan.night_facts).assign(no_slot_reason=idle)
    words = {"partners": partners, "nights": nights, "agenda": agenda_in_words(plan)}
    return found | words | {"trips": trips_table(plan.trips), "absences": absences_table(plan)}


def absences_table(plan: Plan) -> pd.DataFrame:
    """A row for each partner with fewer slots than it wants; the last three columns are empty where nothing helps."""
    rows = [
        {
            "partner": station.call,
            "cause": CAUSE_WORDS[one.cause],
            "second_cause": CAUSE_WORDS[one.second] if one.second else None,
            "change": one.tried.change if one.tried else None,
            "slot_start_utc": one.tried.slot_start_utc if one.tried else None,
            "chance": one.tried.chance if one.tried else None,
        }
        for station, one in zip(plan.inputs.partners, plan.absences, strict=True)
        if one is not None and one.wanted > 0
    ]
    frame = pd.DataFrame(rows, columns=list(ABSENCES))
    frame["slot_start_utc"] = pd.DatetimeIndex(pd.to_datetime(frame["slot_start_utc"], utc=True)).as_unit("us")
    return frame.astype({"chance": float})


def _with_reasons(nights: pd.DataFrame, facts: Sequence[Sequence[Fact]]) -> pd.DataFrame:
    """The nights with their reasons in words, behind the Moon's rise and set."""
    made = nights.copy()
    place = nights.columns.get_loc("home_moonset_utc")
    made.insert(int(place) + 1, "reason", [night_words(mine) for mine in facts])
    return made


def data_files(plan: Plan, pdf_engine: str | None = None) -> dict[str, Content]:
    """File name to content for the whole `data/` folder, to be written in this order; `pdf_engine` as in `run_json`."""
    found = frames(plan)
    samples = BlockText(found["samples"])
    written = {name: columns_of(frame) for name, frame in found.items() if name != "samples"}
    files: dict[str, Content] = {
        f"{name}.csv": Parts(samples.csv) if name == "samples" else csv_of(written[name]).encode() for name in found
    }
    files["plan.json"] = Parts(lambda: _plan_json(plan, list(found), written, samples))
    files["run.json"] = run_json(plan, pdf_engine).encode()
    return files


def csv_text(frame: pd.DataFrame) -> str:
    """A DataFrame as CSV: header, `\\n` ends, empty cells for what is missing."""
    return csv_of(columns_of(frame))


def agenda_json(plan: Plan) -> str:
    """The agenda alone as JSON: a list of rows with the columns of agenda.csv."""
    return json_rows(columns_of(agenda_in_words(plan))) + "\n"


def unit_of(name: str) -> str | None:
    """The unit of a column by its name; None for words."""
    if name in NAMED_UNITS:
        return NAMED_UNITS[name]
    return next((unit for ending, unit in UNITS.items() if name.endswith(ending)), None)


def plan_json(plan: Plan) -> str:
    """Everything with its units. `samples` is an object of columns, the other tables are lists of rows."""
    found = frames(plan)
    written = {name: columns_of(frame) for name, frame in found.items() if name != "samples"}
    return b"".join(_plan_json(plan, list(found), written, BlockText(found["samples"]))).decode()


def _plan_json(
    plan: Plan, tables: Sequence[str], written: Mapping[str, list[Column]], samples: BlockText
) -> Iterator[bytes]:
    """The same in parts; `written` are the texts of all these tables but the samples."""
    names = sorted({*(column.name for columns in written.values() for column in columns), *samples.frame.columns})
    heads: dict[str, Any] = {
        "plan": {
            "number": plan.number,
            "title": plan.inputs.season.title,
            "home": plan.inputs.home.call,
            "band": plan.band,
            "frequency_mhz": plan.frequency_mhz,
            "first_night": plan.first_night.isoformat(),
            "last_night": plan.last_night.isoformat(),
            "planned_from": plan.inputs.planned_from.isoformat() if plan.inputs.planned_from else None,
            **_sites(plan.inputs),
            "time_zone": plan.zone.key,
        },
        "units": {name: unit for name in names if (unit := unit_of(name))},
        "notes": list(plan.notes),
        "reserve_nights": [_reserve(one) for one in plan.reserves],
        "agenda_notes": [note_words(note) for note in plan.agenda_notes],
        "assumed": {call: list(keys) for call, keys in sorted(plan.assumed.items())},
        "corrections": [dataclasses.asdict(one) for one in plan.inputs.record.corrections],
        "measured": _measured(plan.inputs),
    }
    parts = [f"{json_text(name)}: {json_text(rounded_tree(value))}" for name, value in heads.items()]
    yield ("{\n" + ",\n".join(parts)).encode()
    for name in tables:
        yield f",\n{json_text(name)}: ".encode()
        if name == "samples":
            yield from samples.json()
        else:
            yield json_rows(written[name]).encode()
    yield b"\n}\n"


def _reserve(one: Reserve) -> dict[str, Any]:
    night = None if one.reserve is None else one.reserve.isoformat()
    return {"night": one.night.isoformat(), "reserve_night": night, "partners": list(one.partners)}


def _version(package: str) -> str | None:
    try:
        return version(package)
    except PackageNotFoundError:
        return None


def run_json(plan: Plan, pdf_engine: str | None = None) -> str:
    """What the plan was made from: inputs and their hashes, versions, ephemeris, UT1 source, warnings, assumptions.

    `pdf_engine` is what makes the PDFs, with its version; None where none are made. No plan number follows from it.
    """
    record = {
        "plan_number": plan.number,
        "home": plan.inputs.home.call,
        "planned_from": plan.inputs.planned_from.isoformat() if plan.inputs.planned_from else None,
        **_sites(plan.inputs),
        "inputs_sha256": plan.inputs.digest,
        "inputs": inputs_of(plan.inputs),
        # Apart from the inputs: what was sent since makes no other plan.
        "ledger": plan.inputs.record.ledger_sha256 or None,
        "versions": {
            "mutual-moon": __version__,
            "python": platform.python_version(),
            **{package: _version(package) for package in PACKAGES},
        },
        "pdf_engine": pdf_engine,
        "agenda_gap_contacts": next((note.gap for note in plan.agenda_notes if isinstance(note, Proof)), None),
        "ephemeris": plan.kernel,
        "ut1": plan.clock_note,
        "notes": list(plan.notes),
        "warnings": list(plan.inputs.warnings),
        "assumed": {call: list(keys) for call, keys in sorted(plan.assumed.items())},
        "corrections": [dataclasses.asdict(one) for one in plan.inputs.record.corrections],
        "measured": _measured(plan.inputs),
    }
    return json.dumps(rounded_tree(record), ensure_ascii=False, allow_nan=False, indent=2) + "\n"


def _sites(inputs: Inputs) -> dict[str, dict[str, str]]:
    """The site of each night, where home moves."""
    return {"sites": {night.isoformat(): name for night, name in inputs.sites.items()}} if inputs.sites else {}


def _measured(inputs: Inputs) -> list[dict[str, Any]]:
    """What readings of noise tell of each station, in the order of the record."""
    keys = dict.fromkeys((one.call, one.band) for one in inputs.record.measurements)
    found = (measured_correction(inputs, *key) for key in keys)
    return [dataclasses.asdict(one) for one in found if one is not None]


def inputs_of(inputs: Inputs) -> dict[str, str]:
    """Hashes of the input files. Names only: the folder in which somebody keeps them is nobody's business."""
    return {_relative(name): digest for name, digest in sorted(inputs.files.items())}


def _relative(name: str) -> str:
    path = PurePath(name)
    return path.name if path.is_absolute() else path.as_posix()
