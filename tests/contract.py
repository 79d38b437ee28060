"""Keys and columns as tables in DEVELOPERS.md: `python -m tests.contract` writes them anew between their marks.

Keys from the dataclasses of `inputs/model.py`, their meanings from the comments of the files that `new` lays out;
columns from the tables of a small plan, their units and meanings from `reports/`.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
import types
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic.fields import FieldInfo

from pipeline.inputs.horizon import HorizonKeys
from pipeline.inputs.kinds import fields_of
from pipeline.inputs.laying_out import LAYOUT
from pipeline.inputs.model import BandEquipment, DateRange, Season, Station
from pipeline.inputs.place import SiteKeys
from pipeline.plan.plan import make_plan
from pipeline.reports.column_meanings import meaning_of
from pipeline.reports.precision import decimals_of
from pipeline.reports.tables import UNITS, frames, unit_of
from tests.plan.months import TODAY, one_station, small_inputs

DEVELOPERS = Path(__file__).resolve().parents[1] / "DEVELOPERS.md"
BEGIN, END = "<!-- contract: begin -->", "<!-- contract: end -->"
FILES: dict[str, type] = {"station": Station, "season": Season}
# Units of keys alone; all others end like columns.
KEY_UNITS = {"_dbi": "decibel over isotropic", "_minutes": "minute", "_v": "volt", "_ah": "ampere-hour", "_a": "ampere",
             "_10_7_cm": "solar flux unit", "night_cost": "contact", "hour_cost": "contact",
             "site_change_cost": "contact", "hours_to_get_there": "hour"}  # fmt: skip
TYPES = {
    str: "text", int: "whole number", float: "number", bool: "true or false", dt.date: "date", dt.time: "time of day",
}  # fmt: skip
# Keys under which the reader takes a value in place of what its dataclass holds.
OTHERWISE: dict[str, type] = {"horizon": HorizonKeys}
# Keys below a name of the user's own.
NAMED: dict[str, tuple[str, type]] = {"sites": ("NAME", SiteKeys)}
# What the reader fills in by rule; no dataclass can say it.
FILLED = {
    "bands": "all of the band table",
    "band": "home's only band",
    "frequency_mhz": "the band's usual",
    "bands.BAND.antenna.dish_diameter_m": "of the band, where no antenna is given",
    "bands.BAND.antenna.gain_dbi": "of the band, where no antenna is given",
    "position.latitude_deg": "required, or locator",
    "position.longitude_deg": "required, or locator",
}
PROSE = re.compile(r"\s*# (\S.*)")
OTHER_KEY = re.compile(r"(?<=  )([a-z_]+):")
KEY = re.compile(r"( *)(- )?\{?([a-z0-9_.]+):")


@dataclasses.dataclass(frozen=True)
class Key:
    """One row: dotted path, type, unit, default, meaning."""

    path: str
    kind: str
    unit: str
    default: str
    meaning: str


def meanings(text: str) -> dict[str, str]:
    """What the comments of a laid-out file say of each dotted key; a comment serves the keys up to the next one."""
    found: dict[str, str] = {}
    said: list[str] = []
    above: list[tuple[int, str]] = []
    open_, group = False, list[str]()
    for line in text.split("\n\n", 1)[1].splitlines():
        prose = PROSE.fullmatch(line)
        if prose is not None:
            if prose[1].startswith("Or "):
                # Another way of writing the keys just named.
                for path in group:
                    found[path] += f" {prose[1]}"
                # A key that has no line of its own.
                for name in OTHER_KEY.findall(prose[1]):
                    found.setdefault(name, found[group[-1]])
                continue
            if not open_:
                said, group = [], []
            said.append(prose[1])
            open_ = True
            continue
        key = KEY.match(line.removeprefix("#"))
        if key is None:
            continue
        indent = len(key[1]) + len(key[2] or "")
        above = [one for one in above if one[0] < indent]
        path = ".".join([*(name for _, name in above), key[3]])
        above.append((indent, key[3]))
        if key[2] is None and (said and path not in found):
            found[path] = " ".join(said)
            group.append(path)
        open_ = False
    examples = (("bands.3cm", "bands.BAND"), ("sites.quarry", "sites.NAME"))
    return {path.replace(*examples[0]).replace(*examples[1]): words for path, words in found.items()}


def _bare(hint: Any) -> tuple[Any, list[Any]]:
    """A type without its bounds and without None, and the bounds."""
    if get_origin(hint) is Annotated:
        inner, *extra = get_args(hint)
        kind, more = _bare(inner)
        return kind, more + [bound for one in extra if isinstance(one, FieldInfo) for bound in one.metadata]
    if get_origin(hint) in (Union, types.UnionType):
        parts = [part for part in get_args(hint) if part is not types.NoneType]
        return _bare(parts[0]) if len(parts) == 1 else (tuple(parts), [])
    return hint, []


def kind_of(hint: Any) -> str:
    """A type in words."""
    kind, bounds = _bare(hint)
    if isinstance(kind, tuple):
        return " or ".join(kind_of(part) for part in kind)
    if get_origin(kind) is Literal:
        return ", ".join(map(str, get_args(kind)))
    if get_origin(kind) is tuple:
        inner = get_args(kind)[0]
        if inner is DateRange:
            return "list of dates, single or first/last"
        return f"list of {'entries' if dataclasses.is_dataclass(_bare(inner)[0]) else kind_of(inner)}"
    if dataclasses.is_dataclass(kind):
        return "first/last" if kind is DateRange else "keys"
    words = {"ge": "from {:g}", "gt": "above {:g}", "le": "to {:g}", "lt": "below {:g}"}
    said = [
        words[name].format(getattr(bound, name))
        for name in words
        for bound in bounds
        if hasattr(bound, name) and kind in (int, float)
    ]
    return " ".join([TYPES[kind], *said])


def _inside(hint: Any) -> Iterator[tuple[str, type]]:
    """Dataclasses whose keys stand under a key, with what is put behind its path."""
    kind, _ = _bare(hint)
    for part in kind if isinstance(kind, tuple) else (kind,):
        inner, _ = _bare(part)
        if get_origin(inner) is tuple:
            inner, mark = _bare(get_args(inner)[0])[0], "[]"
        elif get_origin(inner) is dict:
            inner, mark = get_args(inner)[1], ".BAND"
        else:
            mark = ""
        if dataclasses.is_dataclass(inner) and isinstance(inner, type) and inner is not DateRange:
            yield mark, inner


def _default(cls: type, name: str, path: str) -> str:
    field = next(one for one in dataclasses.fields(cls) if one.name == name)
    if path in FILLED:
        return FILLED[path]
    if field.default is dataclasses.MISSING:
        if cls is BandEquipment:
            return "of the band"
        return "required" if field.default_factory is dataclasses.MISSING else ""
    value = getattr(field.default, "default", field.default)
    if value is None or value == ():
        return "none"
    if isinstance(value, tuple):
        return ", ".join(map(str, value))
    return str(value).lower() if isinstance(value, bool) else str(value)


def keys(cls: type, said: dict[str, str], path: str = "", inherited: str = "") -> Iterator[Key]:
    """All keys under a dataclass, in its order; a key that no comment names has the meaning of the one above it."""
    for key, (name, hint) in fields_of(cls).items():
        here = f"{path}{key}"
        meaning = said.get(here.replace("[]", ""), inherited)
        if here in NAMED:
            mark, inner = NAMED[here]
            yield from keys(inner, said, f"{here}.{mark}.", meaning)
            continue
        inside = list(_inside(hint))
        if not inside or kind_of_parts(hint):
            unit = next((unit for end, unit in KEY_UNITS.items() if here.endswith(end)), None) or _unit(key)
            unit = "minute" if path == "policy.setup_minutes." else unit
            yield Key(here, kind_of(hint), unit, _default(cls, name, here), meaning)
        for mark, inner in inside:
            yield from keys(inner, said, f"{here}{mark}.", meaning)
        if here in OTHERWISE:
            yield from keys(OTHERWISE[here], said, f"{here}.", meaning)


def kind_of_parts(hint: Any) -> bool:
    """Whether a key with keys below may also hold a word."""
    return isinstance(_bare(hint)[0], tuple)


def _unit(key: str) -> str:
    return next((unit for ending, unit in UNITS.items() if key.endswith(ending)), "")


def _table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    lines = [head, ("---",) * len(head), *rows]
    return "\n".join(f"| {' | '.join(cell.replace('|', '/') for cell in line)} |" for line in lines)


def _key_table(file: str) -> str:
    said = meanings((LAYOUT / f"{file}.yaml").read_text(encoding="utf-8"))
    rows, before = [], ""
    for key in keys(FILES[file], said):
        rows.append(
            (f"`{key.path}`", key.kind, key.unit, key.default, "as above" if key.meaning == before else key.meaning)
        )
        before = key.meaning
    return _table(("key", "type", "unit", "default", "meaning"), rows)


def columns() -> dict[str, list[str]]:
    """The columns of every table, from a plan without partners: all of them are there."""
    day = dt.date(2027, 3, 5)
    plan = make_plan(small_inputs(one_station("QA1AAA", 50.0, 10.0, 100.0), first=day, last=day), TODAY)
    return {name: [str(column) for column in frame.columns] for name, frame in frames(plan).items()}


def contract() -> str:
    """The whole text between the marks."""
    parts = [
        "Written by `python -m tests.contract`; edit the dataclasses, the files in `pipeline/data/new_folder/` or"
        " `reports/column_meanings.py`.",
        "`[]` stands for each entry of a list, `BAND` for a band's name; `of the band` is the figure that"
        " `pipeline/data/bands.yaml` holds for it, and pages mark it as assumed.",
    ]
    parts += [f"### Keys of a {file} file\n{_key_table(file)}" for file in FILES]
    for name, names in columns().items():
        rows = [(f"`{one}`", _told_to(one), meaning_of(name, one)) for one in names]
        parts.append(f"### Columns of {name}.csv\n{_table(('column', 'unit', 'meaning'), rows)}")
    return "\n\n".join(parts)


def _told_to(column: str) -> str:
    """The unit, and to how much of it the files tell it."""
    unit, decimals = unit_of(column) or "", decimals_of(column)
    return unit if decimals is None else f"{unit}, to {10.0**-decimals:.{decimals}f}"


def refreshed(text: str) -> str:
    """DEVELOPERS.md with the contract as it is now. Raises ValueError where the marks are gone."""
    before, rest = text.split(f"{BEGIN}\n", 1)
    _, after = rest.split(f"\n{END}", 1)
    return f"{before}{BEGIN}\n{contract()}\n{END}{after}"


if __name__ == "__main__":
    DEVELOPERS.write_text(refreshed(DEVELOPERS.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
