"""The mode table: what each mode needs and how its contact runs, from `data/modes.yaml` or the user's `modes.yaml`.

Figures are from memory where no publication is named in that file.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Annotated

from pydantic import ConfigDict, Field, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass

from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.yaml_tree import Place, dotted, load_tree, printable, read_bytes

MODES_FILE = Path(__file__).resolve().parent.parent / "data" / "modes.yaml"


# Keyed by hand or spoken: their `tone_spacing_hz` is the width within which spread does no harm, and nothing to dial.
WITHOUT_TONES = ("CW", "SSB", "FM", "AM")
WANTED = "a list of entries with mode, period_s, tone_spacing_hz, needed_snr_db and messages is meant"


@dataclass(frozen=True, config=ConfigDict(extra="forbid"))
class Mode:
    """A variant of a mode: what it needs in 2500 Hz and how many messages a contact takes."""

    mode: Annotated[str, Field(min_length=1, max_length=20)]
    period_s: Annotated[float, Field(ge=1, le=3600)]
    tone_spacing_hz: Annotated[float, Field(gt=0, le=1e5)]
    needed_snr_db: Annotated[float, Field(ge=-60, le=60)]
    messages: Annotated[int, Field(ge=1, le=20)] = 4

    @property
    def title(self) -> str:
        """`Q65, 60 s periods, tones 26.7 Hz apart`, `CW, 60 s periods`: as letters and sheets say it."""
        tones = "" if self.mode in WITHOUT_TONES else f", tones {self.tone_spacing_hz:.3g} Hz apart"
        return f"{self.mode}, {self.period_s:g} s periods{tones}"


ADAPTER = TypeAdapter(Mode)


def mode_table(file: Path = MODES_FILE) -> tuple[Mode, ...]:
    """All variants, in the file's order. Raises InputFaults with everything that is wrong in the file."""
    return _read(read_bytes(file), file.name)


@lru_cache(maxsize=4)
def _read(raw: bytes, file: str) -> tuple[Mode, ...]:
    """The table from the file's bytes; the list is read as the value of a key, the line of which is taken off again."""
    key = "modes"
    try:
        tree = load_tree(f"{key}:\n".encode() + raw.removeprefix(b"\xef\xbb\xbf"), file)
    except InputFaults as found:
        lines = [fault.line and max(fault.line - 1, 1) for fault in found.faults]
        raise InputFaults(replace(one, line=line) for one, line in zip(found.faults, lines, strict=True)) from None
    entries = tree.data.get(key)
    if not isinstance(entries, list) or not entries:
        raise InputFaults([Fault(file, 1, key, f"the file holds no list; {WANTED}.")])
    modes: list[Mode] = []
    faults: list[Fault] = []
    for index, entry in enumerate(entries):
        try:
            modes.append(ADAPTER.validate_python(entry))
        except ValidationError as error:
            for wrong in error.errors():
                place: Place = (key, index, *(str(part) for part in wrong["loc"]))
                what = f"entry {index + 1}{''.join(f', {printable(str(part))}' for part in place[2:])}"
                line = (tree.line(place) or 2) - 1
                faults.append(Fault(file, line, dotted(place), f"{what}: {wrong['msg'].lower()}; {WANTED}."))
    if faults:
        raise InputFaults(faults)
    return tuple(modes)
