"""The mode table: what each mode needs and how its contact runs, from `data/modes.yaml` or the user's `modes.yaml`.

Figures are from memory where no publication is named in that file.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Annotated

from pydantic import Field
from pydantic.dataclasses import dataclass

from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.kinds import CONFIG, Keys, Number, Whole, Words
from pipeline.inputs.messages import read
from pipeline.inputs.yaml_tree import load_tree, read_bytes

MODES_FILE = Path(__file__).resolve().parent.parent / "data" / "modes.yaml"


# Keyed by hand or spoken: an ear follows by itself what no decoder has to. Their `tone_spacing_hz` is the width within
# which spread does no harm, and nothing to dial.
BY_EAR = ("CW", "SSB", "FM", "AM")
WANTED = "a list of entries with mode, period_s, tone_spacing_hz, needed_snr_db and messages is meant"


@dataclass(config=CONFIG)
class Mode(Keys):
    """A variant of a mode: what it needs in 2500 Hz and how many messages a contact takes."""

    mode: Annotated[Words, Field(min_length=1, max_length=20, examples=["Q65"])]
    period_s: Annotated[Number, Field(ge=1, le=3600, description="a number of seconds", examples=["60"])]
    tone_spacing_hz: Annotated[Number, Field(gt=0, le=1e5, description="a spacing in hertz", examples=["6.667"])]
    needed_snr_db: Annotated[Number, Field(ge=-60, le=60, description="a ratio in decibels", examples=["-27.4"])]
    messages: Annotated[Whole, Field(ge=1, le=20, description="a number of messages")] = 4

    @property
    def title(self) -> str:
        """`Q65, 60 s periods, tones 26.7 Hz apart`, `CW, 60 s periods`: as letters and sheets say it."""
        tones = "" if self.mode in BY_EAR else f", tones {self.tone_spacing_hz:.3g} Hz apart"
        return f"{self.mode}, {self.period_s:g} s periods{tones}"


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
    # The key stands in no line of the file.
    tree = replace(tree, lines={place: max(line - 1, 1) for place, line in tree.lines.items()})
    modes, faults = read(tuple[Mode, ...], tree, entries, (key,))
    if modes is None or faults:
        raise InputFaults(faults)
    return modes
