"""What a reading of noise or echo says, in words: what was expected, the difference, what it can mean, what to do next.

From the values of `pairs.measured`; causes stand in the order in which they are usual (common practice, no source).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from pipeline.explain.remarks import MeasuredNote
from pipeline.pairs.measured import Ahead, Measured, Reading
from pipeline.pairs.station_figures import Figures
from pipeline.record.model import DIAL, ECHO, GROUND, MOON, PEAK, SUN
from pipeline.wording import formats

# Less than this a lower or higher place in the sky does not change a reading that anybody compares.
WORTH_MOVING_DB = 0.3
NAMES = {GROUND: "ground", SUN: "Sun", MOON: "Moon", ECHO: "own echo"}
LOW = {
    GROUND: "More noise than the file says comes from the receiver: look at the connector ahead of the preamplifier, "
    "water in it, then the preamplifier and its supply. Cold sky with a tree, a roof or the Moon in the beam reads "
    "alike.",
    SUN: "Look at the aim first, then at the feed's focus and water on it, then at the receiver.",
    MOON: "Look at the aim first, then at the feed's focus and water on it, then at the receiver.",
    ECHO: "Look at the aim first, then at the power at the feed and the relay, then at the receiver; at times the "
    "polarization is turned or the echo fades for minutes.",
}
HIGH = {
    GROUND: "The receiver is better than the file says, or the meter's scale is off: read it against a known step.",
    SUN: "The Sun may be more active than was assumed, or the station is better than its file; a second day tells.",
    MOON: "Ground or the Sun in the beam adds to it, or the station is better than its file; a second night tells.",
    ECHO: "Echoes come and go by some decibels; average more of them before the power is believed.",
}
SETTLES = {
    GROUND: "Ground against cold sky would tell the receiver's noise from gain and aim.",
    SUN: "The Sun, with the highest noise found by turning, would tell gain and aim from the receiver's noise.",
    PEAK: "The same with the highest noise found by turning (--peaked) would tell the aim from all else.",
    ECHO: "The own echo would tell of the sending side.",
}


def aside_words(note: MeasuredNote) -> str:
    """What the plan does with the readings, and how many it leaves aside."""
    said = "The plan takes the figures as planned; deleting readings from the record takes them back."
    if not note.aside:
        return said
    low = f", {formats.count(note.down, 'time')} with its source below the horizon" if note.down else ""
    return f"{said} {formats.count(note.aside, 'reading')} set aside{low}: beyond what any doubt explains."


def reading_words(reading: Reading) -> str:
    """`Sun 11.2 dB at 2027-03-13 18:20 UTC, azimuth 304.6°, 43.4° up, as the dial pointed`."""
    one = reading.measurement
    place = ""
    if reading.azimuth_deg is not None and reading.elevation_deg is not None:
        place = f", azimuth {reading.azimuth_deg:.1f}°, {reading.elevation_deg:.1f}° up"
    how = "" if one.what == GROUND else ", as the dial pointed" if one.aim == DIAL else ", at the highest noise"
    return f"{NAMES[one.what]} {figure(one.value_db)} dB at {one.time_utc:%Y-%m-%d %H:%M} UTC{place}{how}"


def down_words(reading: Reading, call: str) -> str:
    """Why a reading cannot be one."""
    below = -(reading.elevation_deg or 0.0)
    name = "Sun" if reading.measurement.what == SUN else "Moon"
    return (
        f"the {name} stood {below:.1f}° below the level horizon of {call} at "
        f"{reading.measurement.time_utc:%Y-%m-%d %H:%M} UTC; give the time in UTC."
    )


def expected_words(reading: Reading, ahead: Ahead) -> str:
    """What was expected before it, and how far the reading is from that."""
    apart = reading.measurement.value_db - ahead.middle_db
    more = f"{abs(apart):.1f} dB {'more' if apart > 0.0 else 'less'}"
    said = "as expected" if abs(apart) < 0.05 else more
    return (
        f"expected {figure(ahead.middle_db)} dB, nine times in ten {figure(ahead.low_db)} to "
        f"{figure(ahead.high_db)}; measured {said}"
    )


def sign_words(reading: Reading, ahead: Ahead) -> str:
    """An echo without its minus: what is asked."""
    value = abs(reading.measurement.value_db)
    return (
        f"echo {value:g}: the own echo is expected at {figure(ahead.middle_db)} dB; if −{value:g} dB was read, write "
        f"-{value:g}, and +{value:g} if it was not. Nothing was written."
    )


def meaning_words(reading: Reading, ahead: Ahead, off_deg: float | None, is_dial_off: bool) -> str:
    """What the difference means: inside the doubt nothing, but for a dial; beyond it, where to look first."""
    value, what = reading.measurement.value_db, reading.measurement.what
    if ahead.low_db <= value <= ahead.high_db:
        return f"Inside the doubt: nothing is wrong by {'its level' if is_dial_off else 'this reading'}."
    if value > ahead.high_db:
        return f"Above the doubt. {HIGH[what]}"
    aim = f" All of it would be an axis {off_deg:.1f}° off." if off_deg and reading.measurement.aim == DIAL else ""
    return f"Below the doubt.{aim} {LOW[what]}"


def dial_words(reading: Reading, resolution_deg: float) -> str:
    """What the azimuth dial said at the peak, and where to give it; empty within what can be read of it."""
    off = reading.measurement.azimuth_offset_deg
    if off is None or abs(off) <= resolution_deg:
        return ""
    return (
        f"At the peak the azimuth dial showed {abs(off):g}° {'more' if off > 0.0 else 'less'} than the truth. If that "
        f"holds, set the dial, or give it to the sheets of the night: night DATE --dial-offset {off:g}."
    )


def aside_reading_words(reading: Reading) -> str:
    """Why a reading does not count: its peak, or its level."""
    asked = "Was it the right source and band?"
    if reading.measurement.aim == PEAK:
        asked = "Was it the right source and band, and the peak no side lobe nor a dial that is to be set?"
    return f"The reading is kept and not counted: no doubt explains it. {asked}"


def figures_words(measured: Measured, figures: Figures) -> str:
    """What all readings of the station tell together."""
    count = formats.count(len(measured.counted), "reading")
    (hears, doubt), (off, off_doubt) = figures.hears_db, figures.off_axis_deg
    return (
        f"By {count} {measured.call} hears {formats.signed(hears, 1, plus=True)} ± {doubt:.1f} dB against its file "
        f"on the axis, which is {off:.2f} ± {off_doubt:.2f}° off the dial."
    )


def settles_words(measured: Measured) -> str:
    """Which reading would tell most beside those that there are; empty where each kind is there."""
    kinds = {one.measurement.what for one in measured.counted}
    aims = {one.measurement.aim for one in measured.counted if one.measurement.what in (SUN, MOON)}
    if GROUND not in kinds:
        return SETTLES[GROUND]
    if SUN not in kinds:
        return SETTLES[SUN]
    if PEAK not in aims:
        return SETTLES[PEAK]
    return "" if ECHO in kinds else SETTLES[ECHO]


def history_words(last: Sequence[Reading], here_db: Sequence[float] = ()) -> str:
    """`your last three: 10.9, 11.3, 11.1 dB`; empty without any.

    `here_db` is what each would be at another place in the sky; it is told where it differs: `(here 9.0, 9.4, 9.2)`.
    """
    if not last:
        return ""
    number = {1: "your last", 2: "your last two"}.get(len(last), "your last three")
    read = [one.measurement.value_db for one in last]
    moved = any(abs(now - then) >= WORTH_MOVING_DB for now, then in zip(here_db, read, strict=False))
    here = f" (here {', '.join(map(figure, here_db))})" if moved else ""
    return f"{number}: {', '.join(map(figure, read))} dB{here}"


def flux_words(reading: Reading) -> str:
    """Which activity of the Sun the expectation rests on; empty where it is no reading of the Sun."""
    activity = reading.activity
    if activity is None:
        return ""
    if activity.observed is None:
        said = activity.value if isinstance(activity.value, str) else f"10.7 cm flux {activity.value:.0f}"
        return f"Sun taken by the season's policy: {said}."
    return f"Sun taken by the 10.7 cm flux observed: {observed_words(activity.value, activity.observed, reading)}."


def observed_words(value: str | float, observed: dt.date, reading: Reading) -> str:
    """`142 on 2027-03-12, 1 day before`."""
    return f"{value:.0f} {age_words(observed, reading.measurement.time_utc.date())}"


def age_words(observed: dt.date, date: dt.date) -> str:
    """`on 2027-03-12, 1 day before`."""
    age = (date - observed).days
    return f"on {observed}, {'the same day' if age == 0 else formats.count(age, 'day') + ' before'}"


def figure(value_db: float) -> str:
    """One digit, a true minus sign."""
    return formats.signed(value_db, 1)
