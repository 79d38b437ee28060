"""The cautions of a night in words: where nobody may stand, when the beam is low, and what every crew must remember.

Distances and sectors from `safety`; the rest is common practice, no source.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from pipeline.explain.explanation import is_assumed
from pipeline.inputs.model import Station
from pipeline.link.exposure import ExposureDistances
from pipeline.pairs.equipment import pair_frequency_mhz
from pipeline.record.inputs import Inputs
from pipeline.sheets.evening import Evening, Stretch, make_evening
from pipeline.sheets.safety import LOW_DEG, LowSector, distances, low_sectors, lower_edge_m
from pipeline.sheets.setup_steps import span
from pipeline.wording import formats, safe_side

if TYPE_CHECKING:
    from pipeline.plan.views import NightView

# A dish this near the Sun heats its own feed (common practice, no source).
NEAR_SUN_DEG = 5.0

COMMON = (
    "Send only with the changeover seen in transmit. Nobody touches feed or cables until the drive is off.",
    "Never look at the Sun through a sight without a proper filter; a dish on the Sun burns at its focus: "
    "check quickly, cover a shiny one.",
    "Guy the mast, keep cables off paths, dress for the coldest hour. Thunder heard: drive off, cables off, leave.",
    "Local rules, the licence and your own eyes come before this sheet.",
)


def cautions(
    inputs: Inputs,
    bands: Sequence[str],
    evening: Evening,
    stretches: Sequence[Stretch],
    zone: dt.tzinfo,
    night: dt.date,
) -> tuple[str, ...]:
    """Sentences, the night's own first. Distances of every band that is used; `stretches` are those of sending."""
    farthest = 0.0
    words = []
    for band in bands:
        frequency = pair_frequency_mhz(inputs, band)
        try:
            found = distances(inputs.home, band, frequency)
        except ValueError:
            continue
        farthest = max(farthest, found.general_public_peak_m)
        words.append(distance_words(found, _place(inputs.home, band, len(bands) > 1)))
    sending = [(evening.index(start), evening.index(end)) for start, end in stretches]
    width = evening.end.receiver.beam.beamwidth_deg
    sectors = low_sectors(evening.moon.azimuth_deg, evening.moon.elevation_deg, sending, width)
    dish = evening.end.equipment.antenna.dish_diameter_m
    words.append(sector_words(sectors, evening, farthest, width, dish, zone, night))
    return (*words, *_near_sun(evening, sending), *COMMON)


def cautions_of_tests(night: NightView, first: dt.datetime, last: dt.datetime) -> tuple[str, ...]:
    """Those of a night without slots: own echoes may be tried whenever the Moon is in reach. Whole minutes, UTC."""
    evening = make_evening(night.inputs, night.band, first, last)
    tried = evening.stretches((evening.moon.clearance_deg >= 0.0) & (evening.moon.reach_deg >= 0.0))
    if not tried:
        return COMMON
    return cautions(night.inputs, [night.band], evening, tried, night.zone, night.date)


def joined(stretches: Sequence[Stretch]) -> list[Stretch]:
    """By time, those that touch or overlap made one."""
    found: list[Stretch] = []
    for start, end in sorted(stretches):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((start, end))
    return found


def _place(home: Station, band: str, is_one_of_several: bool) -> str:
    """`the dish`, `the antenna on 2 m`, and whether its figures are defaults."""
    noun = "the antenna" if home.bands[band].antenna.dish_diameter_m is None else "the dish"
    on_band = f" on {formats.band(band)}" if is_one_of_several else ""
    assumed = is_assumed(home, f"bands.{band}.antenna", f"bands.{band}.power_w")
    return f"{noun}{on_band}{' (figures assumed)' if assumed else ''}"


def distance_words(found: ExposureDistances, place: str) -> str:
    """Both groups, at full power and averaged, rounded up to the metre."""
    public, crew = (
        (found.general_public_peak_m, found.general_public_average_m),
        (found.occupational_peak_m, found.occupational_average_m),
    )
    return (
        f"In front of {place} nobody within {_metres(public[0])} while it sends ({_metres(public[1])} averaged "
        f"over half an hour of alternating periods); {_crew(*crew)}."
    )


def _crew(peak_m: float, average_m: float) -> str:
    if not peak_m:
        return "trained crew: not in front of its face"
    return f"trained crew not within {_metres(peak_m)} ({_metres(average_m)})"


def _metres(value: float) -> str:
    return f"{safe_side.up(value)} m" if value else "arm's reach of its face"


def sector_words(
    sectors: Sequence[LowSector],
    evening: Evening,
    distance_m: float,
    beamwidth_deg: float,
    dish_diameter_m: float | None,
    zone: dt.tzinfo,
    night: dt.date,
) -> str:
    """When and where the beam is low while sending, and how its lower edge passes over the ground."""
    if not sectors:
        return f"The beam stays above {LOW_DEG:.0f}° whenever it sends."
    places = [
        f"{_bearing(one.azimuth_from_deg, 'down')} to {_bearing(one.azimuth_to_deg, 'up')} "
        f"({span(evening.instant(one.first), evening.instant(one.last), dt.UTC, night)} UTC)"
        for one in sectors
    ]
    lowest = safe_side.rounded(min(one.lowest_deg for one in sectors), "down", 1)
    far = safe_side.rounded(distance_m, "up")
    edge = lower_edge_m(lowest, far, beamwidth_deg, dish_diameter_m)
    passes = (
        f"its lower edge passes {safe_side.down(edge)} m over the dish's height at {far:.0f} m: clear slopes and roofs."
        if edge >= 1.0
        else f"its lower edge meets the ground within {far:.0f} m: clear it, post someone."
    )
    return (
        f"Keep clear: the beam is below {LOW_DEG:.0f}° towards {formats.listed(places)}; "
        f"at {formats.elevation(lowest)} {passes}"
    )


def _bearing(value_deg: float, way: safe_side.Way) -> str:
    return f"{safe_side.rounded(value_deg, way) % 360:.0f}°"


def _near_sun(evening: Evening, sending: Sequence[tuple[int, int]]) -> tuple[str, ...]:
    """The Sun beside the Moon while both are up: light and heat in the focus."""
    nearest = [
        float(np.min(np.where(evening.sun.clearance_deg >= 0.0, evening.sun_separation_deg, np.inf)[a : b + 1]))
        for a, b in sending
    ]
    least = min(nearest)
    if least >= NEAR_SUN_DEG:
        return ()
    near = safe_side.down(least, 1)
    return (f"The Sun comes within {near}° of the beam: its heat falls on the feed; turn away between periods.",)
