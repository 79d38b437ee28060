"""Tonight's offsets as they are kept in the night's folder, so that sheets made again hold them without being told.

`offsets.csv` has a row an offset: which dial, the feed's position where it is the inclinometer's, and degrees.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

from pipeline.inputs import scalars
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.mounting import FEED_POSITIONS, FeedPosition
from pipeline.inputs.yaml_tree import decode, printable, read_bytes
from pipeline.plan.tonight import Offsets

OFFSETS_NAME = "offsets.csv"
COLUMNS = ["dial", "feed_position", "offset_deg"]
AZIMUTH, INCLINOMETER = "azimuth", "inclinometer"


def offsets_text(offsets: Offsets) -> str:
    """The file."""
    rows = [] if offsets.dial_deg is None else [[AZIMUTH, "", f"{offsets.dial_deg:g}"]]
    rows += [
        [INCLINOMETER, position, f"{offsets.inclinometer_deg[position]:g}"]
        for position in FEED_POSITIONS
        if position in offsets.inclinometer_deg
    ]
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerows([COLUMNS, *rows])
    return stream.getvalue()


def offsets_in(night_folder: Path) -> Offsets:
    """Those kept in a night's folder; none where there is no file. Raises InputFaults where it cannot be understood."""
    path = night_folder / OFFSETS_NAME
    if not path.is_file():
        return Offsets()
    name = path.as_posix()
    table = csv.reader(io.StringIO(decode(read_bytes(path), name), newline=""))
    try:
        rows = [(table.line_num, [cell.strip() for cell in row]) for row in table]
    except csv.Error:
        raise InputFaults([_fault(name, None, "the file is no CSV table")]) from None
    dial: float | None = None
    inclinometer: dict[FeedPosition, float] = {}
    faults = [] if rows and rows[0][1] == COLUMNS else [_fault(name, 1, f"the first line is not {','.join(COLUMNS)}")]
    for line, row in rows[1:]:
        if not any(row):
            continue
        try:
            kind, position, value = row
            degrees = scalars.number(value)
        except ValueError:
            faults.append(_fault(name, line, f"{printable(','.join(row))!r} is no offset"))
            continue
        known = [one for one in FEED_POSITIONS if one == position]
        if kind == AZIMUTH and not position:
            dial = degrees
        elif kind == INCLINOMETER and known:
            inclinometer[known[0]] = degrees
        else:
            faults.append(_fault(name, line, f"{printable(','.join(row))!r} is no offset"))
    if faults:
        raise InputFaults(faults)
    return Offsets(dial, inclinometer)


def _fault(name: str, line: int | None, what: str) -> Fault:
    return Fault(name, line, "", f"{what}; delete the file and give the offsets to `night` again.")
