"""What the pages say of corrections that reviews have learnt: which stations, by how much, on what they rest.

From the record of the inputs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.pairs.corrections import learnt_of
from pipeline.wording.corrections import correction_words, learnt_words

if TYPE_CHECKING:
    from pipeline.record.inputs import Inputs


def learnt_lines(inputs: Inputs) -> tuple[tuple[str, str], ...]:
    """Home's and the partners' corrections on the bands of this plan: (call, words)."""
    bands = (inputs.season.band, *inputs.bands)
    stations = zip((inputs.home.call, *(one.call for one in inputs.partners)), bands, strict=True)
    lines = []
    for call, band in stations:
        found = learnt_of(inputs, call, band)
        if found is not None:
            lines.append((call, f"{correction_words(found)}; {learnt_words(found)}"))
    return tuple(lines)


def learnt_fact(inputs: Inputs, call: str, band: str) -> str | None:
    """What stands beside a partner's dish and power where its figures are corrected."""
    found = learnt_of(inputs, call, band)
    return None if found is None else f"corrected from the log: {correction_words(found)}"
