"""The set-up sheet of one night: timeline, alignment, checks on Sun and Moon, energy, checklist, cautions, in words.

From a finished plan and the slots in force; the computing stands in the modules beside this one.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from pipeline.explain.explanation import is_assumed
from pipeline.inputs.model import Battery
from pipeline.inputs.sites import notes_of_place
from pipeline.pairs.solar_activity import activity_on
from pipeline.radio_sky.sun_flux import f10_7_sfu, flux_sfu
from pipeline.record.inputs import Inputs
from pipeline.reports.views import PAPERS, Paper
from pipeline.sheets.alignment import Alignment, LandmarkLine, align, compass_words, of_no_use_words
from pipeline.sheets.by_eye import lit_share, moon_by_eye, sun_by_eye
from pipeline.sheets.cautions import cautions, joined
from pipeline.sheets.checks_at import checks_at
from pipeline.sheets.compass import declination
from pipeline.sheets.energy import Energy, night_energy
from pipeline.sheets.evening import Body, Evening, Stretch, make_evening
from pipeline.sheets.noise_check import SHORTFALLS_DB, NoiseCheck
from pipeline.sheets.own_echo import echo_dial
from pipeline.sheets.powers import powers_of
from pipeline.sheets.readings import each_offset
from pipeline.sheets.setup_fit import PACKED, Amount, spacing
from pipeline.sheets.setup_steps import Facts, LastFallBack, SlotWords, StepLine, span, step_lines, stretches_words
from pipeline.sheets.timeline import ECHO_TAKES_MINUTES, Frame, Step, aligned_from, leaving, make_frame, timeline
from pipeline.wording import formats, safe_side
from pipeline.wording.measured import age_words
from pipeline.wording.slots import night_title
from pipeline.wording.terrain import skyline_unknown_words

if TYPE_CHECKING:
    from pipeline.plan.views import NightView, Slot

# Steps of the table of Sun and Moon, minutes, before aligning and from then on; the first that keeps it short enough.
TABLE_STEPS = ((5, 5), (10, 10), (20, 10), (30, 10), (60, 10), (120, 10), (120, 20), (120, 30), (180, 60))
MOST_TABLE_ROWS = 13
# What a shortfall inside the doubt tells.
IN_DOUBT = "says nothing"
ECHO_TAKES = dt.timedelta(minutes=ECHO_TAKES_MINUTES)


@dataclass(frozen=True)
class SkyLine:
    """Sun and Moon at one instant, true and with refraction; empty words where the dish cannot see it.

    `day` is the weekday where the UTC date is another than in the line before, in the first line than the night's.
    """

    day: str
    utc: str
    sun_azimuth: str
    sun_elevation: str
    moon_azimuth: str
    moon_elevation: str


@dataclass(frozen=True)
class ShortfallLine:
    """How far off the dish points when a rise falls short by so much."""

    short: str
    sun: str
    moon: str


@dataclass(frozen=True)
class SetupSheet:
    """Everything the page prints, in words; `spacing` is the style sheet's class for how close the lines stand."""

    night: str
    local_offset: str
    steps: tuple[StepLine, ...]
    sky: tuple[SkyLine, ...]
    sky_has_sun: bool
    sky_has_moon: bool
    sky_notes: tuple[str, ...]
    shortfalls: tuple[ShortfallLine, ...]
    shortfalls_have_sun: bool
    shortfalls_have_moon: bool
    moon_too_weak: bool
    noise_note: str
    landmarks: tuple[LandmarkLine, ...]
    bodies: tuple[tuple[str, str], ...]
    landmark_note: str
    compass_note: str
    dial_note: str
    energy: str
    place: str
    place_notes: str
    checklist: tuple[str, ...]
    cautions: tuple[str, ...]
    spacing: str = ""

    @property
    def is_packed(self) -> bool:
        """Whether the lines stand as close as they can."""
        return self.spacing == PACKED


def setup_sheet(night: NightView) -> SetupSheet:
    """The page for a night and its slots in force; ValueError without any slot.

    Raises EphemerisUnavailable where the kernel does not cover the night.
    """
    date, slots = night.date, night.slots
    if not slots:
        raise ValueError(f"the night of {date} has no slot: there is nothing to set up for")
    inputs, home = night.inputs, night.inputs.home
    spans = [(slot.start, slot.end) for slot in slots]
    again = [slot.again_tonight for slot in slots if slot.again_tonight]
    uses = [*spans, *again]
    frame = make_frame(spans[0][0], *_policy_minutes(inputs))
    band, bands = slots[0].band, sorted({slot.band for slot in slots})
    evening = make_evening(inputs, band, frame.weather, leaving(uses))
    steps = timeline(frame, spans, evening.clear_stretches(evening.sun), evening.clear_stretches(evening.moon), again)
    place = home.position
    field = declination(place.latitude_deg, place.longitude_deg, place.height_m, date)
    landmarks = align(home, evening.end.receiver.beam.beamwidth_deg, field)
    facts = _facts(night, evening, frame, steps, landmarks)
    rows = _sky_lines(evening, frame, date)
    arrival, over = _began(night, frame, spans[0][0])
    page = SetupSheet(
        night=night_title(date, [start for start, _ in spans], night.zone),
        local_offset=formats.offsets(night.zone, frame.weather, leaving(uses)),
        steps=step_lines(steps, facts),
        sky=rows,
        sky_has_sun=any(row.sun_azimuth for row in rows),
        sky_has_moon=any(row.moon_azimuth for row in rows),
        sky_notes=_sky_notes(evening, night),
        shortfalls=_shortfalls(facts),
        shortfalls_have_sun=facts.checks.sun is not None and facts.checks.sun.is_measurable,
        shortfalls_have_moon=facts.checks.moon is not None and facts.checks.moon.is_measurable,
        moon_too_weak=facts.checks.moon is not None and not facts.checks.moon.is_measurable,
        noise_note=_noise_note(inputs, evening, band, len(bands) > 1),
        landmarks=landmarks.lines,
        bodies=_bodies(evening, frame, date),
        landmark_note=of_no_use_words(landmarks) if home.landmarks else "The station file names no landmark.",
        compass_note=compass_words(field, date.year),
        dial_note=_dial_note(night),
        energy=_energy_words(inputs, arrival, [*over, *uses], has_fall_backs=bool(again)),
        place=home.title,
        place_notes=notes_of_place(home),
        checklist=home.checklist,
        cautions=cautions(inputs, bands, evening, _sending(steps, spans, again), night.zone, date),
    )
    return dataclasses.replace(page, spacing=_spacing(page, PAPERS[inputs.season.report.paper]))


def _spacing(page: SetupSheet, paper: Paper) -> str:
    amount = Amount(
        steps=page.steps,
        energy=page.energy,
        place_notes=f"{page.place}. {page.place_notes}" if page.place_notes else "",
        checklist=page.checklist,
        sky_rows=len(page.sky),
        sky_words=(*page.sky_notes, page.noise_note),
        shortfalls=len(page.shortfalls),
        marks=page.landmarks,
        bodies=page.bodies,
        notes=f"{page.landmark_note} {page.dial_note} {page.compass_note}",
        cautions=page.cautions,
    )
    return spacing(amount, paper.text_height)


def _policy_minutes(inputs: Inputs) -> tuple[float, float, float]:
    minutes = inputs.season.policy.setup_minutes
    return minutes.arrive, minutes.align, minutes.check


def _sending(steps: Sequence[Step], slots: Sequence[Stretch], again: Sequence[Stretch]) -> list[Stretch]:
    """Every stretch in which something may be sent towards the Moon: slots, their fall-backs tonight, the own echo.

    Where the echo cannot be tried before the slots it is tried between them.
    """
    echo = next(step for step in steps if step.kind == "echo")
    first, last = min(start for start, _ in slots), max(end for _, end in (*slots, *again))
    tried = (echo.start, echo.start + ECHO_TAKES) if echo.condition != "not possible" else (first, last)
    return joined([tried, *slots, *again])


def _bodies(evening: Evening, frame: Frame, night: dt.date) -> tuple[tuple[str, str], ...]:
    """Sun and Moon, each with when the eye finds it before the first slot."""
    lit = lit_share(evening.sun_separation_deg)
    shadow, moon = (_before(evening, frame, mask) for mask in (sun_by_eye(evening), moon_by_eye(evening)))
    at = evening.index(moon[0][0] if moon else frame.align)
    share = f", {lit[at] * 100.0:.0f} %\N{NO-BREAK SPACE}lit"
    return (
        ("Sun", f"by its shadow, {_spans(shadow, night)}" if shadow else "not before the first slot"),
        ("Moon", f"by eye, {_spans(moon, night)}{share}" if moon else f"not by eye yet{share}"),
    )


def _before(evening: Evening, frame: Frame, mask: npt.NDArray[np.bool_]) -> tuple[Stretch, ...]:
    """Stretches between arriving and the first slot."""
    minutes = np.arange(mask.size)
    inside = (minutes >= evening.index(frame.arrive)) & (minutes <= evening.index(frame.first_slot))
    return evening.stretches(mask & inside)


def _spans(stretches: Sequence[Stretch], night: dt.date) -> str:
    """`20:10 to 21:45`, UTC as the line says."""
    return formats.listed([span(first, last, dt.UTC, night) for first, last in stretches])


def _facts(night: NightView, evening: Evening, frame: Frame, steps: tuple[Step, ...], landmarks: Alignment) -> Facts:
    by_kind = {step.kind: step for step in steps}
    home = night.inputs.home
    echo = by_kind["echo"]
    return Facts(
        evening=evening,
        equipment=evening.end.equipment,
        zone=night.zone,
        night=night.date,
        landmark=landmarks.best,
        moon_by_eye=_before(evening, frame, moon_by_eye(evening)),
        powers=powers_of(home.battery, home.mount),
        checks=checks_at(night.inputs, evening, by_kind),
        echo_dial=echo_dial(evening, echo.start) if echo.condition != "not possible" else None,
        aligned_from=aligned_from(by_kind["ground"].start),
        first_slot=frame.first_slot,
        slots=tuple(SlotWords(slot.call, state_words(slot.state)) for slot in night.slots),
        last_fall_back=_last_fall_back(night.slots),
    )


def _last_fall_back(slots: Sequence[Slot]) -> LastFallBack | None:
    """The fall-back of tonight that ends the night; None where a slot does."""
    over = max(slot.end for slot in slots)
    later = [(slot.again_tonight[1], slot.call) for slot in slots if slot.again_tonight]
    last = max(later, default=(over, ""))
    return LastFallBack(last[1], over) if last[0] > over else None


def state_words(state: str) -> str:
    """What a crew must know of a slot's state."""
    if state == "proposed":
        return "provisional: no answer"
    return {"tentative": "tentative: not sure yet", "fixed": "fixed by hand"}.get(state, "agreed")


def _sky_lines(evening: Evening, frame: Frame, night: dt.date) -> tuple[SkyLine, ...]:
    """From arriving to the first slot while Sun or Moon can be pointed at: every ten minutes, in a long stay wider at
    first, in a short one every five. Too many lines for any step lose the earliest.
    """
    minutes = range(evening.index(frame.arrive), evening.index(frame.first_slot) + 1)
    seen = [index for index in minutes if _pointing(evening.sun, index)[0] or _pointing(evening.moon, index)[0]]
    aligning = evening.index(frame.align)
    for before, after in TABLE_STEPS:
        steps = [before if index < aligning else after for index in seen]
        chosen = [i for i, step in zip(seen, steps, strict=True) if _minute_of_day(evening.instant(i)) % step == 0]
        if len(chosen) <= MOST_TABLE_ROWS:
            break
    lines = []
    for index in chosen[-MOST_TABLE_ROWS:]:
        moment = evening.instant(index)
        day = "" if moment.date() == night else formats.WEEKDAYS[moment.weekday()]
        pointing = (*_pointing(evening.sun, index), *_pointing(evening.moon, index))
        lines.append(SkyLine(day, f"{moment:%H:%M}", *pointing))
        night = moment.date()
    return tuple(lines)


def _minute_of_day(moment: dt.datetime) -> int:
    return moment.hour * 60 + moment.minute


def _pointing(body: Body, index: int) -> tuple[str, str]:
    if body.clearance_deg[index] < 0.0 or body.reach_deg[index] < 0.0:
        return "", ""
    return formats.azimuth(body.azimuth_deg[index]), formats.elevation(body.elevation_deg[index])


def _sky_notes(evening: Evening, night: NightView) -> tuple[str, ...]:
    seen = tuple(
        f"{name} {stretches_words(evening.seen_stretches(body), evening, night.zone, night.date)}."
        for name, body in (("Sun", evening.sun), ("Moon", evening.moon))
    )
    return (*seen, *skyline_unknown_words(night.inputs.home))


def _shortfalls(facts: Facts) -> tuple[ShortfallLine, ...]:
    def off(check: NoiseCheck | None, place: int) -> str:
        if check is None or not check.is_measurable:
            return ""
        if check.is_inside_doubt(SHORTFALLS_DB[place]):
            return IN_DOUBT
        value = check.off_axis_deg[place]
        return "" if value is None else f"{value:.1f}°" if value >= 0.95 else f"{value:.2f}°"

    lines = [
        ShortfallLine(f"{short:g} dB", off(facts.checks.sun, place), off(facts.checks.moon, place))
        for place, short in enumerate(SHORTFALLS_DB)
    ]
    return tuple(line for line in lines if line.sun or line.moon)


def _noise_note(inputs: Inputs, evening: Evening, band: str, is_one_of_several: bool) -> str:
    end, date = evening.end, evening.start.date()
    activity = activity_on(inputs, date)
    flux = float(flux_sfu(end.frequency_mhz, activity.value))
    observed = "" if activity.observed is None else f" observed {age_words(activity.observed, date)}"
    keys = ("antenna", "noise_figure_db", "loss_before_preamplifier_db", "spillover_fraction")
    assumed = is_assumed(inputs.home, *(f"bands.{band}.{key}" for key in keys))
    return (
        f"{f'Checks are for {formats.band(band)}. ' if is_one_of_several else ''}"
        "Rises are from cold sky as high; ± holds table, flux, air and station"
        f"{' (its figures are assumed)' if assumed else ''}. "
        f"Sun at {float(f'{flux:.2g}'):.0f} flux units (10.7 cm flux {f10_7_sfu(activity.value):.0f}{observed}), "
        f"good to {activity.share * 100:.0f} %. Ground short: receiver or feed. Ground right, Sun short: aim."
    )


def _dial_note(night: NightView) -> str:
    home = night.inputs.home
    each = each_offset(home.mount, night.offsets, home.bands[night.band].polarization)
    return f"Offset = shown less true. All aims here are true: to dial them add {each}."


def _began(night: NightView, frame: Frame, first: dt.datetime) -> tuple[dt.datetime, list[Stretch]]:
    """When the crew came, and which slots are over that it came for; both of the night before it was planned again."""
    over = [one for one in night.set_up_for if one[1] <= first]
    frames = [make_frame(start, *_policy_minutes(night.inputs)) for start, _ in over]
    return min([frame.arrive, *(one.arrive for one in frames)]), over


def _energy_words(inputs: Inputs, arrival: dt.datetime, uses: list[Stretch], has_fall_backs: bool) -> str:
    """Of the whole night, every fall-back used."""
    battery = inputs.home.battery
    if battery is None:
        return ""
    stay = (leaving(uses) - arrival).total_seconds() / 3600.0
    sending = sum((end - start).total_seconds() for start, end in joined(uses)) / 3600.0
    energy = night_energy(
        battery.capacity_ah,
        battery.usable_fraction,
        battery.receive_a,
        battery.transmit_a,
        battery.other_a,
        stay,
        sending,
    )
    return _verdict(energy, battery, has_fall_backs)


def _verdict(energy: Energy, battery: Battery, has_fall_backs: bool) -> str:
    figures = (
        f"The night takes {safe_side.up(energy.needed_ah)} Ah of {safe_side.down(energy.usable_ah)} Ah usable "
        f"({formats.plain(battery.voltage_v)} V; {safe_side.up(energy.stay_h, 1)} hours, "
        f"{safe_side.up(energy.transmit_h, 1)} of them sending{', fall-backs counted' if has_fall_backs else ''})"
    )
    if energy.verdict == "not enough":
        return f"NOT ENOUGH. {figures}: {energy.short_ah:.0f} Ah short. Bring a second battery, or drop a slot."
    if energy.verdict == "tight":
        return f"Tight. {figures}. Cold may take a quarter of it: bring a second battery."
    return f"Enough. {figures}. Cold may take a quarter of it."
