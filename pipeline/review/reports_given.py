"""What a report in a log says: a signal-to-noise ratio in decibels, or only that something was heard.

Digital modes give signed decibels in 2500 Hz (`-22`, `R-18`); by ear it is O, M, T or readability, strength and tone
(common practice, no source). What is no figure is no figure: nothing is guessed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

# Reports of digital modes run from about -40 (averaged) to +49; what lies beyond is a slip.
LOWEST_DB, HIGHEST_DB = -45.0, 50.0
FIGURE = re.compile(r"R?\s*([+-]\s*\d{1,9}(?:[.,]\d{1,9})?)\s*(?:DB)?", re.IGNORECASE | re.ASCII)
UNSIGNED = re.compile(r"R?\s*(\d{1,2})\s*(DB)?", re.IGNORECASE | re.ASCII)
BY_EAR = re.compile(r"R?\s*(O|OOO|M|T|[1-5][1-9N][1-9N]?[ACKSX+]?)|RRR?|RR73|73|HEARD|COPIED|YES", re.IGNORECASE)
NOT_HEARD = re.compile(r"NIL|NOT HEARD|NOTHING|NO|N|NONE|-+|/", re.IGNORECASE)
MINUS = str.maketrans({"−": "-", "–": "-", "—": "-", "‐": "-", "‑": "-", "＋": "+"})


@dataclass(frozen=True)
class Report:
    """One report: its figure, whether something was heard (None: it does not tell), and what is odd about it."""

    snr_db: float | None
    heard: bool | None
    oddity: str = ""


def read_report(text: str, by_ear_mode: bool = False) -> Report:
    """A report's text to what it says; `by_ear_mode` where unsigned figures are readability and strength."""
    plain = text.translate(MINUS).strip()
    if not plain:
        return Report(None, None)
    figure = FIGURE.fullmatch(plain)
    if figure:
        value = float(figure[1].replace(" ", "").replace(",", "."))
        if LOWEST_DB <= value <= HIGHEST_DB:
            return Report(value, True)
        return Report(None, None, f"the report {plain[:20]} is no signal-to-noise ratio a receiver can give")
    if NOT_HEARD.fullmatch(plain):
        return Report(None, False)
    unsigned = UNSIGNED.fullmatch(plain)
    # 59 is what programs fill in unasked, 73 a greeting; of other figures nobody can tell whether a minus was left out.
    if unsigned and (unsigned[2] or not (by_ear_mode or plain in ("59", "73"))):
        return Report(None, True, f"the report {plain[:20]} has no sign")
    if BY_EAR.fullmatch(plain):
        return Report(None, True)
    return Report(None, None, f"the report '{plain[:20]}' is not understood")
