"""Writing `record/measurements.csv`: one line more, the whole file in one step under the record's lock."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.yaml_tree import decode, read_bytes
from pipeline.record.log_table import read_table
from pipeline.record.measurements import COLUMNS, KNOWN, LABEL, NAME, measurements_in
from pipeline.record.model import FOLDER, Measurement
from pipeline.record.writing import minute, write_whole


def add_measurement(folder: Path, made: Measurement) -> Path:
    """Put one more line behind those of the file; the caller holds the record's lock. Returns the file.

    Raises InputFaults where the file is at fault, knows the reading already, or cannot be written.
    """
    path = folder / FOLDER / NAME
    text = decode(read_bytes(path), LABEL) if path.exists() and path.stat().st_size else ""
    known = {one.key: one for one in measurements_in(text)}
    twin = known.get(made.key)
    if twin is not None:
        message = f"{made.what} of {made.call} at {minute(made.time_utc)} stands there already, {twin.value_db:g} dB; "
        raise InputFaults([Fault(LABEL, twin.line, "", message + "change that line by hand if it is wrong.")])
    new = _with_line(text, made)
    after = measurements_in(new)
    if [one.key for one in after] != [*known, made.key]:
        raise InputFaults([Fault(LABEL, None, "", "the file is laid out in an unusual way; add the line by hand.")])
    write_whole(path, new)
    return path


def _with_line(text: str, made: Measurement) -> str:
    """The text and a line more, in its own columns and with its own marks."""
    eol = "\r\n" if "\r\n" in text else "\n"
    body = text.rstrip("\r\n") + eol if text.strip() else ",".join(COLUMNS) + eol
    head = body.lstrip("\ufeff").splitlines()[0]
    mark = max((",", ";", "\t"), key=head.count)
    names = read_table(body, KNOWN).names or COLUMNS
    values = {
        "time_utc": minute(made.time_utc), "call": made.call, "band": made.band, "what": made.what,
        "measured_db": f"{made.value_db:g}", "aim": made.aim, "azimuth_offset_deg": _figure(made.azimuth_offset_deg),
        "elevation_offset_deg": _figure(made.elevation_offset_deg), "remarks": made.remarks,
    }  # fmt: skip
    out = io.StringIO()
    csv.writer(out, delimiter=mark, lineterminator=eol).writerow([values.get(name, "") for name in names])
    return body + out.getvalue()


def _figure(value: float | None) -> str:
    return "" if value is None else f"{value:g}"
