"""The timeline's words: what to do at each step, what to expect there, and why a step was moved or falls away.

From the steps of `timeline`, the evening's sky and the checks worked out at their instants.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.inputs.model import BandEquipment
from pipeline.pairs.noise_rises import ground_aim
from pipeline.record.model import ECHO, GROUND, MOON, SUN
from pipeline.sheets.by_eye import is_dark
from pipeline.sheets.checks_at import Checks
from pipeline.sheets.evening import Body, Evening, Stretch
from pipeline.sheets.noise_check import NoiseCheck, Swing
from pipeline.sheets.own_echo import EchoDial, dial_words, finding_words
from pipeline.sheets.powers import Powers, changeover_words, powers_words, weather_words
from pipeline.sheets.timeline import GRID_MINUTES, SUN_TAKES_MINUTES, Step
from pipeline.wording import formats, rises, safe_side
from pipeline.wording.formats import clock_of_night

# An oscillator as good as this is locked to a reference (data: 2 Hz is locked to GPS).
LOCKED_HZ = 50.0
# Nearer than this the Sun's noise through the side lobes is felt in the Moon's (judgement).
SUN_BESIDE_DEG = 6.0


@dataclass(frozen=True)
class StepLine:
    """A printed line: UTC and local time, what to do, what to know; `care` where something stands in the way.

    `begins_utc` is None where the step falls away.
    """

    utc: str
    local: str
    title: str
    note: str
    is_slot: bool = False
    care: bool = False
    begins_utc: dt.datetime | None = None


@dataclass(frozen=True)
class SlotWords:
    """A slot's partner and the words about its state; empty where it is agreed."""

    partner: str
    state: str


@dataclass(frozen=True)
class LastFallBack:
    """Whose fall-back ends the night, and when it is over where none is used."""

    partner: str
    else_over: dt.datetime


@dataclass(frozen=True)
class Facts:
    """What the steps speak of."""

    evening: Evening
    equipment: BandEquipment
    zone: dt.tzinfo
    night: dt.date
    landmark: str
    moon_by_eye: tuple[Stretch, ...]
    powers: Powers
    checks: Checks
    echo_dial: EchoDial | None
    aligned_from: dt.datetime
    first_slot: dt.datetime
    slots: tuple[SlotWords, ...]
    last_fall_back: LastFallBack | None = None

    @property
    def antenna(self) -> str:
        """What it is called."""
        return "dish" if self.equipment.antenna.dish_diameter_m is not None else "antenna"


PLAIN = {
    "arrive": ("Arrive", "Walk round: people, roofs, wires."),
    "level": ("Legs and level", "Level both ways; guy before lifting."),
    "log": ("Log", "Times, reports, offsets, faults: before packing."),
    "pack": ("Pack", "Antenna down first; count tools and connectors."),
}


def step_lines(steps: Sequence[Step], facts: Facts) -> tuple[StepLine, ...]:
    """The timeline as printed; every instant carries its weekday where the date is not the night's."""
    return tuple(_line(step, facts) for step in steps)


def span(first: dt.datetime, last: dt.datetime, zone: dt.tzinfo, night: dt.date) -> str:
    """`21:30 to 22:30`, the weekday once where both fall on one date."""
    begin, end = clock_of_night(first, zone, night), clock_of_night(last, zone, night)
    same = first.astimezone(zone).date() == last.astimezone(zone).date()
    return f"{begin} to {end.split()[-1] if same else end}"


def _line(step: Step, facts: Facts) -> StepLine:
    missing = step.condition == "not possible"
    title, note = _words(step, facts)
    times = ["", ""] if missing else [clock_of_night(step.start, zone, facts.night) for zone in (dt.UTC, facts.zone)]
    begins = None if missing else step.start
    return StepLine(times[0], times[1], title, note, is_slot=step.kind == "slot", care=missing, begins_utc=begins)


def _words(step: Step, facts: Facts) -> tuple[str, str]:
    if step.kind in PLAIN:
        return PLAIN[step.kind]
    if step.kind == "slot":
        slot = facts.slots[step.slot or 0]
        end = step.end or step.start
        until = f"until {clock_of_night(end, dt.UTC, facts.night)} ({clock_of_night(end, facts.zone, facts.night)})"
        return slot.partner, f"{until}, {slot.state}"
    words = {
        "weather": _weather, "cables": _cables, "clock": _clock, "ground": _ground, "changeover": _changeover,
        "align": _align, "sun": _sun, "moon": _moon, "echo": _echo, "ready": _ready, "off": _off,
    }  # fmt: skip
    return words[step.kind](step, facts)


def _off(step: Step, facts: Facts) -> tuple[str, str]:
    """What ends the night is told: a fall-back may or may not be used."""
    how = "Changeover in receive, then power down."
    last = facts.last_fall_back
    if last is None:
        return "Drive off", how
    sooner = _clock_utc(last.else_over, facts)
    return "Drive off", f"after {last.partner}'s fall-back; where none is used, at {sooner} UTC. {how}"


def _weather(step: Step, facts: Facts) -> tuple[str, str]:
    return "Weather: go or no-go", weather_words(facts.powers)


def _cables(step: Step, facts: Facts) -> tuple[str, str]:
    return "Cables, powers", powers_words(facts.powers)


def _changeover(step: Step, facts: Facts) -> tuple[str, str]:
    return "Changeover", changeover_words(facts.powers, facts.antenna)


def _ground(step: Step, facts: Facts) -> tuple[str, str]:
    title = "Ground, cold sky"
    if not facts.checks.ground.is_measurable:
        return title, rises.not_with_this(facts.antenna, facts.checks.ground.rise_db)
    return (
        title,
        f"{ground_words(facts)}: {_expected(facts, GROUND, facts.checks.ground)}.",
    )


def _expected(facts: Facts, what: str, check: NoiseCheck) -> str:
    """The rise with its doubt, and what this station read the last times."""
    return f"{rises.with_doubt(check.rise_db, check.doubt_db)}{facts.checks.after(what)}"


def ground_words(facts: Facts) -> str:
    """Where to look at the ground, and where at the sky."""
    end = facts.evening.end
    aim, top = ground_aim(end.antenna), end.station.mount.maximum_elevation_deg
    if aim.elevation_deg >= 0.0:
        low = f"{formats.azimuth(aim.azimuth_deg)}, {formats.elevation(aim.elevation_deg)} (hillside)"
    else:
        low = "Ground, wood or wall that fills the beam"
    return f"{low}, then {'zenith' if top >= 90.0 else f'{formats.plain(top)}° up'}"


def _ready(step: Step, facts: Facts) -> tuple[str, str]:
    can = facts.checks.moon is not None and facts.checks.moon.is_measurable
    aim = "Peak on Moon noise" if can else "Aim by the table"
    return "Ready", f"{aim}, changeover in receive, listen."


def _clock(step: Step, facts: Facts) -> tuple[str, str]:
    accuracy = facts.equipment.frequency_accuracy_hz
    if accuracy <= LOCKED_HZ:
        return "GPS lock", "Before a frequency is believed; set the clock."
    return "Oscillator warm", f"Good to about {accuracy:,.0f} Hz: search that far; set the clock."


def _align(step: Step, facts: Facts) -> tuple[str, str]:
    moon = moon_words(facts)
    if facts.landmark:
        dark = ", if it is lit" if is_dark(facts.evening)[facts.evening.index(step.start)] else ""
        return "Align", f"Sight on {facts.landmark}{dark}{f'; {moon}' if moon else ''}. Write the offsets."
    if moon:
        return "Align", f"No landmark sets the dial: {moon}. Write the offsets."
    return "Align", "No landmark sets the dial: use Sun or Moon."


def moon_words(facts: Facts) -> str:
    """`sight the Moon while clear, from 20:10 UTC`; nothing where the eye does not find it before the first slot."""
    if not facts.moon_by_eye:
        return ""
    first, last = facts.moon_by_eye[0]
    begin = f"from {clock_of_night(first, dt.UTC, facts.night)} UTC"
    span = begin if last >= facts.first_slot else f"{begin} to {_clock_utc(last, facts)}"
    return f"sight the Moon while clear, {span}"


def _clock_utc(moment: dt.datetime, facts: Facts) -> str:
    return clock_of_night(moment, dt.UTC, facts.night)


def _sun(step: Step, facts: Facts) -> tuple[str, str]:
    if facts.checks.sun is None:
        return "Sun noise", _why_no_sun(step, facts)
    place = _pointing(step, facts, facts.evening.sun)
    if not facts.checks.sun.is_measurable:
        return "Sun noise", rises.not_with_this(facts.antenna, facts.checks.sun.rise_db)
    expected = f"{place}: peak first, then {_expected(facts, SUN, facts.checks.sun)}."
    return "Sun noise", f"{expected}{swing_words(facts.checks.swing)}"


def swing_words(swing: Swing | None) -> str:
    """How far to swing on either dial until the noise has fallen half way; the middle of both falls is the Sun."""
    if swing is None:
        return ""
    by = [] if swing.azimuth_deg is None else [f"{_half(swing.azimuth_deg)} of dial"]
    by.append(f"{_half(swing.elevation_deg)} of inclinometer")
    return f" It falls {swing.fall_db:.1f} dB {formats.listed(by, 'or')} to each side: the Sun is midway."


def _half(value_deg: float) -> str:
    return f"{value_deg:.1f}°" if value_deg >= 2.0 else f"{value_deg:.2f}°"


def _why_no_sun(step: Step, facts: Facts) -> str:
    """Beyond the mount, down for the whole of the set-up, or gone before a dish is aligned."""
    sun = facts.evening.sun
    at = facts.evening.index(step.start)
    instead = "use the Moon" if facts.checks.moon is not None else "ground and landmark must do"
    if sun.clearance_deg[at] >= 0.0 and sun.reach_deg[at] < 0.0:
        return f"Sun is beyond the mount's reach: {instead}."
    earlier = [one for one in facts.evening.clear_stretches(sun) if one[1] <= step.start]
    if not earlier:
        up = facts.evening.seen_stretches(sun)
        return f"Sun is too low: {instead}." if up else f"Sun is down: {instead}."
    last = earlier[-1][1]
    sooner = (facts.aligned_from - last).total_seconds() / 60.0 + SUN_TAKES_MINUTES
    begins = clock_of_night(last, dt.UTC, facts.night)
    return (
        f"Sun is too low from {begins} UTC, before the dish is aligned: {instead}, or come "
        f"{formats.duration(safe_side.rounded(sooner / GRID_MINUTES, 'up') * GRID_MINUTES)} earlier."
    )


def _moon(step: Step, facts: Facts) -> tuple[str, str]:
    if facts.checks.moon is None:
        return "Moon noise", _why_no_moon(step, facts, "listen in the slot")
    place = _pointing(step, facts, facts.evening.moon)
    if not facts.checks.moon.is_measurable:
        return "Moon noise", rises.not_with_this(facts.antenna, facts.checks.moon.rise_db)
    expected = f"{place}: peak, then {_expected(facts, MOON, facts.checks.moon)}."
    return "Moon noise", f"{expected}{_sun_beside(step, facts)}{_moved(step)}"


def _sun_beside(step: Step, facts: Facts) -> str:
    """The figure is the Moon's alone; a Sun in the main lobe or the near side lobes drowns it."""
    at = facts.evening.index(step.start)
    apart = float(facts.evening.sun_separation_deg[at])
    if facts.evening.sun.clearance_deg[at] < 0.0 or apart > SUN_BESIDE_DEG:
        return ""
    return f" The Sun, {safe_side.down(apart)}° away, adds to it."


def _why_no_moon(step: Step, facts: Facts, instead: str) -> str:
    clear = [one for one in facts.evening.clear_stretches(facts.evening.moon) if one[1] > step.start]
    if not clear:
        return f"Moon stays too low: {instead}."
    return f"Moon is high enough only from {clock_of_night(clear[0][0], dt.UTC, facts.night)} UTC: {instead}."


def _echo(step: Step, facts: Facts) -> tuple[str, str]:
    if facts.checks.echo is None or facts.echo_dial is None:
        return "Own echo", _why_no_moon(step, facts, "try between slots")
    value = float(facts.evening.echo_db[facts.evening.index(step.start)])
    found = finding_words(value, facts.checks.echo, facts.checks.after(ECHO))
    if facts.checks.echo.means == "not":
        return "Own echo", found
    dial = dial_words(facts.echo_dial)
    return "Own echo", f"{dial[0].upper()}{dial[1:]}. {found}{_moved(step)}"


def _pointing(step: Step, facts: Facts, body: Body) -> str:
    at = facts.evening.index(step.start)
    return f"{formats.azimuth(body.azimuth_deg[at])}, {formats.elevation(body.elevation_deg[at])} up"


def _moved(step: Step) -> str:
    return " Moved to when it can be seen." if step.condition == "moved" else ""


def stretches_words(stretches: Sequence[Stretch], evening: Evening, zone: dt.tzinfo, night: dt.date) -> str:
    """`from 20:10 UTC (17:10)`, `until ...`, `throughout`, or `not`, within the hours of the sheet."""
    if not stretches:
        return "not over the skyline"
    words = []
    for first, last in stretches:
        from_start, to_end = first == evening.start, last == evening.instant(evening.minutes - 1)
        if from_start and to_end:
            return "over the skyline throughout"
        begin = f"from {clock_of_night(first, dt.UTC, night)} UTC ({clock_of_night(first, zone, night)})"
        end = f"until {clock_of_night(last, dt.UTC, night)} UTC ({clock_of_night(last, zone, night)})"
        words.append(" ".join(([] if from_start else [begin]) + ([] if to_end else [end])))
    return f"over the skyline {formats.listed(words)}"
