"""The Sun's 10.7 cm flux as it was observed, day by day, from a text table that the operator saved.

Two layouts of open daily tables of national space-weather services, by their columns (from memory). One has a head line
with `fluxdate` (YYYYMMDD) and `fluxobsflux` and several readings a day; in the other rows begin with year, month, day
and the flux, and notes stand behind `:` or `#`.
"""

from __future__ import annotations

import datetime as dt
import re
from statistics import median

from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.yaml_tree import decode, printable

DATE_COLUMN, FLUX_COLUMN = "fluxdate", "fluxobsflux"
NOTES = (":", "#")
RULE = re.compile(r"[-=\s]+")
NUMBER = re.compile(r"-?\d{1,7}(\.\d{1,6})?", re.ASCII)
# Below the quiet Sun's and above any day's flux, bursts aside: a mark for a missing value, or a burst.
LEAST_SFU, MOST_SFU = 50.0, 500.0
MOST_LINES = 40_000
LONGEST_LINE = 400

Days = tuple[tuple[dt.date, float], ...]


def flux_in(raw: bytes, file: str) -> Days:
    """Days in rising order, each with the middle one of its readings, solar flux units; missing values are left out.

    Raises InputFaults with one fault: the first line that cannot be read, or a file without any day.
    """
    lines = decode(raw, file).splitlines()
    if len(lines) > MOST_LINES:
        raise InputFaults(
            [Fault(file, None, "", f"there are over {MOST_LINES} lines; keep the last years of the table.")]
        )
    by_day: dict[dt.date, list[float]] = {}
    places = (0, 3)
    named = False
    for number, line in enumerate(lines, start=1):
        words = line[:LONGEST_LINE].split()
        if not words or line.lstrip().startswith(NOTES) or RULE.fullmatch(line):
            continue
        lower = [word.casefold() for word in words]
        if DATE_COLUMN in lower and FLUX_COLUMN in lower:
            places, named = (lower.index(DATE_COLUMN), lower.index(FLUX_COLUMN)), True
            continue
        found = _day(words, places, named)
        if found is None:
            raise InputFaults([_fault(file, number, line)])
        day, flux = found
        if LEAST_SFU <= flux <= MOST_SFU:
            by_day.setdefault(day, []).append(flux)
    if not by_day:
        message = "the file holds no day with a flux; a text table of the daily 10.7 cm flux is meant."
        raise InputFaults([Fault(file, None, "", message)])
    return tuple((day, float(median(values))) for day, values in sorted(by_day.items()))


def _day(words: list[str], places: tuple[int, int], named: bool) -> tuple[dt.date, float] | None:
    """Date and flux of a row; None where it holds none."""
    if len(words) <= max(places):
        return None
    text = words[places[0]] if named else "".join(word.zfill(2) for word in words[:3])
    if not re.fullmatch(r"\d{8}", text, re.ASCII) or not NUMBER.fullmatch(words[places[1]]):
        return None
    try:
        return dt.datetime.strptime(text, "%Y%m%d").date(), float(words[places[1]])
    except ValueError:
        return None


def _fault(file: str, number: int, line: str) -> Fault:
    said = printable(line.strip(), 40)
    message = (
        f"'{said}' is no day with its flux; year, month, day and flux are meant, or the columns {DATE_COLUMN} and "
    )
    return Fault(file, number, "", f"{message}{FLUX_COLUMN} under a head line that names them.")
