"""Home's own echo at an instant: where it is heard, how fast that moves, and with what means it can be found.

From the evening's sky and link; the ear's need is that of CW in the mode table.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from pipeline.inputs.modes import mode_table
from pipeline.record.inputs import Inputs
from pipeline.sheets.echo_finding import Finding, find_echo
from pipeline.sheets.evening import Evening
from pipeline.wording import formats
from pipeline.wording.operating import megahertz
from pipeline.wording.safe_side import rounded, up

# The ear's limit where a mode table of the user's own has no CW (common practice, no source).
EAR_NEEDS_DB, EAR_WIDTH_HZ = -15.0, 50.0


@dataclass(frozen=True)
class EchoDial:
    """What to send and listen on, Hz, and how far the latter moves in the coming minute."""

    transmit_hz: float
    receive_hz: float
    a_minute_hz: float


def echo_dial(evening: Evening, instant: dt.datetime) -> EchoDial:
    """The dials of the own echo heard at an instant of the evening."""
    at = min(evening.index(instant), evening.minutes - 2)
    sent = evening.end.transmit_mhz * 1e6
    now, soon = (float(evening.echo_shift_hz[row]) for row in (at, at + 1))
    return EchoDial(sent, sent + now, soon - now)


def echo_at(inputs: Inputs, evening: Evening, instant: dt.datetime) -> Finding:
    """With what means the own echo is found at an instant."""
    at = evening.index(instant)
    ear = next((mode for mode in (inputs.modes or mode_table()) if mode.mode == "CW"), None)
    needs, width = (ear.needed_snr_db, ear.tone_spacing_hz) if ear else (EAR_NEEDS_DB, EAR_WIDTH_HZ)
    return find_echo(float(evening.echo_db[at]), float(evening.echo_width_hz[at]), needs, width)


def dial_words(dial: EchoDial) -> str:
    """`send on 10368.100 00, listen on 10368.120 80, −72 Hz a minute`."""
    moves = formats.signed(dial.a_minute_hz, 0, plus=True)
    return f"send on {megahertz(dial.transmit_hz)}, listen on {megahertz(dial.receive_hz)}, {moves} Hz a minute"


def finding_words(echo_db: float, finding: Finding, history: str = "") -> str:
    """What to expect of the echo, after it what was read before, and how to find it; by how much one cannot."""
    expected = f"Expect about {formats.signed(echo_db, 0)} dB in 2500 Hz{history}"
    limit = f"the ear needs {formats.signed(finding.ear_limit_db, 0)}"
    if finding.means == "by ear":
        return f"{expected}; {limit}. Bursts of 2 seconds."
    if finding.means == "averaged":
        minutes = formats.count(max(1, int(rounded(finding.minutes, "up"))), "minute")
        return f"{expected}, {limit}: average the spectrum of 2-second bursts over {minutes}."
    return (
        f"This station cannot hear it: about {formats.signed(echo_db, 0)} dB in 2500 Hz, {limit}, and ten minutes of "
        f"averaging fall {up(finding.short_db)} dB short."
    )
