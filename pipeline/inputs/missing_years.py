"""Dates without their year, answered with that of the season: `14-16/2` as 2027-02-14/2027-02-16 in February 2027.

Of what a date can mean, that within the season's months is meant; of a deadline the last one before their end.
"""

from __future__ import annotations

import calendar
import dataclasses
import re
from collections.abc import Iterable, Mapping
from typing import Any

from pipeline.inputs import dates_said
from pipeline.inputs.faults import Fault
from pipeline.inputs.yaml_tree import Tree

# What is said of a date without a year, and of one whose day and month may be changed over.
OPEN = re.compile(r"the year is missing; .*|write [\d/-]+ or [\d/-]+, by which figure.*|write [\d-]+ if it is .*")
DEADLINES = ("reply_by",)
READING = re.compile(rf"{dates_said.ISO.pattern}(?:/{dates_said.ISO.pattern})?")


def with_years(faults: Iterable[Fault], season: Tree, trees: Mapping[str, Tree]) -> list[Fault]:
    """The faults, those of a date without a year with what to write in the season's; `trees` by their files."""
    span = dates_of(season)
    if span is None:
        return list(faults)
    return [
        dated(fault, trees[fault.file], span) if OPEN.search(fault.message) and fault.file in trees else fault
        for fault in faults
    ]


def dates_of(season: Tree) -> tuple[str, str] | None:
    """First and last date of a season as far as its file can be read."""
    said = season.data.get("months") or season.data.get("dates") or ""
    texts = said if isinstance(said, list) else [said]
    months = [month for text in texts if isinstance(text, str) for month in dates_said.months_meant(text)]
    dates = [date for text in texts if isinstance(text, str) for date in dates_said.ISO.findall(text)]
    if months and not dates:
        year, month = int(max(months)[:4]), int(max(months)[5:])
        return f"{min(months)}-01", f"{max(months)}-{calendar.monthrange(year, month)[1]}"
    return (min(dates), max(dates)) if dates else None


def dated(fault: Fault, tree: Tree, span: tuple[str, str]) -> Fault:
    """A fault with the date of the season; as it is where none or several can be meant."""
    text = value_at(tree.data, fault.field)
    first, last = span
    if not isinstance(text, str):
        return fault
    if fault.field.split(".")[0] == "months":
        # Months beside others of one year are of that year.
        return told(fault, dates_said.months_meant(f"{text} {first[:4]}") if first[:4] == last[:4] else [])
    years = range(int(first[:4]) - 1, int(last[:4]) + 1)
    found = [one for year in years for one in READING.findall(dates_said.in_year(text, year) or "")]
    found = found or READING.findall(dates_said.range_advice(text) or "")
    if fault.field.split(".")[-1] in DEADLINES:
        return told(fault, sorted(one for one in found if one <= last)[-1:])
    return told(fault, [one for one in found if first <= one and one[-10:] <= last])


def told(fault: Fault, meant: list[str]) -> Fault:
    """The fault with the one thing to write."""
    if len(meant) != 1:
        return fault
    why = "the year is missing; " if "the year is missing" in fault.message else ""
    return dataclasses.replace(fault, message=OPEN.sub(f"{why}by the season's write {meant[0]}.", fault.message))


def value_at(data: Any, field: str) -> Any:
    """The value of a dotted field, entries of lists counted from 1."""
    for step in field.split("."):
        if isinstance(data, dict):
            data = data.get(step)
        elif isinstance(data, list) and step.isdecimal() and 0 < int(step) <= len(data):
            data = data[int(step) - 1]
        else:
            return None
    return data
