"""What a station's own readings of noise and echo tell, as lines of its check: receiving figure, axis, last readings.

From `pairs.measured`.
"""

from __future__ import annotations

from pipeline.explain.explanation import Line, Section
from pipeline.explain.remarks import MeasuredNote
from pipeline.pairs.measured import Measured, correction_from
from pipeline.record.model import KINDS

SIDES = (("receiving, as planned", "receive_db"), ("sending, as planned", "transmit_db"))


def measured_section(measured: Measured) -> Section:
    """The figures with their doubt, and the last three readings of each kind."""
    aside = len(measured.readings) - len(measured.counted)
    note = MeasuredNote(aside, sum(one.is_down for one in measured.readings))
    return Section("Measured", (*_figures(measured), *_last(measured)), note)


def _figures(measured: Measured) -> tuple[Line, ...]:
    figures, source = measured.figures, correction_from(measured)
    if figures is None or source is None:
        return ()
    (hears, doubt), (off, off_doubt), (lost, _) = figures.hears_db, figures.off_axis_deg, figures.pointing_loss_db
    file = measured.gain_over_temperature_db
    lines = [
        Line("gain over temperature", file + hears, "dB/K", f"± {doubt:.1f} dB, by the file {file:.1f}", source),
        Line("receiving, on the axis", hears, "dB", f"± {doubt:.1f} dB, better (+) or worse than the file", source),
        Line("axis off the dial", off, "deg", f"± {off_doubt:.2f} deg, costs {lost:.1f} dB each way", source),
    ]
    for name, found in (("peak across", figures.across_deg), ("peak up", figures.up_deg)):
        if found is not None:
            lines.append(Line(name, found[0], "deg", f"± {found[1]:.2f} deg, peak less dial", source))
    for name, key in SIDES:
        value, left = getattr(figures, key)
        lines.append(Line(name, value, "dB", f"± {left:.1f} dB, with what the axis costs", source))
    return tuple(lines)


def _last(measured: Measured) -> list[Line]:
    lines = []
    for kind in KINDS:
        last = measured.history(kind)
        if last:
            said = ", ".join(f"{one.measurement.value_db:.1f}" for one in last)
            expected = ", ".join(f"{one.expected_db:.1f}" for one in last)
            lines.append(Line(f"last of {kind}", said, "dB", f"by the file on the axis {expected}", "own readings"))
    return lines
