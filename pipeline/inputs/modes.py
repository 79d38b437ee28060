"""The mode table: what each mode needs and how its contact runs, from `data/modes.yaml` or the user's `modes.yaml`.

Figures are from memory where no publication is named in that file.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Annotated

import yaml
from pydantic import ConfigDict, Field, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass

from pipeline.inputs.faults import Fault, InputFaults

MODES_FILE = Path(__file__).resolve().parent.parent / "data" / "modes.yaml"


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
        """`Q65, 60 s periods, tones 26.7 Hz apart`: as letters and sheets say it."""
        return f"{self.mode}, {self.period_s:g} s periods, tones {self.tone_spacing_hz:.3g} Hz apart"


@lru_cache(maxsize=4)
def mode_table(file: Path = MODES_FILE) -> tuple[Mode, ...]:
    """All variants, in the file's order. Raises InputFaults where the file cannot be used."""
    try:
        return tuple(TypeAdapter(list[Mode]).validate_python(yaml.safe_load(file.read_text("utf-8"))))
    except (OSError, UnicodeDecodeError, yaml.YAMLError, ValidationError) as error:
        what = _what_is_wrong(error)
        message = f"{what}; a list of entries with mode, period_s, tone_spacing_hz, needed_snr_db and messages is meant"
        raise InputFaults([Fault(file.name, None, "modes", message)]) from error


def _what_is_wrong(error: Exception) -> str:
    """The first thing wrong, with the entry counted from one."""
    if isinstance(error, ValidationError):
        place = error.errors()[0]["loc"]
        said = error.errors()[0]["msg"].lower()
        return f"entry {int(place[0]) + 1}, {'.'.join(map(str, place[1:]))}: {said}" if place else said
    return str(error).split("\n")[0]
