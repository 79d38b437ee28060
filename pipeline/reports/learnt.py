"""What the pages say of corrections that reviews have learnt: which stations, by how much, on what they rest.

From the record of the inputs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.pairs.corrections import correction_of, learnt_of
from pipeline.pairs.measured import measured_correction
from pipeline.wording.corrections import correction_words, learnt_words

if TYPE_CHECKING:
    from pipeline.record.inputs import Inputs
    from pipeline.record.model import Correction


def learnt_lines(inputs: Inputs) -> tuple[tuple[str, str], ...]:
    """Home's and the partners' corrections on the bands of this plan: (call, words)."""
    bands = (inputs.season.band, *inputs.bands)
    stations = zip((inputs.home.call, *(one.call for one in inputs.partners)), bands, strict=True)
    lines = []
    for call, band in stations:
        found = known_of(inputs, call, band)
        if found is not None:
            lines.append((call, f"{correction_words(found)}; {learnt_words(found)}"))
    return tuple(lines)


def learnt_fact(inputs: Inputs, call: str, band: str) -> str | None:
    """What stands beside a partner's dish and power where its figures are corrected."""
    found = known_of(inputs, call, band)
    if found is None:
        return None
    rests = (
        ("from the log", learnt_of(inputs, call, band)),
        ("by its own readings", measured_correction(inputs, call, band)),
    )
    source = " and ".join(words for words, one in rests if one is not None)
    return f"corrected {source}: {correction_words(found)}"


def known_of(inputs: Inputs, call: str, band: str) -> Correction | None:
    """What is known of a station beyond its file, also where that is only how often it is there."""
    return correction_of(inputs, call, band) or learnt_of(inputs, call, band)


def rests_on(inputs: Inputs) -> tuple[bool, bool]:
    """Whether anything stands beside the files that logs have taught, and that readings have."""
    bands = (inputs.season.band, *inputs.bands)
    stations = zip((inputs.home.call, *(one.call for one in inputs.partners)), bands, strict=True)
    readings = any(measured_correction(inputs, call, band) is not None for call, band in stations)
    return bool(inputs.record.corrections), readings
