"""The set-up sheet of one night: timeline, alignment, checks on Sun and Moon, energy, checklist, cautions, in words.

From a finished plan and the slots in force; the computing stands in the modules beside this one.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.explain.explanation import is_assumed
from pipeline.inputs.model import Battery
from pipeline.link.noise import Met
from pipeline.pairs.equipment import activity_of
from pipeline.pairs.pattern_met import cold_sky
from pipeline.radio_sky.air import air_loss_db
from pipeline.radio_sky.sun_flux import f10_7_sfu, flux_sfu, flux_uncertainty
from pipeline.record.inputs import Inputs
from pipeline.reports.views import PAPERS, Paper
from pipeline.sheets.alignment import Alignment, LandmarkLine, align, compass_words
from pipeline.sheets.cautions import cautions
from pipeline.sheets.compass import declination
from pipeline.sheets.energy import Energy, night_energy
from pipeline.sheets.evening import Body, Evening, Stretch, make_evening
from pipeline.sheets.noise_check import SHORTFALLS_DB, NoiseCheck, moon_check, sun_check
from pipeline.sheets.own_echo import echo_at, echo_dial
from pipeline.sheets.setup_fit import Amount, spacing
from pipeline.sheets.setup_steps import Facts, SlotWords, StepLine, step_lines, stretches_words
from pipeline.sheets.timeline import Frame, Step, leaving, make_frame, timeline
from pipeline.wording import formats
from pipeline.wording.formats import clock_of_night

if TYPE_CHECKING:
    from pipeline.plan.views import NightView

# Steps of the table of Sun and Moon, minutes, before aligning and from then on; the first that keeps it short enough.
TABLE_STEPS = ((5, 5), (10, 10), (20, 10), (30, 10), (60, 10), (120, 10), (120, 20), (120, 30), (180, 60))
MOST_TABLE_ROWS = 13


@dataclass(frozen=True)
class SkyLine:
    """Sun and Moon at one instant, true and with refraction; empty words where the dish cannot see it."""

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
    noise_note: str
    landmarks: tuple[LandmarkLine, ...]
    landmark_note: str
    compass_note: str
    dial_note: str
    energy: str
    checklist: tuple[str, ...]
    cautions: tuple[str, ...]
    spacing: str = ""


def setup_sheet(night: NightView) -> SetupSheet:
    """The page for a night and its slots in force; ValueError without any slot.

    Raises EphemerisUnavailable where the kernel does not cover the night.
    """
    date, slots = night.date, night.slots
    if not slots:
        raise ValueError(f"the night of {date} has no slot: there is nothing to set up for")
    inputs, home = night.inputs, night.inputs.home
    spans = [(slot.start, slot.end) for slot in slots]
    frame = make_frame(spans[0][0], *_policy_minutes(inputs))
    band, bands = slots[0].band, sorted({slot.band for slot in slots})
    evening = make_evening(inputs, band, frame.weather, leaving(spans))
    steps = timeline(frame, spans, evening.clear_stretches(evening.sun), evening.clear_stretches(evening.moon))
    place = home.position
    field = declination(place.latitude_deg, place.longitude_deg, place.height_m, date)
    landmarks = align(home, evening.end.receiver.beam.beamwidth_deg, field)
    facts = _facts(night, evening, steps, landmarks)
    rows = _sky_lines(evening, frame, date)
    page = SetupSheet(
        night=f"{formats.day_long(date)} {date.year}",
        local_offset=formats.offsets(night.zone, frame.weather, leaving(spans)),
        steps=step_lines(steps, facts),
        sky=rows,
        sky_has_sun=any(row.sun_azimuth for row in rows),
        sky_has_moon=any(row.moon_azimuth for row in rows),
        sky_notes=_sky_notes(evening, night),
        shortfalls=_shortfalls(facts),
        shortfalls_have_sun=facts.sun is not None,
        shortfalls_have_moon=facts.moon is not None and facts.moon.is_measurable,
        noise_note=_noise_note(inputs, evening, band, len(bands) > 1),
        landmarks=landmarks.lines,
        landmark_note="" if landmarks.lines else "The station file names no landmark.",
        compass_note=compass_words(field, date.year),
        dial_note=_dial_note(inputs),
        energy=_energy_words(inputs, frame, spans),
        checklist=home.checklist,
        cautions=cautions(inputs, bands, evening, spans, night.zone, date),
    )
    return dataclasses.replace(page, spacing=_spacing(page, PAPERS[inputs.season.report.paper]))


def _spacing(page: SetupSheet, paper: Paper) -> str:
    amount = Amount(
        steps=page.steps,
        energy=page.energy,
        checklist=page.checklist,
        sky_rows=len(page.sky),
        sky_words=(*page.sky_notes, page.noise_note),
        shortfalls=len(page.shortfalls),
        marks=page.landmarks,
        notes=f"{page.landmark_note} {page.dial_note} {page.compass_note}",
        cautions=page.cautions,
    )
    return spacing(amount, paper.text_height)


def _policy_minutes(inputs: Inputs) -> tuple[float, float, float]:
    minutes = inputs.season.policy.setup_minutes
    return minutes.arrive, minutes.align, minutes.check


def _facts(night: NightView, evening: Evening, steps: tuple[Step, ...], landmarks: Alignment) -> Facts:
    by_kind = {step.kind: step for step in steps}
    echo = by_kind["echo"]
    can_echo = echo.condition != "not possible"
    return Facts(
        evening=evening,
        equipment=evening.end.equipment,
        zone=night.zone,
        night=night.date,
        landmark=landmarks.best,
        sun=_sun_at(night.inputs, evening, by_kind["sun"]),
        moon=_moon_at(evening, by_kind["moon"]),
        echo=echo_at(night.inputs, evening, echo.start) if can_echo else None,
        echo_dial=echo_dial(evening, echo.start) if can_echo else None,
        receiver_from=by_kind["clock"].start,
        slots=tuple(SlotWords(slot.call, state_words(slot.state)) for slot in night.slots),
    )


def state_words(state: str) -> str:
    """What a crew must know of a slot's state."""
    if state == "proposed":
        return "provisional: no answer"
    return {"tentative": "tentative: not sure yet", "fixed": "fixed by hand"}.get(state, "agreed")


def _air_db(evening: Evening, body: Body, at: int) -> float:
    end = evening.end
    height = end.station.position.height_m
    return float(air_loss_db(end.frequency_mhz, str(end.atmosphere[at]), height, body.elevation_deg[at]))


def _cold_sky(evening: Evening, body: Body, at: int) -> Met:
    """Cold sky as high as the body stands, at its azimuth."""
    end = evening.end
    return cold_sky(end.antenna, str(end.atmosphere[at]), float(body.azimuth_deg[at]), float(body.elevation_deg[at]))


def _sun_at(inputs: Inputs, evening: Evening, step: Step) -> NoiseCheck | None:
    if step.condition == "not possible":
        return None
    at, end = evening.index(step.start), evening.end
    activity = activity_of(inputs.season.policy)
    return sun_check(
        end.receiver,
        end.frequency_mhz,
        float(flux_sfu(end.frequency_mhz, activity)),
        flux_uncertainty(activity),
        _cold_sky(evening, evening.sun, at),
        _air_db(evening, evening.sun, at),
    )


def _moon_at(evening: Evening, step: Step) -> NoiseCheck | None:
    if step.condition == "not possible":
        return None
    at, end = evening.index(step.start), evening.end
    return moon_check(
        end.receiver,
        float(evening.moon_k[at]),
        float(evening.moon_disc_deg[at]),
        _cold_sky(evening, evening.moon, at),
    )


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
    return tuple(
        SkyLine(
            clock_of_night(evening.instant(index), dt.UTC, night),
            *_pointing(evening.sun, index),
            *_pointing(evening.moon, index),
        )
        for index in chosen[-MOST_TABLE_ROWS:]
    )


def _minute_of_day(moment: dt.datetime) -> int:
    return moment.hour * 60 + moment.minute


def _pointing(body: Body, index: int) -> tuple[str, str]:
    if body.clearance_deg[index] < 0.0 or body.reach_deg[index] < 0.0:
        return "", ""
    return formats.azimuth(body.azimuth_deg[index]), formats.elevation(body.elevation_deg[index])


def _sky_notes(evening: Evening, night: NightView) -> tuple[str, ...]:
    return tuple(
        f"{name} {stretches_words(evening.seen_stretches(body), evening, night.zone, night.date)}."
        for name, body in (("Sun", evening.sun), ("Moon", evening.moon))
    )


def _shortfalls(facts: Facts) -> tuple[ShortfallLine, ...]:
    def off(check: NoiseCheck | None, place: int) -> str:
        value = check.off_axis_deg[place] if check is not None and check.is_measurable else None
        return "" if value is None else f"{value:.1f}°" if value >= 0.95 else f"{value:.2f}°"

    lines = [
        ShortfallLine(f"{short:g} dB", off(facts.sun, place), off(facts.moon, place))
        for place, short in enumerate(SHORTFALLS_DB)
    ]
    return tuple(line for line in lines if line.sun or line.moon)


def _noise_note(inputs: Inputs, evening: Evening, band: str, is_one_of_several: bool) -> str:
    activity = activity_of(inputs.season.policy)
    end = evening.end
    flux, share = float(flux_sfu(end.frequency_mhz, activity)), flux_uncertainty(activity)
    keys = ("antenna", "noise_figure_db", "loss_before_preamplifier_db", "spillover_fraction")
    assumed = is_assumed(inputs.home, *(f"bands.{band}.{key}" for key in keys))
    return (
        f"{f'Checks are for {formats.band(band)}. ' if is_one_of_several else ''}"
        "Rises are from cold sky at the same elevation. "
        f"Sun taken at {float(f'{flux:.2g}'):.0f} flux units (10.7 cm flux {f10_7_sfu(activity):.0f}), "
        f"uncertain by {share * 100:.0f} %, the station by 0.5 dB"
        f"{'; its figures are assumed' if assumed else ''}."
    )


def _dial_note(inputs: Inputs) -> str:
    mount = inputs.home.mount
    return (
        f"Offset = true less read. Inclinometer offset in the station file: "
        f"{formats.signed(mount.inclinometer_offset_deg, 1, plus=True)}°."
    )


def _energy_words(inputs: Inputs, frame: Frame, spans: list[Stretch]) -> str:
    battery = inputs.home.battery
    if battery is None:
        return ""
    stay = (leaving(spans) - frame.arrive).total_seconds() / 3600.0
    slots = sum((end - start).total_seconds() for start, end in spans) / 3600.0
    energy = night_energy(
        battery.capacity_ah,
        battery.usable_fraction,
        battery.receive_a,
        battery.transmit_a,
        battery.other_a,
        stay,
        slots,
    )
    return _verdict(energy, battery)


def _verdict(energy: Energy, battery: Battery) -> str:
    figures = (
        f"The night takes {energy.needed_ah:.0f} Ah of {energy.usable_ah:.0f} Ah usable "
        f"({formats.plain(battery.voltage_v)} V; {energy.stay_h:.1f} hours, {energy.transmit_h:.1f} of them sending)"
    )
    left = energy.usable_ah - energy.needed_ah
    if energy.verdict == "not enough":
        return f"NOT ENOUGH. {figures}: {-left:.0f} Ah short. Bring a second battery, or drop a slot."
    if energy.verdict == "tight":
        return f"Tight. {figures}. Cold may take a quarter of it: bring a second battery."
    return f"Enough. {figures}. Cold may take a quarter of it."
