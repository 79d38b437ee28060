"""The checks of a set-up at the instants of its steps: ground, Sun, Moon and own echo as home has them there.

From the evening's sky and the timeline; the rises are those of `noise_check`, the echo's that of `echo_finding`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import hypot

from pipeline.inputs.modes import mode_table
from pipeline.link.noise import Met
from pipeline.pairs.measured import Reading, measured_of, sun_doubts_db
from pipeline.pairs.pattern_met import cold_sky
from pipeline.pairs.solar_activity import activity_on
from pipeline.pairs.source_ratios import Known, ratio_of_db, rise_of_db
from pipeline.pairs.station_figures import Figures
from pipeline.radio_sky.air import air_loss_db
from pipeline.radio_sky.sun_flux import flux_sfu
from pipeline.record.inputs import Inputs
from pipeline.record.model import GROUND, KINDS, MOON, PEAK, SUN
from pipeline.sheets.echo_finding import Finding, find_echo
from pipeline.sheets.evening import Body, Evening
from pipeline.sheets.noise_check import NoiseCheck, Swing, ground_check, moon_check, sun_check, sun_swing
from pipeline.sheets.timeline import Step
from pipeline.wording.measured import history_words

# The ear's limit where a mode table of the user's own has no CW (common practice, no source).
EAR_NEEDS_DB, EAR_WIDTH_HZ = -15.0, 50.0


@dataclass(frozen=True)
class Checks:
    """What each check should show; None where its step is not possible, no swing where the beam cannot."""

    ground: NoiseCheck
    sun: NoiseCheck | None
    swing: Swing | None
    moon: NoiseCheck | None
    echo: Finding | None
    histories: Mapping[str, str] = field(default_factory=dict)

    def after(self, what: str) -> str:
        """`; your last three: 10.9, 11.3, 11.1 dB`; empty where nothing was read."""
        said = self.histories.get(what, "")
        return f"; {said}" if said else ""


def checks_at(inputs: Inputs, evening: Evening, steps: dict[str, Step]) -> Checks:
    """`steps` by their kind."""
    sun = _sun_at(inputs, evening, steps["sun"])
    ground, moon = _ground_at(inputs, evening, steps["ground"]), _moon_at(inputs, evening, steps["moon"])
    return Checks(
        ground=ground,
        sun=sun,
        swing=_swing(evening, steps["sun"], sun),
        moon=moon,
        echo=_echo_at(inputs, evening, steps["echo"]),
        histories=_histories(inputs, evening, {GROUND: ground, SUN: sun, MOON: moon}),
    )


def _histories(inputs: Inputs, evening: Evening, checks: Mapping[str, NoiseCheck | None]) -> dict[str, str]:
    """The last readings of each kind up to the evening, in words; what they would be here, where that differs."""
    found = measured_of(inputs, evening.end.station.call, evening.end.equipment.band)
    if found is None or found.figures is None:
        return {}
    told = {}
    for kind in KINDS:
        last, check = found.history(kind, evening.start), checks.get(kind)
        here = [] if check is None else [_here_db(one, check, found.figures) for one in last]
        told[kind] = history_words(last, here)
    return told


def _here_db(one: Reading, check: NoiseCheck, figures: Figures) -> float:
    """What a reading would be at the check's place in the sky: as far from the file's figure there as it was then."""
    file_ratio = ratio_of_db(check.rise_db) - figures.ahead(one.measurement.what, PEAK)[0]
    return float(rise_of_db(ratio_of_db(one.measurement.value_db) - ratio_of_db(one.expected_db) + file_ratio))


def _ground_at(inputs: Inputs, evening: Evening, step: Step) -> NoiseCheck:
    end = evening.end
    air = str(end.atmosphere[evening.index(step.start)])
    return ground_check(end.antenna, air, end.station.mount, _known(inputs, evening, GROUND))


def _known(inputs: Inputs, evening: Evening, what: str, day_doubt_db: float = 0.0) -> Known | None:
    """What home's own readings tell of a source at its highest noise; None where there are none."""
    found = measured_of(inputs, evening.end.station.call, evening.end.equipment.band)
    if found is None or found.figures is None:
        return None
    by_db, doubt_db = found.figures.ahead(what, PEAK)
    return Known(by_db, hypot(doubt_db, day_doubt_db))


def _sun_at(inputs: Inputs, evening: Evening, step: Step) -> NoiseCheck | None:
    if step.condition == "not possible":
        return None
    at, end = evening.index(step.start), evening.end
    activity = activity_on(inputs, step.start.date())
    return sun_check(
        end.receiver,
        end.frequency_mhz,
        float(flux_sfu(end.frequency_mhz, activity.value)),
        activity.share,
        _cold_sky(evening, evening.sun, at),
        _air_db(evening, evening.sun, at),
        _known(inputs, evening, SUN, sun_doubts_db(activity)[0]),
    )


def _swing(evening: Evening, step: Step, sun: NoiseCheck | None) -> Swing | None:
    if sun is None or not sun.is_measurable:
        return None
    height = float(evening.sun.elevation_deg[evening.index(step.start)])
    return sun_swing(sun.rise_db, evening.end.receiver.beam, height)


def _moon_at(inputs: Inputs, evening: Evening, step: Step) -> NoiseCheck | None:
    if step.condition == "not possible":
        return None
    at, end = evening.index(step.start), evening.end
    return moon_check(
        end.receiver,
        float(evening.moon_k[at]),
        float(evening.moon_disc_deg[at]),
        _cold_sky(evening, evening.moon, at),
        _air_db(evening, evening.moon, at),
        _known(inputs, evening, MOON),
    )


def _echo_at(inputs: Inputs, evening: Evening, step: Step) -> Finding | None:
    if step.condition == "not possible":
        return None
    at = evening.index(step.start)
    ear = next((mode for mode in (inputs.modes or mode_table()) if mode.mode == "CW"), None)
    needs, width = (ear.needed_snr_db, ear.tone_spacing_hz) if ear else (EAR_NEEDS_DB, EAR_WIDTH_HZ)
    return find_echo(float(evening.echo_db[at]), float(evening.echo_width_hz[at]), needs, width)


def _air_db(evening: Evening, body: Body, at: int) -> float:
    end = evening.end
    height = end.station.position.height_m
    return float(air_loss_db(end.frequency_mhz, str(end.atmosphere[at]), height, body.elevation_deg[at]))


def _cold_sky(evening: Evening, body: Body, at: int) -> Met:
    """Cold sky as high as the body stands, at its azimuth."""
    end = evening.end
    return cold_sky(end.antenna, str(end.atmosphere[at]), float(body.azimuth_deg[at]), float(body.elevation_deg[at]))
