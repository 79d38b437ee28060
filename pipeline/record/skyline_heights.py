"""Measured heights of a skyline as people give them: on the command line, or in the table of the survey card.

Every fault is told in one go, by line where there is one.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.inputs import numbers_said, scalars
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.survey_table import slope_deg
from pipeline.inputs.tables import with_decimal_point
from pipeline.inputs.yaml_tree import decode, printable, read_bytes
from pipeline.record.skyline_points import SAME_DEG, apart_deg

# Columns of the card that are read back; the others are ours alone.
CALL, AZIMUTH, MEASURED = "call", "azimuth_deg", "measured_elevation_deg"
LOWEST_DEG, HIGHEST_DEG = -10.0, 90.0
# Azimuths that all stay so low are heights.
LOW_DEG = 45.0
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
        said.append(_Said(bare_degrees(azimuth), bare_degrees(elevation), f"--heights {printable(text)}", None))
    return Heights(_checked(said, faults))


def bare_degrees(cell: str) -> str:
    """A figure of degrees without blanks and without its sign."""
    return cell.strip().rstrip("°º").rstrip()


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
        _Said(_figure(row[AZIMUTH], parted), height, name, number)
        for number, row in lines
        if (height := _figure(row[MEASURED], parted))
    ]
    calls = {(row.get(CALL) or "").strip() for _, row in lines} - {""}
    faults = []
    if len(calls) > 1:
        message = f"the rows name {len(calls)} stations, {', '.join(sorted(calls))}; a table for each is meant."
        faults.append(Fault(name, None, CALL, message))
    return Heights(_checked(said, faults), next(iter(calls), ""))


def _figure(cell: str | None, parted: str) -> str:
    """A cell of degrees as it is read, empty where nothing stands in it."""
    return with_decimal_point(bare_degrees(cell or ""), parted)


def _turned(said: Sequence[_Said]) -> list[Fault]:
    """One fault where the heights go round and the azimuths stay low: the two stand in each other's place."""
    try:
        pairs = [(float(one.azimuth), float(one.elevation)) for one in said]
    except ValueError:
        return []
    if len(pairs) < 2 or max(low for low, _ in pairs) > LOW_DEG or max(high for _, high in pairs) <= HIGHEST_DEG:
        return []
    first = said[0]
    meant = f"the azimuth is {first.elevation}, the height {first.azimuth}, and so in each line."
    return [Fault(first.file, first.line, AZIMUTH, f"azimuth and height stand in each other's place; {meant}")]


def _checked(said: Sequence[_Said], faults: list[Fault]) -> dict[float, float]:
    if turned := _turned(said):
        raise InputFaults([*faults, *turned])
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
        slope = slope_deg(text)
        if what == "height" and slope is not None:
            message = f"the height is '{printable(text)}', a slope; in degrees it is {slope}: write {slope}."
            faults.append(Fault(one.file, one.line, what, message))
            return None
        key = "elevation_deg" if what == "height" else "azimuth_deg"
        own = numbers_said.advice(key, text, lambda figure: between[0] <= figure <= between[1]) or refusal.advice
        faults.append(Fault(one.file, one.line, what, f"the {what} is '{printable(text)}'; {own}"))
        return None
    if not between[0] <= value <= between[1]:
        faults.append(Fault(one.file, one.line, what, f"the {what} is {value:g}; {meant}"))
        return None
    return value
