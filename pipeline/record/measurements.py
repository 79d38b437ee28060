"""`record/measurements.csv`: what operators measured of a station's noise and own echo, a line a reading.

Written by `measure` and by hand; plan, check, sheets and review read it alike. What an operator wrote stays as it is.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from pipeline.inputs import scalars
from pipeline.inputs.bands import band_table
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.yaml_tree import decode, printable, read_bytes
from pipeline.record.log_table import TableRow, read_table
from pipeline.record.model import DIAL, ECHO, FOLDER, KINDS, PEAK, Measurement

NAME = "measurements.csv"
LABEL = f"{FOLDER}/{NAME}"
REQUIRED = ("time_utc", "call", "band", "what", "measured_db")
COLUMNS = (*REQUIRED, "aim", "azimuth_offset_deg", "elevation_offset_deg", "remarks")
KNOWN = {name: name for name in COLUMNS}
# A noise rise between two powers of one receiver, and an echo in 2500 Hz: beyond these it is a slip of the pen.
RISE_DB, ECHO_DB, OFFSET_DEG = (-1.0, 40.0), (-45.0, 40.0), 20.0
NUMBER = re.compile(r"[+-]?\d{1,4}([.,]\d{1,6})?", re.ASCII)
MOST_LINES = 4000
LONGEST_REMARK = 200


def read_measurements(folder: Path) -> tuple[tuple[Measurement, ...], str]:
    """The readings in the record of a season's folder, in the order of the file, and its hash (empty without one).

    Raises InputFaults with every fault of the file.
    """
    path = folder / FOLDER / NAME
    if not path.exists():
        return (), ""
    raw = read_bytes(path)
    return measurements_in(decode(raw, LABEL) if raw.strip() else ""), hashlib.sha256(raw).hexdigest()


def measurements_in(text: str) -> tuple[Measurement, ...]:
    """The readings of a text of the file. Raises InputFaults with every fault."""
    if not text.strip():
        return ()
    table = read_table(text, KNOWN)
    missing = [name for name in REQUIRED if name not in table.names]
    if missing:
        advice = f"the columns are {', '.join(COLUMNS)}."
        raise InputFaults([Fault(LABEL, 1, missing[0], f"the first line does not name {missing[0]}; {advice}")])
    if len(table.rows) > MOST_LINES:
        message = f"there are more than {MOST_LINES} readings; move those of former equipment to another file."
        raise InputFaults([Fault(LABEL, None, "", message)])
    faults = [Fault(LABEL, one.line, "", f"{one.what}; put it right.") for one in table.oddities]
    found: dict[tuple[str, str, str, dt.datetime], Measurement] = {}
    for row in table.rows:
        faults += [
            Fault(LABEL, one.line, "", f"{one.what}; leave a remark's commas in quotes.") for one in row.oddities
        ]
        made = _measurement(row, faults)
        if made is None:
            continue
        twin = found.setdefault(made.key, made)
        if twin is not made:
            message = f"{made.what} of {made.call} at {made.time_utc:%Y-%m-%dT%H:%M}Z stands in line {twin.line} "
            faults.append(Fault(LABEL, made.line, "", message + "as well; keep one of the lines."))
    if faults:
        raise InputFaults(faults)
    return tuple(found.values())


class _Cells:
    """One row's cells to values; what is wrong is gathered."""

    def __init__(self, row: TableRow, faults: list[Fault]) -> None:
        self.row, self.faults, self.good = row, faults, True

    def text(self, name: str) -> str:
        return self.row.cells.get(name, "").strip()

    def wrong(self, name: str, what: str) -> None:
        self.good = False
        written = printable(self.text(name), 30)
        begin = f"{name} is '{written}'" if written else f"{name} is missing"
        self.faults.append(Fault(LABEL, self.row.line, name, f"{begin}; {what}"))

    def word(self, name: str, words: Sequence[str], default: str = "") -> str:
        said = self.text(name).casefold() or default
        if said not in words:
            self.wrong(name, f"one of {', '.join(words)} is meant.")
        return said

    def number(self, name: str, low: float, high: float, required: bool = False) -> float | None:
        said = self.text(name)
        if not said and not required:
            return None
        value = float(said.replace(",", ".")) if NUMBER.fullmatch(said.replace("\N{MINUS SIGN}", "-")) else None
        if value is None or not low <= value <= high:
            self.wrong(name, f"a number from {low:g} to {high:g} is meant.")
        return value

    def instant(self, name: str) -> dt.datetime | None:
        try:
            return scalars.instant(self.text(name))
        except scalars.Refusal as refusal:
            self.wrong(name, str(refusal))
        return None


def _measurement(row: TableRow, faults: list[Fault]) -> Measurement | None:
    cells = _Cells(row, faults)
    time, what = cells.instant("time_utc"), cells.word("what", KINDS)
    call, band = cells.text("call").upper(), cells.text("band").casefold()
    if not call:
        cells.wrong("call", "the call of the station that was measured is meant.")
    if band not in band_table():
        cells.wrong("band", f"one of {', '.join(band_table())} is meant.")
    low, high = ECHO_DB if what == ECHO else RISE_DB
    value = cells.number("measured_db", low, high, required=True)
    offsets = [cells.number(f"{axis}_offset_deg", -OFFSET_DEG, OFFSET_DEG) for axis in ("azimuth", "elevation")]
    aim = cells.word("aim", (DIAL, PEAK), PEAK if offsets != [None, None] else DIAL)
    if not cells.good or time is None or value is None:
        return None
    remarks = cells.text("remarks")[:LONGEST_REMARK]
    return Measurement(call, band, time, what, value, aim, offsets[0], offsets[1], remarks, row.line)


def measurement_of(given: Mapping[str, str]) -> Measurement:
    """One reading from its cells by column, as the file would have them. Raises InputFaults with every fault."""
    faults: list[Fault] = []
    made = _measurement(TableRow(0, given, ()), faults)
    if made is None or faults:
        raise InputFaults(dataclasses.replace(fault, file="measure", line=None) for fault in faults)
    return made
