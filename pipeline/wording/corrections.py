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


def taught_words(log: bool, readings: bool) -> tuple[str, str]:
    """Heading and words of the page that names what stands beside the station files: by log, readings or both."""
    heading = "What the log has taught"
    rest, back = "from reviews of the log", "Taking record/corrections.yaml away takes them back."
    if readings:
        heading = "What log and readings have taught" if log else "What readings have taught"
        rest = (
            f"{rest} and the stations' own readings of noise and echo"
            if log
            else ("by the stations' own readings of noise and echo")
        )
        files = "record/corrections.yaml or record/measurements.csv" if log else "record/measurements.csv"
        back = f"Taking {files} away takes them back."
    return heading, (
        f"Reports, chances, slots and outcome words rest on these corrections to the station files, {rest}; "
        f"degradation does not. {back}"
    )


def counted_words(log: bool, readings: bool) -> str:
    """`counted beside the files: what the log has taught (record/corrections.yaml)`; empty where nothing is."""
    named = (
        ("what the log has taught (record/corrections.yaml)", log),
        ("readings of noise and echo (record/measurements.csv)", readings),
    )
    known = [words for words, one in named if one]
    return f"counted beside the files: {' and '.join(known)}" if known else ""


def less_doubt_words(log: bool, readings: bool) -> str:
    """`, less where the log has taught corrections`: what narrows the doubt of a way; empty where nothing does."""
    known = [words for words, one in (("the log has", log), ("readings have", readings)) if one]
    return f", less where {' or '.join(known)} taught corrections" if known else ""
