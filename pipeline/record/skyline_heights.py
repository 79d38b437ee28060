"""Measured heights of a skyline as people give them: on the command line, or in the table of the survey card.

Every fault is told in one go, by line where there is one.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.inputs import scalars
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.yaml_tree import decode, printable, read_bytes
from pipeline.record.skyline_points import SAME_DEG, apart_deg

# Columns of the card that are read back; the others are ours alone.
CALL, AZIMUTH, MEASURED = "call", "azimuth_deg", "measured_elevation_deg"
LOWEST_DEG, HIGHEST_DEG = -10.0, 90.0
TURN_DEG = 360.0
HEIGHT = re.compile(r"\d+(\.\d+)?=[+-]?\d+(\.\d+)?", re.ASCII)


@dataclass(frozen=True)
class Heights:
    """Elevations by azimuth, degrees; `call` is whose skyline it is, where a table tells."""

    by_azimuth: dict[float, float]
    call: str = ""


@dataclass(frozen=True)
class _Said:
    """A height as it was written, and where."""

    azimuth: str
    elevation: str
    file: str
    line: int | None


def typed_heights(texts: Sequence[str]) -> Heights:
    """Of `300=6,305=7.5`. Raises InputFaults."""
    meant = as_taken(texts)
    if meant:
        message = f"write --heights {meant}, with decimal points and a comma between two heights."
        raise InputFaults([Fault(f"--heights {printable(','.join(texts))}", None, "", message)])
    said, faults = [], []
    for text in (one.strip() for words in texts for one in words.split(",")):
        azimuth, equals, elevation = text.partition("=")
        if not equals:
            message = f"{printable(text)!r}; an azimuth and its height are meant, such as 300=6."
            faults.append(Fault("--heights", None, "", message))
            continue
        said.append(_Said(azimuth.strip(), elevation.strip(), f"--heights {printable(text)}", None))
    return Heights(_checked(said, faults))


def as_taken(texts: Sequence[str]) -> str:
    """The heights as they are taken where commas part decimals or semicolons heights; empty where neither is sure."""
    pieces = [one for words in texts for one in re.split(r"[,;\s]+", words.strip(" ,;")) if one]
    joined: list[str] = []
    for piece in pieces:
        if "=" in piece:
            joined.append(piece)
        elif joined and piece.isdecimal() and "." not in joined[-1].partition("=")[2]:
            joined[-1] += f".{piece}"
        else:
            return ""
    is_as_typed = joined == [one.strip() for words in texts for one in words.split(",")]
    return "" if is_as_typed or not all(map(HEIGHT.fullmatch, joined)) else ",".join(joined)


def card_heights(path: Path) -> Heights:
    """Of a filled card; rows without a height are left out. Raises InputFaults."""
    name = path.name
    text = decode(read_bytes(path), name)
    # A spreadsheet in many a country parts columns by semicolons.
    parted = ";" if text.partition("\n")[0].count(";") > text.partition("\n")[0].count(",") else ","
    try:
        rows = csv.DictReader(io.StringIO(text, newline=""), delimiter=parted)
        lines = [(rows.line_num, row) for row in rows]
    except csv.Error:
        raise InputFaults([Fault(name, None, "", "the file is no CSV table; the survey card's is meant.")]) from None
    missing = [column for column in (AZIMUTH, MEASURED) if column not in (rows.fieldnames or [])]
    if missing:
        message = f"the column {missing[0]} is missing; the table of the survey card is meant."
        raise InputFaults([Fault(name, 1, "", message)])
    said = [
        _Said((row[AZIMUTH] or "").strip(), height, name, number)
        for number, row in lines
        if (height := (row[MEASURED] or "").strip())
    ]
    calls = {(row.get(CALL) or "").strip() for _, row in lines} - {""}
    faults = []
    if len(calls) > 1:
        message = f"the rows name {len(calls)} stations, {', '.join(sorted(calls))}; a table for each is meant."
        faults.append(Fault(name, None, CALL, message))
    return Heights(_checked(said, faults), next(iter(calls), ""))


def _checked(said: Iterable[_Said], faults: list[Fault]) -> dict[float, float]:
    found: dict[float, float] = {}
    for one in said:
        azimuth = _number(one, one.azimuth, "azimuth", (0.0, TURN_DEG), faults)
        elevation = _number(one, one.elevation, "height", (LOWEST_DEG, HIGHEST_DEG), faults)
        if azimuth is None or elevation is None:
            continue
        azimuth %= TURN_DEG
        near = next((known for known in found if apart_deg(known, azimuth) < SAME_DEG), None)
        if near is not None:
            message = f"azimuth {azimuth:g} and {near:g} are one place on a skyline; keep one of the two."
            faults.append(Fault(one.file, one.line, AZIMUTH, message))
            continue
        found[azimuth] = elevation
    if faults:
        raise InputFaults(faults)
    return found


def _number(one: _Said, text: str, what: str, between: tuple[float, float], faults: list[Fault]) -> float | None:
    """The figure, or a fault that tells what would be right."""
    meant = f"degrees from {between[0]:g} to {between[1]:g} are meant."
    try:
        value = scalars.number(text)
    except scalars.Refusal as refusal:
        faults.append(Fault(one.file, one.line, what, f"the {what} is '{printable(text)}'; {refusal.advice}"))
        return None
    if not between[0] <= value <= between[1]:
        faults.append(Fault(one.file, one.line, what, f"the {what} is {value:g}; {meant}"))
        return None
    return value
