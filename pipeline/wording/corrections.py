"""What reviews have learnt of a station, in words: by how much it sends and hears otherwise, and on what that rests."""

from __future__ import annotations

from pipeline.record.model import Correction
from pipeline.wording import formats
from pipeline.wording.silences import share_words


def side_words(value_db: float, uncertainty_db: float) -> str:
    """`+1.2 ± 0.8 dB`."""
    return f"{formats.signed(value_db, 1, plus=True)} ± {uncertainty_db:.1f} dB"


def correction_words(correction: Correction) -> str:
    """`sends +1.2 ± 0.8 dB, hears −0.4 ± 0.9 dB`: against the station's file."""
    sends = side_words(correction.transmit_db, correction.transmit_uncertainty_db)
    hears = side_words(correction.receive_db, correction.receive_uncertainty_db)
    there = "" if correction.presence is None else f", {share_words(correction.presence)}"
    return f"sends {sends}, hears {hears}{there}" if correction.tells_sides else there.removeprefix(", ")


def learnt_words(correction: Correction) -> str:
    """`learnt from 14 reports up to 2027-03-28`: what a correction rests on."""
    return f"learnt from {correction.reviewed}" if correction.reviewed else "learnt from the log"
