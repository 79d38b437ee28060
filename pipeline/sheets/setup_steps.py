"""The timeline's words: what to do at each step, what to expect there, and why a step was moved or falls away.

From the steps of `timeline`, the evening's sky and the checks worked out at their instants.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from pipeline.inputs.model import BandEquipment
from pipeline.sheets.echo_finding import Finding
from pipeline.sheets.evening import Body, Evening, Stretch
from pipeline.sheets.noise_check import NoiseCheck
from pipeline.sheets.own_echo import EchoDial, dial_words, finding_words
from pipeline.sheets.timeline import GRID_MINUTES, SUN_TAKES_MINUTES, Step
from pipeline.wording import formats
from pipeline.wording.formats import clock_of_night

# An oscillator as good as this is locked to a reference (data: 2 Hz is locked to GPS).
LOCKED_HZ = 50.0
# Nearer than this the Sun's noise through the side lobes is felt in the Moon's (judgement).
SUN_BESIDE_DEG = 6.0


@dataclass(frozen=True)
class StepLine:
    """A printed line: UTC and local time, what to do, what to know; `care` where something stands in the way."""

    utc: str
    local: str
    title: str
    note: str
    is_slot: bool = False
    care: bool = False


@dataclass(frozen=True)
class SlotWords:
    """A slot's partner and the words about its state; empty where it is agreed."""

    partner: str
    state: str


@dataclass(frozen=True)
class Facts:
    """What the steps speak of. Checks and finding are None where the step is not possible."""

    evening: Evening
    equipment: BandEquipment
    zone: dt.tzinfo
    night: dt.date
    landmark: str
    sun: NoiseCheck | None
    moon: NoiseCheck | None
    echo: Finding | None
    echo_dial: EchoDial | None
    slots: tuple[SlotWords, ...]
    receiver_from: dt.datetime


PLAIN = {
    "weather": ("Weather: go or no-go", "Wind, thunder, rain, ice."),
    "arrive": ("Arrive", "Walk round: people, roofs, wires."),
    "level": ("Legs and level", "Level both ways; guy before lifting."),
    "cables": ("Cables, terminations", "No power into an open end."),
    "changeover": ("Changeover proven", "Without drive first, then with it."),
    "ready": ("Ready", "Peak on the Moon, changeover in receive, listen."),
    "off": ("Drive off", "Changeover in receive, then power down."),
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
    return StepLine(times[0], times[1], title, note, is_slot=step.kind == "slot", care=missing)


def _words(step: Step, facts: Facts) -> tuple[str, str]:
    if step.kind in PLAIN:
        return PLAIN[step.kind]
    if step.kind == "slot":
        slot = facts.slots[step.slot or 0]
        end = step.end or step.start
        until = f"until {clock_of_night(end, dt.UTC, facts.night)} ({clock_of_night(end, facts.zone, facts.night)})"
        return slot.partner, f"{until}, {slot.state}"
    return {"clock": _clock, "align": _align, "sun": _sun, "moon": _moon, "echo": _echo}[step.kind](step, facts)


def _clock(step: Step, facts: Facts) -> tuple[str, str]:
    accuracy = facts.equipment.frequency_accuracy_hz
    if accuracy <= LOCKED_HZ:
        return "GPS lock", "Before any frequency is believed; set the clock."
    return "Oscillator warm", f"Good to about {accuracy:,.0f} Hz: search that far; set the clock."


def _align(step: Step, facts: Facts) -> tuple[str, str]:
    if facts.landmark:
        return "Align", f"Sight on {facts.landmark}; write the offsets."
    return "Align", "No landmark sets the dial: use Sun or Moon."


def _sun(step: Step, facts: Facts) -> tuple[str, str]:
    if facts.sun is None:
        return "Sun noise", _why_no_sun(step, facts)
    place = _pointing(step, facts, facts.evening.sun)
    return "Sun noise", f"{place}: expect {facts.sun.low_db:.1f} to {facts.sun.high_db:.1f} dB.{_moved(step)}"


def _why_no_sun(step: Step, facts: Facts) -> str:
    """Down for the whole of the set-up, or gone before a receiver runs."""
    sun = facts.evening.sun
    earlier = [one for one in facts.evening.clear_stretches(sun) if one[1] <= step.start]
    if not earlier:
        up = facts.evening.seen_stretches(sun)
        return "Sun is too low: use the Moon." if up else "Sun is down: use the Moon."
    last = earlier[-1][1]
    sooner = (facts.receiver_from - last).total_seconds() / 60.0 + SUN_TAKES_MINUTES
    begins = clock_of_night(last, dt.UTC, facts.night)
    return (
        f"Sun is too low from {begins} UTC, before the receiver runs: use the Moon, or come "
        f"{formats.duration(ceil(sooner / GRID_MINUTES) * GRID_MINUTES)} earlier."
    )


def _moon(step: Step, facts: Facts) -> tuple[str, str]:
    if facts.moon is None:
        return "Moon noise", _why_no_moon(step, facts, "listen in the slot")
    place = _pointing(step, facts, facts.evening.moon)
    if not facts.moon.is_measurable:
        return "Moon noise", f"{place}: under 0.1 dB, too little to measure."
    expected = f"{place}: expect {facts.moon.low_db:.1f} to {facts.moon.high_db:.1f} dB."
    return "Moon noise", f"{expected}{_sun_beside(step, facts)}{_moved(step)}"


def _sun_beside(step: Step, facts: Facts) -> str:
    """The figure is the Moon's alone; a Sun in the main lobe or the near side lobes drowns it."""
    at = facts.evening.index(step.start)
    apart = float(facts.evening.sun_separation_deg[at])
    if facts.evening.sun.clearance_deg[at] < 0.0 or apart > SUN_BESIDE_DEG:
        return ""
    return f" The Sun, {apart:.0f}° away, adds to it."


def _why_no_moon(step: Step, facts: Facts, instead: str) -> str:
    clear = [one for one in facts.evening.clear_stretches(facts.evening.moon) if one[1] > step.start]
    if not clear:
        return f"Moon stays too low: {instead}."
    return f"Moon is high enough only from {clock_of_night(clear[0][0], dt.UTC, facts.night)} UTC: {instead}."


def _echo(step: Step, facts: Facts) -> tuple[str, str]:
    if facts.echo is None or facts.echo_dial is None:
        return "Own echo", _why_no_moon(step, facts, "try between slots")
    value = float(facts.evening.echo_db[facts.evening.index(step.start)])
    found = finding_words(value, facts.echo)
    if facts.echo.means == "not":
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
